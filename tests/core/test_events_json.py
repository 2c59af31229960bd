"""The events contract. See test_json_contracts for the lines to the letter."""

import json
from typing import Any

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from driftlead.core.events_json import EVENTS_VERSION, event_to_data, event_to_json, utc_text
from driftlead.core.reply import Event
from driftlead.core.state_event import StateEvent
from driftlead.testing.alerts import make_alert

STATE = StateEvent(name="held_again", state="riding", reason="track", mono_s=5.0)
ALERT_KEYS = [
    "v",
    "t",
    "kind",
    "name",
    "instance",
    "number",
    "priority",
    "state",
    "reason",
    "text",
    "moved_m",
    "bearing_deg",
    "rate_mps",
    "confidence",
    "anchor",
]
STATE_KEYS = [key for key in ALERT_KEYS if key not in ("instance", "number", "text")]
STATE_KEYS = [key for key in STATE_KEYS if key not in ("rate_mps", "confidence")]


@pytest.mark.parametrize(
    ("event", "kind", "keys"),
    [(make_alert(), "alert", ALERT_KEYS), (STATE, "state", STATE_KEYS)],
    ids=["alert", "state"],
)
def test_every_event_has_all_its_keys_in_the_contracts_order(
    event: Event, kind: str, keys: list[str]
) -> None:
    """Also those of which nothing is known, which are null."""
    data = event_to_data(event)
    assert list(data) == keys
    assert (data["v"], data["kind"]) == (EVENTS_VERSION, kind)
    assert {data[key] for key in ("t", "moved_m", "bearing_deg", "anchor")} == {None}


@pytest.mark.parametrize("event", [make_alert(), STATE], ids=["alert", "state"])
@given(bearing_deg=st.floats(0.0, 360.0))
def test_a_bearing_is_from_0_up_to_360_and_to_a_tenth(event: Any, bearing_deg: float) -> None:
    told = event_to_data(evolve(event, bearing_deg=bearing_deg))["bearing_deg"]
    assert 0.0 <= told < 360.0
    off_deg = (told - bearing_deg + 180.0) % 360.0 - 180.0
    assert abs(off_deg) <= 0.0501


@given(text=st.text())
def test_an_event_is_one_line_of_ascii_whatever_its_text(text: str) -> None:
    line = event_to_json(make_alert(text=text))
    assert line.isascii()
    assert "\n" not in line
    assert json.loads(line)["text"] == text


@pytest.mark.parametrize(
    ("utc_s", "wanted"),
    [
        (0.0, "1970-01-01T00:00:00.000Z"),
        (1_780_344_000.0004, "2026-06-01T20:00:00.000Z"),
        (1_780_344_000.9996, "2026-06-01T20:00:01.000Z"),
        (1_780_358_399.9999, "2026-06-02T00:00:00.000Z"),
        (None, None),
    ],
)
def test_times_are_utc_to_the_millisecond(utc_s: float | None, wanted: str | None) -> None:
    """Computed with `date -u -d @SECONDS`; what rounds up carries into the next day."""
    assert utc_text(utc_s) == wanted
