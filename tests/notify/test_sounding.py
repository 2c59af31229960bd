"""Which alerts are to be heard."""

import pytest

from driftlead.alerts.alert import AlertState, Priority
from driftlead.notify.sounding import Sounding
from driftlead.testing import make_alert

CAUTION = make_alert(name="fix_poor", priority=Priority.CAUTION)
WARNING = make_alert(name="fix_lost", priority=Priority.WARNING)
ALARM = make_alert()


def sounding(*alerts: object) -> Sounding:
    """Make one that has taken in ``alerts``."""
    made = Sounding()
    for alert in alerts:
        made.update(alert, wanted=True)  # type: ignore[arg-type]
    return made


def test_the_most_urgent_sets_the_sound() -> None:
    """Whatever the order they come in."""
    assert sounding().most_urgent is None
    assert sounding(CAUTION, ALARM, WARNING).most_urgent is Priority.ALARM
    assert sounding(CAUTION, WARNING).most_urgent is Priority.WARNING


@pytest.mark.parametrize("state", set(AlertState) - {AlertState.ACTIVE_UNACKNOWLEDGED})
def test_an_answered_or_ended_alert_falls_silent(state: AlertState) -> None:
    """What is less urgent is heard again."""
    made = sounding(WARNING, ALARM, make_alert(state=state))
    assert made.most_urgent is Priority.WARNING


def test_instances_are_alerts_of_their_own() -> None:
    """To answer one does not silence the other."""
    made = sounding(make_alert(instance="a"), make_alert(instance="b"))
    made.update(make_alert(instance="a", state=AlertState.NORMAL), wanted=True)
    assert made.most_urgent is Priority.ALARM


def test_a_caution_is_heard_once_for_each_raising() -> None:
    """A change of its text does not sound it again; a new raising does."""
    made = sounding(CAUTION)
    made.cautions_were_heard()
    assert made.most_urgent is None
    made.update(CAUTION, wanted=True)
    assert made.most_urgent is None
    made.update(make_alert(name="fix_poor", priority=Priority.CAUTION, number=2), wanted=True)
    assert made.most_urgent is Priority.CAUTION


def test_a_heard_caution_that_becomes_a_warning_sounds_again() -> None:
    """It is no longer a thing to be told once."""
    made = sounding(CAUTION)
    made.cautions_were_heard()
    made.update(make_alert(name="fix_poor", priority=Priority.WARNING), wanted=True)
    assert made.most_urgent is Priority.WARNING


def test_alarms_and_warnings_do_not_wear_out() -> None:
    """Only cautions are done after one hearing."""
    made = sounding(CAUTION, WARNING)
    made.cautions_were_heard()
    assert made.most_urgent is Priority.WARNING


def test_an_alert_that_is_not_wanted_any_more_falls_silent() -> None:
    """Its priority has sunk below what the owner wants to hear here."""
    made = sounding(ALARM)
    made.update(WARNING, wanted=False)
    made.update(make_alert(priority=Priority.WARNING), wanted=False)
    assert made.most_urgent is None


def test_the_newest_of_the_most_urgent_is_named_and_a_drill_after_all_others() -> None:
    """A voice says what is real first."""
    drill = make_alert(name="drill", number=9)
    older, newer = make_alert(number=1), make_alert(name="depth", number=2)
    assert sounding(newer, older, drill, WARNING).foremost == newer
    assert sounding(drill, WARNING).foremost == drill
    assert sounding().foremost is None


def test_the_loudness_is_that_of_the_most_urgent_alerts_alone() -> None:
    """A warning left unanswered for long does not make a fresh alarm loud, nor the reverse."""
    made = Sounding()
    made.update(WARNING, wanted=True, loudness=2)
    assert made.loudness == 2
    made.update(ALARM, wanted=True, loudness=0)
    assert made.loudness == 0
    made.update(make_alert(instance="b"), wanted=True, loudness=1)
    assert made.loudness == 1
    made.update(make_alert(instance="b", state=AlertState.NORMAL), wanted=True)
    assert made.loudness == 0
    assert Sounding().loudness == 0


def test_all_is_well_only_when_no_alarm_and_no_warning_is_up() -> None:
    """An answered drag is a drag; a caution is only to be known."""
    made = sounding(CAUTION)
    assert made.all_is_well
    for state in set(AlertState) - {AlertState.NORMAL}:
        made.update(make_alert(state=state), wanted=False)
        assert not made.all_is_well
    made.update(make_alert(state=AlertState.NORMAL), wanted=True)
    assert made.all_is_well
