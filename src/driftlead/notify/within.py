"""Waiting for work no longer than a limit, on an injected clock."""

import asyncio
from collections.abc import Awaitable, Callable, Coroutine
from typing import Any, TypeVar

T = TypeVar("T")


class OutOfTimeError(TimeoutError):
    """The limit passed first. Not to be mistaken for a TimeoutError that the work itself raised."""


_GRACE_S = 1.0  # for cancelled work to clean up; longer, and it is left to itself


async def run_within(
    work: Coroutine[Any, Any, T], limit_s: float, sleep: Callable[[float], Awaitable[None]]
) -> T:
    """Return the result of ``work``, or OutOfTimeError after ``limit_s`` seconds of ``sleep``.

    Unlike ``asyncio.wait_for`` it also returns when ``work`` refuses to be cancelled: such work is
    abandoned, so that whoever waits is never held up by it. Work that cancels itself counts as
    failed with RuntimeError.
    """
    task = asyncio.ensure_future(work)
    task.add_done_callback(_take_notice)
    timer = asyncio.ensure_future(sleep(limit_s))
    try:
        await asyncio.wait({task, timer}, return_when=asyncio.FIRST_COMPLETED)
        if not task.done():
            raise OutOfTimeError
        if task.cancelled():
            raise RuntimeError("the work cancelled itself")
        return task.result()
    finally:
        timer.cancel()
        if not task.done():
            task.cancel()
            await asyncio.wait({task}, timeout=_GRACE_S)


def _take_notice(task: "asyncio.Future[Any]") -> None:
    """Keep asyncio from complaining that nobody asked what became of abandoned work."""
    if not task.cancelled():
        task.exception()
