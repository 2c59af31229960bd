"""Keeping a source open across losses."""

from collections.abc import Awaitable, Callable
from typing import NoReturn

from driftlead.errors import SourceError
from driftlead.sources.backoff import Backoff
from driftlead.sources.outlet import Outlet


class SourceLostError(SourceError):
    """A source could not be opened or was lost; it is tried again. It never leaves a source.

    It has a type of its own so that a SourceError out of ``emit`` is not taken for a lost source.
    """


async def keep_open(
    session: Callable[[], Awaitable[NoReturn]], *, outlet: Outlet, backoff: Backoff
) -> NoReturn:
    """Run one session after another: each opens the source and reads it until it is lost."""
    while True:
        try:
            await session()
        except SourceLostError as lost:
            outlet.closed(str(lost))
        await backoff.wait()
