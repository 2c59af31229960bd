"""Drills through a real core and a real dispatcher, to notifiers that only pretend."""

import asyncio
from typing import TYPE_CHECKING

import pytest

from driftlead.alerts.alert import Alert
from driftlead.alerts.watch_bill import CrewMember
from driftlead.core.inputs import Acknowledge, Drill, Silence
from driftlead.drill.drills import GRACE_S, SOUND_S, UNANSWERED_S, Forwards
from driftlead.drill.report import DrillReport, Ending, Passage
from driftlead.errors import NotifierError, RefusedError
from driftlead.testing import FailingNotifier, RecordingNotifier

if TYPE_CHECKING:
    from tests.drill.conftest import Chain

UP, ANSWERED, OVER = "active_unacknowledged", "active_acknowledged", "normal"


class Slow(RecordingNotifier):
    """Carries when it is let."""

    def __init__(self) -> None:
        super().__init__()
        self.free = asyncio.Event()

    async def notify(self, alert: Alert) -> None:
        """Wait, then keep it."""
        await self.free.wait()
        await super().notify(alert)


class Sender(RecordingNotifier):
    """Takes everything at once and sends it when the network is there."""

    def __init__(self) -> None:
        super().__init__()
        self.network = False

    def still_has(self, alert: Alert) -> bool:
        """Whether it waits for the network."""
        assert alert.name == "drill"
        return not self.network


def passage(report: DrillReport, notifier: str) -> Passage:
    """Find how one fared."""
    (found,) = (each for each in report.passages if each.notifier == notifier)
    return found


@pytest.mark.asyncio
async def test_a_drill_arrives_everywhere_and_ends_itself(make_chain: "type[Chain]") -> None:
    """Each notifier hears of its beginning and of its end, and the report says how soon."""
    horn, log = RecordingNotifier(), RecordingNotifier()
    chain = make_chain({"horn": horn, "log": log})
    report = await chain.report(chain.begin(), SOUND_S + 5.0)
    assert report.ending is Ending.COMPLETE
    assert report.is_good
    assert [each.notifier for each in report.passages] == ["horn", "log"]
    assert all(each.called_s == 0.0 for each in report.passages)
    assert all(each.carried_s is not None and each.carried_s < 1.0 for each in report.passages)
    assert report.crew == ()
    assert report.took_s == pytest.approx(SOUND_S, abs=1.0)
    await chain.wait(1.0)
    for notifier in (horn, log):
        assert notifier.alerts[0].text.startswith("DRILL")
        assert notifier.alerts[-1].state.value == OVER
    assert chain.states() == [UP, ANSWERED, OVER]


@pytest.mark.asyncio
async def test_it_sounds_long_enough_to_wake_a_sleeper_though_the_first_is_dead(
    make_chain: "type[Chain]",
) -> None:
    """All are called at once then: whoever is called last has twelve seconds to hear it."""
    crew = (
        CrewMember(name="skipper", notifiers=("dead",)),
        CrewMember(name="mate", notifiers=("fore",)),
    )
    chain = make_chain({"dead": FailingNotifier(), "fore": RecordingNotifier()}, crew=crew)
    drilling = chain.begin()
    await chain.wait(11.0)
    assert chain.states() == [UP]
    report = await chain.report(drilling, 120.0)
    fore = passage(report, "fore")
    assert fore.carried_s is not None
    assert report.took_s - fore.carried_s >= 12.0
    assert report.ending is Ending.COMPLETE


@pytest.mark.asyncio
async def test_whoever_has_woken_may_end_it_sooner(make_chain: "type[Chain]") -> None:
    """An answer is what it is for."""
    chain = make_chain({"horn": RecordingNotifier()})
    drilling = chain.begin()
    await chain.wait(3.0)
    chain.command(Acknowledge(by="mate"))
    report = await chain.report(drilling, 1.0)
    assert (report.ending, report.is_good) == (Ending.ACKNOWLEDGED, True)


@pytest.mark.asyncio
async def test_what_arrives_just_in_time_still_sounds_and_is_no_failure(
    make_chain: "type[Chain]",
) -> None:
    """The limit is for what does not arrive."""
    sender = Sender()
    chain = make_chain({"shore": sender})
    drilling = chain.begin()
    await chain.wait(GRACE_S - 2.0)
    sender.network = True
    report = await chain.report(drilling, SOUND_S + 2.0)
    assert report.ending is Ending.COMPLETE
    assert report.is_good


@pytest.mark.asyncio
async def test_how_long_each_takes_is_measured_by_itself(make_chain: "type[Chain]") -> None:
    """A slow one holds up its own line only."""
    slow = Slow()
    chain = make_chain({"slow": slow, "quick": RecordingNotifier()})
    drilling = chain.begin()
    await chain.wait(3.0)
    assert not drilling.done()
    slow.free.set()
    report = await chain.report(drilling, SOUND_S + 5.0)
    assert passage(report, "slow").carried_s == pytest.approx(3.0, abs=0.3)
    assert passage(report, "quick").carried_s == pytest.approx(0.0, abs=0.2)


@pytest.mark.asyncio
async def test_one_that_fails_or_was_not_built_is_told_with_its_reason(
    make_chain: "type[Chain]",
) -> None:
    """The others are told as they fared; the drill as a whole has not gone well."""
    broken = FailingNotifier(NotifierError("The horn is mute.", remedy="Mend it."))
    chain = make_chain(
        {"horn": broken, "log": RecordingNotifier()}, unbuilt={"shore": "No such host."}
    )
    report = await chain.report(chain.begin(), SOUND_S + 5.0)
    assert report.ending is Ending.COMPLETE
    assert not report.is_good
    assert passage(report, "horn").trouble == "The horn is mute. Mend it."
    assert passage(report, "shore").trouble == "No such host."
    assert passage(report, "log").carried_s is not None
    assert chain.states("notifier_failed") == [UP]


@pytest.mark.asyncio
async def test_one_that_hangs_is_told_when_its_limit_has_passed(make_chain: "type[Chain]") -> None:
    """As the dispatcher does it for every alert."""
    chain = make_chain({"stuck": Slow()})
    report = await chain.report(chain.begin(), GRACE_S)
    assert "did not finish within 20 s" in str(passage(report, "stuck").trouble)


@pytest.mark.asyncio
async def test_what_is_taken_but_not_sent_has_not_arrived(make_chain: "type[Chain]") -> None:
    """A queue on the disk wakes nobody ashore."""
    sender = Sender()
    assert isinstance(sender, Forwards)
    chain = make_chain({"shore": sender})
    report = await chain.report(chain.begin(), GRACE_S + 1.0)
    assert report.ending is Ending.OUT_OF_TIME
    assert passage(report, "shore") == Passage(notifier="shore", called_s=0.0, waits=True)
    assert not report.is_good
    drilling = chain.begin()
    await chain.wait(4.0)
    assert not drilling.done()
    sender.network = True
    report = await chain.report(drilling, SOUND_S + 2.0)
    assert passage(report, "shore").carried_s == pytest.approx(4.0, abs=0.5)
    assert report.is_good


@pytest.mark.asyncio
async def test_what_is_given_up_instead_of_sent_is_told(make_chain: "type[Chain]") -> None:
    """It is out of the queue, but it went nowhere."""
    sender = Sender()
    chain = make_chain({"shore": sender})
    drilling = chain.begin()
    await chain.wait(1.0)
    chain.troubles["shore"] = "The receiver answered 403."
    sender.network = True
    report = await chain.report(drilling, SOUND_S + 2.0)
    assert passage(report, "shore").trouble == "The receiver answered 403."
    assert passage(report, "shore").carried_s is None


@pytest.mark.asyncio
async def test_with_a_watch_bill_everybody_is_called_in_their_turn(
    make_chain: "type[Chain]",
) -> None:
    """The report says when each of the crew was first reached; a broken bell does not hide."""
    crew = (
        CrewMember(name="skipper", notifiers=("aft",)),
        CrewMember(name="mate", notifiers=("fore", "fore lamp")),
        CrewMember(name="hand", notifiers=("saloon",)),
    )
    chain = make_chain(
        {
            "aft": RecordingNotifier(),
            "fore": FailingNotifier(),
            "fore lamp": RecordingNotifier(),
            "saloon": FailingNotifier(),
        },
        crew=crew,
    )
    report = await chain.report(chain.begin(), 120.0)
    assert report.ending is Ending.COMPLETE
    reached = {each.who: each.after_s for each in report.crew}
    assert reached["skipper"] == pytest.approx(0.0, abs=0.2)
    assert reached["mate"] == pytest.approx(15.0, abs=0.3)
    assert reached["hand"] is None
    assert passage(report, "saloon").called_s == pytest.approx(90.0, abs=0.3)


@pytest.mark.asyncio
async def test_a_drill_to_be_acknowledged_waits_for_somebody_and_says_who(
    make_chain: "type[Chain]",
) -> None:
    """A silence is no answer. Whose turn had not come is no failure."""
    crew = (
        CrewMember(name="skipper", notifiers=("aft",)),
        CrewMember(name="mate", notifiers=("fore",)),
    )
    chain = make_chain({"aft": RecordingNotifier(), "fore": RecordingNotifier()}, crew=crew)
    drilling = chain.begin(until_acknowledged=True)
    await chain.wait(5.0)
    chain.command(Silence())
    await chain.wait(3.0)
    assert not drilling.done()
    chain.command(Acknowledge(by="skipper", where="aft cabin"))
    report = await chain.report(drilling, 1.0)
    assert report.ending is Ending.ACKNOWLEDGED
    assert report.answered is not None
    assert report.answered.after_s == pytest.approx(8.0, abs=0.2)
    assert (report.answered.by, report.answered.where) == ("skipper", "aft cabin")
    assert passage(report, "fore").called_s is None
    assert report.is_good
    assert chain.states()[-1] == OVER


@pytest.mark.asyncio
async def test_nobody_answers_for_ever(make_chain: "type[Chain]") -> None:
    """After a while the drill ends itself: the neighbours have heard it by then."""
    chain = make_chain({"horn": RecordingNotifier()})
    drilling = chain.begin(until_acknowledged=True)
    report = await chain.report(drilling, UNANSWERED_S + 1.0)
    assert report.ending is Ending.OUT_OF_TIME
    assert not report.is_good
    assert chain.states()[-1] == OVER


@pytest.mark.asyncio
async def test_a_real_alert_breaks_the_drill_off_and_sounds_as_usual(
    make_chain: "type[Chain]",
) -> None:
    """The notifiers hear of the real one, and that the drill is over."""
    horn = RecordingNotifier()
    chain = make_chain({"horn": horn})
    drilling = chain.begin(until_acknowledged=True)
    await chain.wait(2.0)
    chain.fault("journal_failed", "The disk is gone.")
    report = await chain.report(drilling, 1.0)
    assert (report.ending, report.real_alert) == (Ending.REAL_ALERT, "journal_failed")
    assert report.answered is None
    assert not report.is_good
    await chain.wait(1.0)
    last = {alert.name: alert.state.value for alert in horn.alerts}
    assert last == {"drill": OVER, "journal_failed": UP}


@pytest.mark.asyncio
async def test_what_the_core_refuses_is_refused_and_leaves_the_next_drill_free(
    make_chain: "type[Chain]",
) -> None:
    """With the remedy."""
    chain = make_chain({"horn": RecordingNotifier()})
    chain.fault("journal_failed", "The disk is gone.")
    with pytest.raises(RefusedError, match="no time for a drill") as caught:
        await chain.begin()
    assert caught.value.remedy
    chain.command(Acknowledge())
    assert (await chain.report(chain.begin(), SOUND_S + 5.0)).is_good


@pytest.mark.asyncio
async def test_there_is_one_drill_at_a_time(make_chain: "type[Chain]") -> None:
    """The second is refused, and the first goes on."""
    chain = make_chain({"horn": RecordingNotifier()})
    drilling = chain.begin(until_acknowledged=True)
    await chain.wait(1.0)
    with pytest.raises(RefusedError, match="on already"):
        await chain.begin()
    assert not drilling.done()
    chain.command(Acknowledge())
    assert (await chain.report(drilling, 1.0)).is_good


@pytest.mark.asyncio
async def test_a_drill_that_is_cancelled_does_not_sound_on(make_chain: "type[Chain]") -> None:
    """The daemon stops."""
    chain = make_chain({"horn": RecordingNotifier()})
    drilling = chain.begin(until_acknowledged=True)
    await chain.wait(1.0)
    drilling.cancel()
    with pytest.raises(asyncio.CancelledError):
        await drilling
    assert chain.states() == [UP, ANSWERED, OVER]


@pytest.mark.asyncio
async def test_other_alerts_are_not_taken_for_the_drill(make_chain: "type[Chain]") -> None:
    """What was carried before it began, or of something else meanwhile, does not count."""
    horn = Slow()
    chain = make_chain({"horn": horn})
    chain.fault("cpu_hot", "It is hot.")  # a caution: no reason to refuse
    drilling = chain.begin()
    await chain.wait(1.0)
    assert not drilling.done()
    horn.free.set()
    assert (await chain.report(drilling, SOUND_S + 5.0)).is_good
    assert [alert.name for alert in horn.alerts][:2] == ["cpu_hot", "drill"]


@pytest.mark.asyncio
async def test_a_drill_given_by_hand_is_not_reported_to_nobody(make_chain: "type[Chain]") -> None:
    """Events without a drill of ours running are passed over."""
    chain = make_chain({"horn": RecordingNotifier()})
    chain.command(Drill())
    await chain.wait(1.0)
    with pytest.raises(RefusedError, match="A drill is on already"):
        await chain.begin()
    assert chain.states() == [UP]
