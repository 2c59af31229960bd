"""Waiting no longer than a limit."""

import asyncio

import pytest

from driftlead.notify.within import OutOfTimeError, run_within
from driftlead.testing import FakeTime


@pytest.mark.asyncio
async def test_the_result_comes_through_in_time() -> None:
    """Work that ends before the limit gives its result, and the timer is gone."""
    time = FakeTime()

    async def work() -> int:
        return 7

    assert await run_within(work(), 5.0, time.sleep) == 7
    await time.advance(0.0)
    assert len(asyncio.all_tasks()) == 1


@pytest.mark.asyncio
async def test_an_error_comes_through_even_a_timeout_of_its_own() -> None:
    """The work's own TimeoutError is not taken for the limit."""

    async def work() -> None:
        raise TimeoutError("mine")

    with pytest.raises(TimeoutError, match="mine") as caught:
        await run_within(work(), 5.0, FakeTime().sleep)
    assert not isinstance(caught.value, OutOfTimeError)


@pytest.mark.asyncio
async def test_work_is_cancelled_at_the_limit() -> None:
    """It may clean up before the error is raised."""
    time = FakeTime()
    cleaned = []

    async def work() -> None:
        try:
            await asyncio.Event().wait()
        finally:
            cleaned.append(True)

    waiting = asyncio.create_task(run_within(work(), 5.0, time.sleep))
    await time.until_sleeping(5.0)
    await time.advance(4.9)
    assert not waiting.done()
    await time.advance(0.1)
    with pytest.raises(OutOfTimeError):
        await waiting
    assert cleaned


@pytest.mark.asyncio
async def test_work_that_will_not_be_cancelled_is_left_behind(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Whoever waits goes on; the error the work ends with later is nobody's business."""
    monkeypatch.setattr("driftlead.notify.within._GRACE_S", 0.01)
    time = FakeTime()
    end = asyncio.Event()

    async def work() -> None:
        while not end.is_set():
            try:
                await end.wait()
            except asyncio.CancelledError:
                continue
        raise RuntimeError("late")

    waiting = asyncio.create_task(run_within(work(), 5.0, time.sleep))
    await time.until_sleeping(5.0)
    await time.advance(5.0)
    with pytest.raises(OutOfTimeError):
        await waiting
    end.set()
    await time.advance(0.0)
    assert len(asyncio.all_tasks()) == 1


@pytest.mark.asyncio
async def test_cancelling_the_wait_cancels_the_work() -> None:
    """Nothing is left running."""
    time = FakeTime()
    waiting = asyncio.create_task(run_within(asyncio.Event().wait(), 5.0, time.sleep))
    await time.until_sleeping(5.0)
    waiting.cancel()
    with pytest.raises(asyncio.CancelledError):
        await waiting
    await time.advance(0.0)
    assert len(asyncio.all_tasks()) == 1


@pytest.mark.asyncio
async def test_work_that_cancels_itself_has_failed() -> None:
    """Its cancellation must not look like one from outside, which would end the caller."""

    async def work() -> None:
        raise asyncio.CancelledError

    with pytest.raises(RuntimeError, match="cancelled itself"):
        await run_within(work(), 5.0, FakeTime().sleep)
