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
STATUS: dict[str, Any] = {
    "state": "riding",
    "sources": [SOURCE],
    "fix_age_s": 0.5,
    "receiver": "gps/satellite",
    "journal_ok": True,
    "recording_ok": True,
    "alerts": [],
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
        ({"journal_ok": False}, "journal", Level.FAIL),
        ({"recording_ok": False}, "recording", Level.FAIL),
        (
            {"alerts": [{"name": "fix_poor", "priority": "caution", "text": "Poor."}]},
            "alert fix poor",
            Level.LOOK,
        ),
    ],
)
def test_whatever_is_not_well_is_found(changes: dict[str, Any], what: str, level: Level) -> None:
    """Each by its own line."""
    found = {finding.what: finding.level for finding in judge_running({**STATUS, **changes})}
    assert found[what] is level
