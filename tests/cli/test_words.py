"""The status in words."""

from typing import Any

import pytest

from driftlead.cli.status_short import FIX_LIMIT_S, short_status
from driftlead.cli.words import status_lines
from driftlead.watch.state_table import WatchState

RIDING: dict[str, Any] = {
    "state": "riding",
    "on_watch": True,
    "t": "2026-07-01T20:00:00.000Z",
    "verdict": "holding",
    "reason": "as_the_rode_allows",
    "set_result": None,
    "confidence": 0.002,
    "distance_m": 24.3,
    "bearing_deg": 131.0,
    "radius_m": 41.2,
    "moved_m": 0.0,
    "rate_mps": None,
    "position": {"lat": 46.4999, "lon": -31.2},
    "anchor": {"lat": 46.5, "lon": -31.2, "sigma_m": 3.1, "method": "marked"},
    "rode_m": 36.0,
    "depth_m": 6.5,
    "heading_deg": 45.0,
    "wind_from_deg": 40.0,
    "wind_mps": 6.2,
    "fix_age_s": 1.0,
    "receiver": "gps/satellite",
    "alerts": [],
    "sources": [
        {
            "name": "gps",
            "open": True,
            "detail": "Reading.",
            "line_age_s": 0.2,
            "accepted": {"RMC": 900},
            "unsupported": {},
            "rejected": {},
        }
    ],
    "journal_ok": True,
    "recording_ok": True,
    "lost_lines": 0,
}
DRAG: dict[str, Any] = {
    "name": "drag",
    "instance": "",
    "priority": "alarm",
    "state": "active_unacknowledged",
    "text": "The anchor is dragging.",
}


def changed_source(**changes: Any) -> dict[str, Any]:
    """The status with another source."""
    return {**RIDING, "sources": [{**RIDING["sources"][0], **changes}]}


def test_a_quiet_night_takes_a_handful_of_lines() -> None:
    """What matters first, in metres and points of the compass."""
    assert status_lines(RIDING) == [
        "Riding to her anchor.",
        "It holds (chance that the anchor has moved: under 1 %).",
        "She lies 24 m from the anchor, bearing 131° (SE) from it; the circle is 41 m.",
        "Anchor at 46°30.000'N 031°12.000'W, marked at let go, good to 3.1 m; rode 36 m.",
        "Fix 1 s old from gps/satellite.",
        "Depth 6.5 m; heading 045° (NE); wind from 040° (NE), 6.2 m/s (12.1 kn).",
    ]


def test_a_drag_is_unmistakable() -> None:
    """State, alarm, how far and how fast."""
    status = {
        **RIDING,
        "state": "dragging",
        "verdict": "dragging",
        "confidence": 0.9999,
        "reason": "anchor_moved",
        "moved_m": 18.2,
        "rate_mps": 0.12,
        "alerts": [DRAG],
    }
    lines = status_lines(status)
    assert lines[0] == "DRAGGING: the anchor is coming home."
    assert lines[1] == "ALARM drag, NOT ACKNOWLEDGED: The anchor is dragging."
    assert "IT DRAGS (chance that the anchor has moved: over 99 %)." in lines
    assert "The anchor has moved about 18 m, at 0.12 m/s (0.2 kn) now." in lines


@pytest.mark.parametrize(
    ("status", "line"),
    [
        (changed_source(open=False, detail="Unplugged."), "Source gps: CLOSED. Unplugged."),
        (
            changed_source(line_age_s=42.0),
            "Source gps: SILENT for 42 s. Reading.",
        ),
        (
            changed_source(line_age_s=None),
            "Source gps: SILENT, nothing has come in yet. Reading.",
        ),
        (
            changed_source(rejected={"bad_checksum": 100}),
            "Source gps: 100 of 1000 lines rejected (bad checksum 100).",
        ),
        ({**RIDING, "fix_age_s": None}, "NO FIX yet."),
        ({**RIDING, "fix_age_s": 95.0}, "Fix 95 s old from gps/satellite - TOO OLD."),
        (
            {**RIDING, "journal_ok": False},
            "THE WATCH IS NOT ON THE DISK: the journal cannot be written.",
        ),
        ({**RIDING, "recording_ok": False}, "The recording cannot be written."),
        ({**RIDING, "lost_lines": 7}, "7 lines of the recording were lost."),
        (
            {**RIDING, "alerts": [{**DRAG, "instance": "shore", "state": "active_acknowledged"}]},
            "ALARM drag (shore), acknowledged: The anchor is dragging.",
        ),
        (
            {**RIDING, "verdict": "unsure", "reason": "rode_unknown", "confidence": 0.3},
            "UNSURE whether it holds (chance that the anchor has moved: 30 %; no rode length is"
            " known, so no circle can be drawn: say driftlead veer LENGTH).",
        ),
    ],
)
def test_whatever_is_wrong_has_a_line(status: dict[str, Any], line: str) -> None:
    """And only then."""
    assert line in status_lines(status)
    assert line not in status_lines(RIDING)


@pytest.mark.parametrize(
    ("age_s", "line"),
    [
        (36.0, "BLIND: the fix is 36 s old. Whether it holds is NOT KNOWN."),
        (None, "BLIND: there is no fix yet. Whether it holds is NOT KNOWN."),
    ],
)
@pytest.mark.parametrize("verdict", ["holding", "unsure", "dragging"])
def test_without_a_fresh_fix_nothing_is_said_of_the_present(
    age_s: float | None, line: str, verdict: str
) -> None:
    """Where she lay when last seen is said as that."""
    status = {**RIDING, "fix_age_s": age_s, "verdict": verdict, "moved_m": 9.6, "rate_mps": 0.1}
    lines = status_lines(status)
    assert lines[1] == line
    assert "When last seen she lay 24 m from the anchor, bearing 131° (SE) from it; " in lines[2]
    assert lines[3] == "The anchor has moved about 9.6 m when last seen."
    text = "\n".join(lines)
    assert "It holds" not in text
    assert "chance" not in text
    assert "She lies" not in text


def test_at_the_limit_of_age_the_status_is_blind_as_the_short_line_is() -> None:
    """The two may not contradict each other."""
    for age_s in (FIX_LIMIT_S - 0.1, FIX_LIMIT_S):
        status = {**RIDING, "fix_age_s": age_s, "danger": None}
        blind = short_status(status).startswith("BLIND")
        assert blind is status_lines(status)[1].startswith("BLIND")
        assert blind is ("TOO OLD" in "\n".join(status_lines(status)))


@pytest.mark.parametrize("missing", [{"verdict": None}, {"confidence": None}])
def test_before_the_first_verdict_it_is_not_judged(missing: dict[str, Any]) -> None:
    """Right after the mark was made or corrected."""
    where = {"distance_m": None, "bearing_deg": None, "radius_m": None, "reason": None}
    lines = status_lines({**RIDING, **where, **missing})
    assert lines[1] == "Not judged yet: whether it holds is NOT KNOWN."
    assert lines[2].startswith("Anchor at")


def test_a_caution_is_a_caution_and_not_acknowledged() -> None:
    """It is born without a need of an answer, so nobody has given one."""
    caution = {
        **DRAG,
        "name": "fix_poor",
        "priority": "caution",
        "state": "active_acknowledged",
        "text": "The fix is poor.",
    }
    assert status_lines({**RIDING, "alerts": [caution]})[1] == "CAUTION fix poor: The fix is poor."


@pytest.mark.parametrize("state", list(WatchState))
def test_every_state_has_words(state: WatchState) -> None:
    """None falls back to its bare name."""
    assert not status_lines({**RIDING, "state": state.value})[0].startswith("State ")


def test_a_watch_that_is_not_kept_shows_no_anchor() -> None:
    """What was is no longer of interest."""
    status = {**RIDING, "state": "stowed", "on_watch": False, "verdict": None, "anchor": None}
    assert status_lines(status)[1].startswith("Fix ")


def test_while_she_drags_the_card_comes_before_everything_but_the_alarm() -> None:
    """What to do, before where the anchor is and how old the fix."""
    card = ["1. Confirm", "   Look at a transit abeam."]
    status = {**RIDING, "state": "dragging", "alerts": [DRAG], "response": card}
    lines = status_lines(status)
    at = lines.index(card[0])
    assert lines[at + 1] == card[1]
    assert lines.index("ALARM drag, NOT ACKNOWLEDGED: The anchor is dragging.") < at
    assert at < next(n for n, line in enumerate(lines) if line.startswith("Anchor at"))
    assert status_lines({**RIDING, "response": None}) == status_lines(RIDING)
