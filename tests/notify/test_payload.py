"""What is sent to other machines, schema 1."""

import json
import math

from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import AlertState
from driftlead.alerts.alls_well import AllsWell
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.notify.payload import alert_body, alls_well_body
from driftlead.testing import make_alert

FULL = make_alert(
    instance="gps0",
    utc_s=1_780_000_000.5,
    raised_utc_s=1_779_999_990.0,
    moved_m=18.0,
    bearing_deg=131.0,
    rate_mps=0.12,
    confidence=0.97,
    by="Ada",
    where="cockpit",
    handed_to="Ben",
    overdue=True,
    anchor=AnchorEstimate(46.5, -31.2, 4.5, AnchorMethod.MARKED),
)


def test_schema_1_stays_as_published() -> None:
    """Receivers rely on every one of these names and values."""
    assert json.loads(alert_body(FULL, boat="Corvid")) == {
        "schema": 1,
        "boat": "Corvid",
        "name": "drag",
        "instance": "gps0",
        "number": 1,
        "priority": "alarm",
        "state": "active_unacknowledged",
        "reason": "raised",
        "text": "ALARM. DRAGGING: the anchor has moved 18 m to the south-east (131°), "
        "0.12 m/s (0.2 kn).",
        "t": "2026-05-28T20:26:40.500Z",
        "raised_t": "2026-05-28T20:26:30.000Z",
        "moved_m": 18.0,
        "bearing_deg": 131.0,
        "rate_mps": 0.12,
        "confidence": 0.97,
        "by": "Ada",
        "where": "cockpit",
        "handed_to": "Ben",
        "overdue": True,
        "anchor": {"lat": 46.5, "lon": -31.2, "sigma_m": 4.5, "method": "marked"},
    }


def test_what_is_not_known_is_null_and_there_all_the_same() -> None:
    """A receiver finds the same members in every message."""
    sparse = json.loads(alert_body(make_alert(), boat="Corvid"))
    assert sparse.keys() == json.loads(alert_body(FULL, boat="Corvid")).keys()
    assert {member for member, value in sparse.items() if value is None} == {
        "t",
        "raised_t",
        "moved_m",
        "bearing_deg",
        "rate_mps",
        "confidence",
        "by",
        "where",
        "handed_to",
        "anchor",
    }


def test_the_sign_of_life_has_no_name_and_so_is_no_alert() -> None:
    """Whoever gets both tells them apart by that."""
    tick = AllsWell(state="riding", sees=False, mono_s=1.0, utc_s=math.inf)
    assert json.loads(alls_well_body(tick, boat="Corvid")) == {
        "schema": 1,
        "boat": "Corvid",
        "alls_well": True,
        "state": "riding",
        "sees": False,
        "t": None,
    }


@given(text=st.text(), figure=st.none() | st.floats(), state=st.sampled_from(AlertState))
def test_any_alert_is_strict_json(text: str, figure: float | None, state: AlertState) -> None:
    """NaN and infinity, which JSON (RFC 8259) does not have, become null; any text survives."""

    def refuse(constant: str) -> None:
        raise AssertionError(constant)

    alert = make_alert(reason=text, text=text, state=state, moved_m=figure, utc_s=figure)
    body = json.loads(alert_body(alert, boat=text).decode(), parse_constant=refuse)
    assert body["reason"] == body["boat"] == text
    known = figure is not None and math.isfinite(figure)
    assert body["moved_m"] == (figure if known else None)


def test_equal_alerts_give_equal_bytes() -> None:
    """A repetition can be recognised."""
    assert alert_body(FULL, boat="Corvid") == alert_body(FULL, boat="Corvid")
