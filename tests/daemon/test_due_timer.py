"""Waking the core in time."""

import asyncio
import time

import pytest

from driftlead.daemon.due_timer import DueTimer


@pytest.mark.asyncio
async def test_it_wakes_at_the_last_time_it_was_armed_for_and_once() -> None:
    """Arming anew replaces what was set before."""
    woken: list[float] = []
    done = asyncio.Event()

    def wake() -> None:
        woken.append(time.monotonic())
        done.set()

    timer = DueTimer(clock=time.monotonic, on_due=wake)
    began_s = time.monotonic()
    timer.arm(began_s + 0.001)
    timer.arm(None)
    timer.arm(began_s + 3600.0)
    timer.arm(began_s + 0.05)
    timer.arm(began_s + 0.05)
    async with asyncio.timeout(5.0):
        await done.wait()
    await asyncio.sleep(0)
    assert len(woken) == 1
    assert woken[0] >= began_s + 0.05


@pytest.mark.asyncio
async def test_a_time_that_is_past_wakes_at_once_and_may_be_set_again() -> None:
    """The clock may stand a hair before the limit when the loop wakes."""
    count = 0
    done = asyncio.Event()

    def wake() -> None:
        nonlocal count
        count += 1
        if count == 3:
            done.set()
        else:
            timer.arm(5.0)

    timer = DueTimer(clock=lambda: 10.0, on_due=wake)
    timer.arm(5.0)
    async with asyncio.timeout(5.0):
        await done.wait()
    assert count == 3
