"""Waiting for a file descriptor without a thread."""

import asyncio


async def wait_readable(fd: int) -> None:
    """Wait until a read from ``fd`` would not block.

    The event loop goes round at least once in every call, so a source that reads one bounded
    chunk between two calls cannot starve the other tasks, however much it is flooded.
    """
    loop = asyncio.get_running_loop()
    ready = loop.create_future()
    loop.add_reader(fd, _settle, ready)
    try:
        await ready
    finally:
        loop.remove_reader(fd)


def _settle(ready: asyncio.Future[None]) -> None:
    # The loop may call twice before the waiting task runs.
    if not ready.done():
        ready.set_result(None)
