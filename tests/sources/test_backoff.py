"""Waiting longer and longer."""

import pytest

from driftlead.sources.backoff import Backoff


@pytest.mark.asyncio
async def test_backoff() -> None:
    """The wait doubles from half a second to thirty, and starts again after a reset."""
    waits_s: list[float] = []

    async def sleep(wait_s: float) -> None:
        waits_s.append(wait_s)

    backoff = Backoff(sleep)
    for _ in range(9):
        await backoff.wait()
    backoff.reset()
    await backoff.wait()
    await backoff.wait()
    assert waits_s == [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 30.0, 30.0, 30.0, 0.5, 1.0]
