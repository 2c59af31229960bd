"""The check of the notifiers."""

import asyncio
from typing import Any

import pytest

from driftlead.check.finding import Level
from driftlead.check.notifiers import LIMIT_S, check_notifiers
from driftlead.errors import NotifierError
from driftlead.notify.lane import Outlet
from driftlead.testing import FakeTime, RecordingNotifier


class Proves(RecordingNotifier):
    """Has a check that does as told."""

    def __init__(self, outcome: str | Exception | None) -> None:
        super().__init__()
        self.outcome = outcome

    async def check(self) -> str:
        """Prove it."""
        if self.outcome is None:
            await asyncio.Event().wait()
        if isinstance(self.outcome, Exception):
            raise self.outcome
        return str(self.outcome)


@pytest.mark.parametrize(
    ("notifier", "level", "words"),
    [
        (Proves("It sounds."), Level.OK, "It sounds."),
        (Proves(NotifierError("Mute.", remedy="Mend it.")), Level.FAIL, "Mute."),
        (Proves(ZeroDivisionError("oops")), Level.FAIL, "oops"),
        (RecordingNotifier(), Level.LOOK, "no check"),
    ],
)
@pytest.mark.asyncio
async def test_each_says_what_it_proved(notifier: Any, level: Level, words: str) -> None:
    """Or why it does not work, whatever a plug-in does."""
    (finding,) = await check_notifiers([Outlet(name="siren", notifier=notifier)])
    assert (finding.what, finding.level) == ("notifier siren", level)
    assert words in finding.text


@pytest.mark.asyncio
async def test_one_that_hangs_fails_and_the_others_are_told() -> None:
    """The check as a whole ends."""
    time = FakeTime()
    outlets = [Outlet(name="a", notifier=Proves(None)), Outlet(name="b", notifier=Proves("Yes."))]
    checking = asyncio.create_task(check_notifiers(outlets, sleep=time.sleep))
    await time.until_sleeping(LIMIT_S)
    await time.advance(LIMIT_S)
    async with asyncio.timeout(5.0):
        findings = await checking
    assert [finding.level for finding in findings] == [Level.FAIL, Level.OK]


@pytest.mark.asyncio
async def test_what_is_known_to_be_wrong_stands_whatever_the_check_says() -> None:
    """One that is sounding cannot try itself; that its first player has failed is no OK."""
    outlet = Outlet(name="siren", notifier=Proves("It is sounding at this moment."))
    troubles = {"siren": "aplay cannot open the device."}
    (finding,) = await check_notifiers([outlet], trouble_of=troubles.get)
    assert (finding.level, finding.text) == (Level.FAIL, "aplay cannot open the device.")
