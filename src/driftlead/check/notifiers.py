"""Whether the notifiers work, as each can prove itself."""

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable
from typing import Final

from driftlead.check.finding import Finding, Level
from driftlead.errors import NotifierError
from driftlead.notify.base import Checkable
from driftlead.notify.lane import Outlet
from driftlead.notify.within import OutOfTimeError, run_within

_LOGGER = logging.getLogger(__name__)
LIMIT_S: Final = 30.0


async def check_notifiers(
    outlets: Iterable[Outlet],
    *,
    sleep: Callable[[float], Awaitable[None]] = asyncio.sleep,
    trouble_of: Callable[[str], str | None] = lambda _: None,
) -> list[Finding]:
    """Try all of them at once, for ``LIMIT_S`` at most.

    ``trouble_of`` says what is known to be wrong with one by its name: that stands, whatever its
    own check says.
    """
    tried = tuple(outlets)
    found = await asyncio.gather(*(_check(outlet, sleep) for outlet in tried))
    return [
        Finding(Level.FAIL, finding.what, trouble)
        if finding.level is not Level.FAIL and (trouble := trouble_of(outlet.name)) is not None
        else finding
        for outlet, finding in zip(tried, found, strict=True)
    ]


async def _check(outlet: Outlet, sleep: Callable[[float], Awaitable[None]]) -> Finding:
    what = f"notifier {outlet.name}"
    if not isinstance(outlet.notifier, Checkable):
        return Finding(
            Level.LOOK, what, "It has no check of its own.", "Try it with a rehearsal: kind = log."
        )
    try:
        proved = await run_within(_proof(outlet.notifier), LIMIT_S, sleep)
    except OutOfTimeError:
        return Finding(Level.FAIL, what, f"Its check did not end within {LIMIT_S:.0f} s.")
    except NotifierError as error:
        return Finding(Level.FAIL, what, error.message, error.remedy)
    except Exception as error:
        _LOGGER.debug("Notifier %s broke its contract", outlet.name, exc_info=error)
        return Finding(Level.FAIL, what, f"Its check broke: {type(error).__name__}: {error}.")
    return Finding(Level.OK, what, proved)


async def _proof(notifier: Checkable) -> str:
    return await notifier.check()
