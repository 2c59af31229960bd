"""Who is to hear of an alert at each step."""

import pytest

from driftlead.alerts.alert import Priority
from driftlead.alerts.audience import EVERYONE, SECOND, Audience
from driftlead.alerts.settings import AlertSettings, OutletSettings

MIDDLE_S = 1_780_362_000.0  # 01:00 UTC: the skipper's watch
MORNING_S = MIDDLE_S + 4 * 3600.0  # 05:00: the mate's
NOON_S = MIDDLE_S + 11 * 3600.0  # nobody's


def at_step(
    settings: AlertSettings,
    step: int,
    priority: Priority,
    utc_s: float | None = MIDDLE_S,
    *failed: str,
) -> str:
    """Names, joined."""
    return "+".join(Audience(settings).at_step(step, priority, utc_s, failed))


def test_a_caution_wakes_nobody(crew_settings: AlertSettings) -> None:
    """It goes into the log."""
    for step in (0, SECOND, EVERYONE):
        assert at_step(crew_settings, step, Priority.CAUTION) == "log"


def test_a_warning_wakes_one_whose_watch_it_is(crew_settings: AlertSettings) -> None:
    for step in (0, SECOND):
        assert at_step(crew_settings, step, Priority.WARNING) == "log+aft"
        assert at_step(crew_settings, step, Priority.WARNING, MORNING_S) == "log+fore"


def test_an_alarm_wakes_one_then_a_second_then_everybody(crew_settings: AlertSettings) -> None:
    assert at_step(crew_settings, 0, Priority.ALARM) == "log+aft"
    assert at_step(crew_settings, SECOND, Priority.ALARM) == "log+aft+fore"
    assert at_step(crew_settings, EVERYONE, Priority.ALARM) == "log+aft+fore+saloon"
    assert at_step(crew_settings, 0, Priority.ALARM, MORNING_S) == "log+fore"
    assert at_step(crew_settings, SECOND, Priority.ALARM, MORNING_S) == "log+aft+fore"


@pytest.mark.parametrize("utc_s", [NOON_S, None])
def test_when_it_is_nobodys_watch_or_nobody_knows_the_time_the_skipper_is_called(
    crew_settings: AlertSettings, utc_s: float | None
) -> None:
    assert at_step(crew_settings, 0, Priority.ALARM, utc_s) == "log+aft"


def test_somebody_whose_notifiers_have_failed_is_called_together_with_the_next(
    crew_settings: AlertSettings,
) -> None:
    """It may have failed in part only; but nobody relies on it."""
    assert at_step(crew_settings, 0, Priority.ALARM, MIDDLE_S, "aft") == "log+aft+fore"
    assert at_step(crew_settings, 0, Priority.WARNING, MIDDLE_S, "aft") == "log+aft+fore"
    everybody = "log+aft+fore+saloon"
    assert at_step(crew_settings, 0, Priority.ALARM, MIDDLE_S, "aft", "fore") == everybody


def test_somebody_who_does_not_want_warnings_is_passed_over_for_one_who_does(
    crew_settings: AlertSettings,
) -> None:
    """The owner's ``at_least`` holds, and the warning still wakes one."""
    outlets = (
        OutletSettings(name="aft", at_least=Priority.ALARM),
        OutletSettings(name="fore", at_least=Priority.WARNING),
    )
    settings = AlertSettings(outlets=outlets, bill=crew_settings.bill)
    assert at_step(settings, 0, Priority.WARNING) == "fore"
    assert at_step(settings, 0, Priority.ALARM) == "aft"


def test_without_a_crew_everything_is_told_at_once(crew_settings: AlertSettings) -> None:
    """But no notifier is told of less than its owner wants."""
    settings = AlertSettings(outlets=crew_settings.outlets)
    assert at_step(settings, 0, Priority.CAUTION) == "log"
    assert at_step(settings, 0, Priority.WARNING) == "log+aft+fore"
    assert at_step(settings, 0, Priority.ALARM) == "log+aft+fore+saloon"


def test_without_notifiers_there_is_nobody() -> None:
    assert at_step(AlertSettings(), EVERYONE, Priority.ALARM) == ""


def test_names_come_in_the_order_of_the_configuration_and_only_once(
    crew_settings: AlertSettings,
) -> None:
    audience = Audience(crew_settings)
    assert audience.ordered(["fore", "gone", "log", "fore"]) == ("log", "fore")


def test_only_what_somebody_sleeps_beside_counts_as_waking(crew_settings: AlertSettings) -> None:
    """A log takes every alarm and wakes nobody; without a crew it is all there may be."""
    audience = Audience(crew_settings)
    assert not audience.wakes(["log"], ())
    assert audience.wakes(["log", "aft"], ())
    assert not audience.wakes(["log", "aft"], ("aft",))
    assert Audience(AlertSettings(outlets=crew_settings.outlets)).wakes(["log"], ())
