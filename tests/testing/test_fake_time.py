"""The clock that only a test turns."""

import asyncio

import pytest

from driftlead.testing import FakeTime


@pytest.mark.asyncio
async def test_sleepers_wake_in_the_order_they_are_due_and_see_their_own_time() -> None:
    """Also when one advance passes over all of them."""
    time = FakeTime(100.0)
    woken: list[tuple[str, float]] = []

    async def sleeper(name: str, *naps_s: float) -> None:
        for nap_s in naps_s:
            await time.sleep(nap_s)
            woken.append((name, time.clock()))

    tasks = [
        asyncio.create_task(sleeper("long", 5.0)),
        asyncio.create_task(sleeper("short", 2.0, 2.0)),
    ]
    await time.until_sleeping(5.0)
    await time.advance(1.9)
    assert woken == []
    await time.advance(10.0)
    assert woken == [("short", 102.0), ("short", 104.0), ("long", 105.0)]
    assert time.clock() == pytest.approx(111.9)
    await asyncio.gather(*tasks)


@pytest.mark.asyncio
async def test_a_cancelled_sleeper_is_forgotten() -> None:
    """Nobody waits for it any more."""
    time = FakeTime()
    task = asyncio.create_task(time.sleep(3.0))
    await time.until_sleeping(3.0)
    task.cancel()
    with pytest.raises(asyncio.CancelledError):
        await task
    await time.advance(10.0)
    assert time.slept_s == [3.0]


@pytest.mark.asyncio
async def test_waiting_for_a_sleeper_that_never_comes_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    """A test must fail rather than hang."""
    monkeypatch.setattr("driftlead.testing.fake_time._REAL_LIMIT_S", 0.01)
    with pytest.raises(TimeoutError):
        await FakeTime().until_sleeping(1.0)
