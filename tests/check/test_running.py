"""The check of a daemon that is running."""

from typing import Any

import pytest

from driftlead.check.finding import Level
from driftlead.check.running import judge_running

SOURCE: dict[str, Any] = {
    "name": "gps",
    "open": True,
    "detail": "Reading.",
    "line_age_s": 0.4,
    "accepted": {"RMC": 100},
    "unsupported": {},
    "rejected": {},
}
POOR = {"name": "fix_poor", "instance": "", "priority": "caution", "text": "Poor."}
STATUS: dict[str, Any] = {
    "state": "riding",
    "sources": [SOURCE],
    "fix_age_s": 0.5,
    "receiver": "gps/satellite",
    "journal_ok": True,
    "recording_ok": True,
    "alerts": [],
    "heading_deg": 40.0,
    "depth_m": 6.0,
    "antenna_aft_m": 8.0,
}


def test_a_daemon_that_is_well_is_all_ok() -> None:
    """Nothing else is asked of it."""
    assert {finding.level for finding in judge_running(STATUS)} == {Level.OK}


@pytest.mark.parametrize(
    ("changes", "what", "level"),
    [
        ({"sources": [{**SOURCE, "open": False}]}, "source gps", Level.FAIL),
        ({"sources": [{**SOURCE, "line_age_s": None}]}, "source gps", Level.FAIL),
        ({"sources": [{**SOURCE, "line_age_s": 30.0}]}, "source gps", Level.FAIL),
        ({"sources": [{**SOURCE, "accepted": {}}]}, "source gps", Level.FAIL),
        ({"sources": [{**SOURCE, "rejected": {"bad_checksum": 9}}]}, "source gps", Level.LOOK),
        ({"fix_age_s": None}, "fix", Level.FAIL),
        ({"fix_age_s": 60.0}, "fix", Level.FAIL),
        ({"heading_deg": None}, "heading", Level.LOOK),
        ({"depth_m": None}, "depth", Level.LOOK),
        ({"journal_ok": False}, "journal", Level.FAIL),
        ({"recording_ok": False}, "recording", Level.FAIL),
        (
            {"alerts": [POOR]},
            "alert fix poor",
            Level.LOOK,
        ),
    ],
)
def test_whatever_is_not_well_is_found(changes: dict[str, Any], what: str, level: Level) -> None:
    """Each by its own line."""
    found = {finding.what: finding.level for finding in judge_running({**STATUS, **changes})}
    assert found[what] is level


def test_an_alert_that_another_line_tells_of_is_not_told_again() -> None:
    """A notifier that failed has a line of its own."""
    mute = {"name": "notifier_failed", "instance": "cabin", "priority": "warning", "text": "Mute."}
    status = {**STATUS, "alerts": [mute, {**mute, "instance": "page"}]}
    found = judge_running(status, told={("notifier_failed", "cabin")})
    assert [each.what for each in found if "alert" in each.what] == ["alert notifier failed"]
