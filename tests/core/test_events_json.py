"""The events contract. See test_json_contracts for the lines to the letter."""

import json
import re
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call, CallReason
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
    "by",
    "where",
    "handed_to",
]
ONLY_OF_ALERTS = {
    *("instance", "number", "text", "rate_mps", "confidence", "by", "where", "handed_to"),
}
STATE_KEYS = [key for key in ALERT_KEYS if key not in ONLY_OF_ALERTS]


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


def test_every_line_of_the_example_in_the_docs_has_the_keys_of_its_kind() -> None:
    """In the order in which they are written."""
    doc = (Path(__file__).resolve().parents[2] / "docs" / "events.md").read_text("utf-8")
    (block,) = re.findall(r"```json\n(.*?)```", doc, re.DOTALL)
    call = Call(
        alert=make_alert(), outlets=(), reason=CallReason.FIRST, step=0, loudness=0, mono_s=0.0
    )
    tick = AllsWell(state="riding", sees=True, mono_s=0.0)
    written = [event_to_data(event) for event in (STATE, make_alert(), call, tick)]
    keys = {data["kind"]: list(data) for data in written}
    shown = [json.loads(line) for line in block.splitlines()]
    assert {each["kind"] for each in shown} == set(keys)
    for each in shown:
        assert list(each) == keys[each["kind"]]
    for name in {name for names in keys.values() for name in names}:
        assert f"`{name}`" in doc
