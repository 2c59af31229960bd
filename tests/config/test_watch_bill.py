"""The watch bill, the escalation and the sign of life, from the file to their values."""

import tomllib
from pathlib import Path

import pytest

from driftlead.alerts.alert import Priority
from driftlead.alerts.settings import AlertSettings, EscalationSettings, OutletSettings
from driftlead.alerts.watch_bill import CrewMember, WatchBill, WatchHours
from driftlead.config.load import build_config, core_settings
from driftlead.config.model import Config
from driftlead.errors import ConfigError

FILE = Path("/etc/driftlead/boat.toml")
BASE = """
[[source]]
name = "gps"
kind = "udp"
[[notifier]]
kind = "log"
[[notifier]]
kind = "sound"
name = "cabin"
[[notifier]]
kind = "sound"
name = "forepeak"
at_least = "alarm"
"""
CREW = """
[[crew]]
name = "skipper"
notifiers = ["cabin"]
watches = ["20:00-24:00", "22:30 - 04:00"]
[[crew]]
name = "mate"
notifiers = ["forepeak", "cabin"]
"""


def build(text: str) -> Config:
    """The configuration with this beside a source and three notifiers."""
    return build_config(tomllib.loads(BASE + text), FILE)


def problem_of(text: str) -> str:
    """The one problem there is, without the name of the file."""
    with pytest.raises(ConfigError) as caught:
        build(text)
    (problem,) = caught.value.problems
    return problem.removeprefix(f"{FILE}: ")


def test_crew_hours_and_times_arrive_in_seconds() -> None:
    config = build(
        CREW
        + """
        [watch_bill]
        zone = "-03:30"
        [escalation]
        second_after = "20s"
        everyone_after = "2min"
        repeat = "3min"
        warning_becomes_alarm = "0s"
        [alls_well]
        every = "15min"
        """
    )
    hour_s = 3600.0
    assert core_settings(config).alerts == AlertSettings(
        outlets=(
            OutletSettings(name="log"),
            OutletSettings(name="cabin"),
            OutletSettings(name="forepeak", at_least=Priority.ALARM),
        ),
        bill=WatchBill(
            crew=(
                CrewMember(
                    name="skipper",
                    notifiers=("cabin",),
                    watches=(
                        WatchHours(20 * hour_s, 24 * hour_s),
                        WatchHours(22.5 * hour_s, 4 * hour_s),
                    ),
                ),
                CrewMember(name="mate", notifiers=("forepeak", "cabin")),
            ),
            utc_offset_s=-3.5 * hour_s,
        ),
        escalation=EscalationSettings(
            second_after_s=20.0,
            everyone_after_s=120.0,
            repeat_s=180.0,
            warning_becomes_alarm_s=0.0,
        ),
        alls_well_s=900.0,
    )


def test_without_any_of_it_nobody_stands_a_watch_and_the_times_are_the_defaults() -> None:
    alerts = core_settings(build("")).alerts
    assert alerts.bill == WatchBill()
    assert alerts.escalation == EscalationSettings()
    assert alerts.alls_well_s == 0.0
    assert [outlet.name for outlet in alerts.outlets] == ["log", "cabin", "forepeak"]


def test_ships_time_is_that_of_the_plan_unless_the_watch_bill_says_otherwise() -> None:
    assert build('[plan]\nzone = "+02:00"').bill.utc_offset_s == 7200.0
    both = '[plan]\nzone = "+02:00"\n[watch_bill]\nzone = "UTC"'
    assert build(both).bill.utc_offset_s == 0.0


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        (
            '[[crew]]\nname = "skipper"',
            '[[crew]] #1 notifiers: This key is missing. Add notifiers = ["cabin"].',
        ),
        (
            '[[crew]]\nnotifiers = ["cabin"]',
            '[[crew]] #1 name: This key is missing. Add name = "skipper".',
        ),
        (
            '[[crew]]\nname = "skipper"\nnotifiers = ["cabni"]',
            "[[crew]] #1 notifiers = [...]: There is no notifier cabni. Did you mean cabin?",
        ),
        (
            '[[crew]]\nname = "skipper"\nnotifiers = "cabin"',
            '[[crew]] #1 notifiers = "cabin": This is not a list. '
            'Write ["cabin"], the names of notifiers.',
        ),
        (
            '[[crew]]\nname = "skipper"\nnotifiers = ["cabin"]\nwatches = ["8pm"]',
            '[[crew]] #1 watches = [...]: "8pm": These are not the hours of a watch. '
            'Write it as "20:00-24:00".',
        ),
        (
            '[[crew]]\nname = "skipper"\nnotifiers = ["cabin"]\nwatches = ["20:00-25:00"]',
            '[[crew]] #1 watches = [...]: "20:00-25:00": The day has 24 hours. '
            'Write it as "20:00-24:00".',
        ),
        (
            '[[crew]]\nname = "skipper"\nnotifiers = ["cabin"]\nwatches = ["20:00-20:00"]',
            '[[crew]] #1 watches = [...]: "20:00-20:00": It ends when it begins. '
            'The whole day is "00:00-24:00".',
        ),
        (
            '[[crew]]\nname = "mate"\nnotifiers = ["cabin"]\n' * 2,
            '[[crew]] #2 name = "mate": That is the one of [[crew]] #1 too. '
            "Give each its own name.",
        ),
        (
            '[escalation]\neveryone_after = "5s"',
            '[escalation] everyone_after = "5s": Everybody would be called before the second. '
            "Make it no shorter than second_after.",
        ),
        (
            '[escalation]\nrepeat = "6min"',
            '[escalation] repeat = "6min": 6min is out of range. Write something from 10s to 5min.',
        ),
        (
            '[alls_well]\nevery = "1s"',
            '[alls_well] every = "1s": Nobody can tell that from a fault. '
            'Write "10s" or more, or "0s" for never.',
        ),
        (
            '[watch_bill]\nzone = "local"',
            "[watch_bill] zone = \"local\": 'local' is not a time zone. "
            "Write UTC, or +01:00 east of it.",
        ),
    ],
)
def test_what_is_wrong_is_named_with_its_remedy(text: str, problem: str) -> None:
    assert problem_of(text) == problem
