"""The line that systemctl shows."""

from typing import Any

import pytest
from attrs import fields

from driftlead.core.status import Status
from driftlead.daemon.status_line import status_line
from driftlead.testing import make_alert


def status(**known: Any) -> Status:
    """Make a status in which only this is known."""
    nothing = {field.name: None for field in fields(Status) if field.name not in _LISTS}
    return Status(**(nothing | {"state": "riding"} | known))


_LISTS = frozenset({"alerts", "sources"})


@pytest.mark.parametrize(
    ("known", "on_watch", "line"),
    [
        (
            {"distance_m": 23.04, "fix_age_s": 1.2},
            True,
            "riding; 23 m from the anchor; fix 1 s old; no alerts",
        ),
        ({"state": "stowed", "distance_m": 23.0}, False, "stowed; no fix yet; no alerts"),
        (
            {"state": "let_go", "fix_age_s": 75.0, "alerts": (make_alert(),)},
            True,
            "let go; fix 75 s old; alarm drag",
        ),
        (
            {"alerts": (make_alert(), make_alert(name="supply_low"))},
            True,
            "riding; no fix yet; alarm drag, alarm supply_low",
        ),
    ],
)
def test_it_says_state_distance_fix_and_alerts(
    known: dict[str, Any], on_watch: bool, line: str
) -> None:
    """In this order, leaving out what is not known."""
    assert status_line(status(**known), on_watch=on_watch) == line
