"""Every shipped night through the real command, held against its known truth."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from driftlead.cli.replay import replay
from driftlead.geodesy.geodesic import inverse
from driftlead.geodesy.position import Position

NIGHTS = Path(__file__).resolve().parents[2] / "replay_logs"
TRUTH = json.loads((NIGHTS / "truth.json").read_text())
HELD = sorted(name for name, truth in TRUTH.items() if truth["held"])
DRAGGED = sorted(name for name, truth in TRUTH.items() if not truth["held"])
BARE_OPTIONS = ["--bow-height", "1.2m", "--antenna-aft", "8m"]


def run(*arguments: str | Path) -> Result:
    """The command as a person would run it."""
    return CliRunner().invoke(replay, [str(argument) for argument in arguments])


def events_of(tmp_path: Path, *arguments: str | Path) -> tuple[int, list[dict[str, Any]]]:
    """Exit status and events."""
    out = tmp_path / "events.jsonl"
    result = run(*arguments, "--events", out)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.output
    return result.exit_code, [json.loads(line) for line in out.read_text().splitlines()]


def drags(events: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Drag alarms that were raised."""
    return [
        event
        for event in events
        if event["kind"] == "alert"
        and event["name"] == "drag"
        and event["state"] == "active_unacknowledged"
    ]


def test_all_kinds_of_night_are_shipped() -> None:
    """The nights people learn from: none may go missing."""
    assert set(HELD) == {"quiet-night", "wind-shift", "tide-turn", "receiver-glitches"}
    assert set(DRAGGED) == {"slow-drag", "breakout", "late-set"}


@pytest.mark.parametrize("name", HELD)
def test_a_night_that_held_raises_no_alarm(name: str, tmp_path: Path) -> None:
    status, events = events_of(tmp_path, NIGHTS / f"{name}.log.gz")
    assert drags(events) == []
    assert status == 0


@pytest.mark.parametrize("name", DRAGGED)
def test_a_drag_is_found_after_it_begins_and_points_the_right_way(
    name: str, tmp_path: Path
) -> None:
    status, events = events_of(tmp_path, NIGHTS / f"{name}.log.gz")
    assert status == 10
    truth = TRUTH[name]["drag"]
    first = drags(events)[0]
    assert truth["begins_utc"] < first["t"] < truth["ends_utc"]
    assert first["priority"] == "alarm"
    # "At the least": what the circle proves may not exceed what really happened.
    assert 5.0 < first["moved_m"] < truth["distance_m"]
    off_deg = (first["bearing_deg"] - truth["bearing_deg"] + 180.0) % 360.0 - 180.0
    assert abs(off_deg) < 45.0
    assert first["rate_mps"] > 0.02
    assert 0.9 < first["confidence"] <= 1.0


@pytest.mark.parametrize("name", sorted(set(TRUTH) - {"late-set"}))
def test_the_drop_point_is_where_the_anchor_is(name: str, tmp_path: Path) -> None:
    """The bow's place, not the antenna's, 8 m aft of it."""
    _status, events = events_of(tmp_path, NIGHTS / f"{name}.log.gz")
    anchor = events[0]["anchor"]
    truth = Position(**TRUTH[name]["drop"])
    off_m = inverse(Position(anchor["lat"], anchor["lon"]), truth).distance_m
    assert anchor["method"] == "marked"
    assert off_m < 3.0 * anchor["sigma_m"] + 1.0


def test_late_set_infers_the_anchor_with_its_uncertainty(tmp_path: Path) -> None:
    _status, events = events_of(tmp_path, NIGHTS / "late-set.log.gz")
    first, found = events[0]["anchor"], drags(events)[0]
    assert first["method"] == "inferred"
    assert first["sigma_m"] > 10.0
    truth = Position(**TRUTH["late-set"]["drop"])
    off_m = inverse(Position(first["lat"], first["lon"]), truth).distance_m
    assert off_m < 3.0 * first["sigma_m"]
    assert found["anchor"]["method"] == "moved"


def test_the_bare_log_of_a_night_finds_the_same_drag(tmp_path: Path) -> None:
    _status, recorded = events_of(tmp_path, NIGHTS / "slow-drag.log.gz")
    status, bare = events_of(
        tmp_path,
        NIGHTS / "slow-drag.nmea.gz",
        *("--rode", "38m", "--depth", "6.9m", *BARE_OPTIONS),
        *("--drop-at", TRUTH["slow-drag"]["let_go_utc"]),
    )
    assert status == 10
    assert drags(bare)[0]["t"][:16] == drags(recorded)[0]["t"][:16]


def test_the_bare_quiet_night_stays_quiet_however_the_watch_is_set(tmp_path: Path) -> None:
    log = NIGHTS / "quiet-night.nmea.gz"
    drop = TRUTH["quiet-night"]["drop"]
    ways = (
        ("--drop", f"{drop['lat_deg']},{drop['lon_deg']}"),
        ("--drop-at", "20:34"),
        ("--set-late-at", "21:30:00"),
    )
    for way in ways:
        status, events = events_of(
            tmp_path, log, "--rode", "118ft", "--depth", "6.6m", *BARE_OPTIONS, *way
        )
        assert (status, drags(events)) == (0, []), way
        assert any(event["kind"] == "state" for event in events), way


def test_summary_tells_time_metres_direction_and_rate() -> None:
    result = run(NIGHTS / "slow-drag.log.gz")
    line = next(line for line in result.output.splitlines() if "ALARM drag" in line)
    assert line.startswith("2026-06-15T03:")
    assert "m towards 0" in line
    assert "(NE)" in line
    assert "m/s" in line


def test_replaying_twice_gives_the_same_bytes(tmp_path: Path) -> None:
    texts = []
    for name in ("a", "b"):
        out = tmp_path / name
        run(NIGHTS / "breakout.log.gz", "--events", out)
        texts.append(out.read_bytes())
    assert texts[0] == texts[1]
    assert texts[0]
