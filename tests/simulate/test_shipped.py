"""The nights in replay_logs/ are what this code makes, and say what is true."""

import gzip
import json
import zlib
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from geographiclib.geodesic import Geodesic

from driftlead.core.inputs_json import command_from_json
from driftlead.core.settings_json import settings_from_json
from driftlead.lines import StampedLine
from driftlead.nmea.checksum import checksum
from driftlead.recording.format import RecordedInput, is_recording, parse_recorded
from driftlead.simulate import night_files, shipped
from driftlead.simulate.night import simulate_night
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.scenarios import breakout, demo_nights, late_set

REPLAY_LOGS = Path(__file__).resolve().parents[2] / "replay_logs"
REMAKE = "Make the nights anew: make nights"
NIGHTS = pytest.mark.parametrize("scenario", demo_nights(), ids=lambda scenario: scenario.name)


def lines_of(name: str) -> list[str]:
    text = gzip.decompress((REPLAY_LOGS / name).read_bytes()).decode("ascii")
    return text.splitlines(keepends=True)


@pytest.fixture(scope="module")
def truth() -> dict[str, Any]:
    """The truth as shipped."""
    data: dict[str, Any] = json.loads((REPLAY_LOGS / "truth.json").read_text("ascii"))
    return data


@pytest.mark.parametrize("scenario", [breakout(), late_set()], ids=lambda s: s.name)
def test_the_shipped_night_is_the_one_the_seed_gives(
    scenario: Scenario, truth: dict[str, Any]
) -> None:
    """Character for character, and packed byte for byte; the truth as well."""
    night = simulate_night(scenario)
    for name, text in shipped.shipped_texts(night):
        assert "".join(lines_of(name)) == text, REMAKE
        if "ng" not in zlib.ZLIB_RUNTIME_VERSION:  # zlib-ng packs the same text otherwise
            assert night_files.packed(text) == (REPLAY_LOGS / name).read_bytes(), REMAKE
    assert truth[scenario.name] == night_files.truth_json(night), REMAKE


@NIGHTS
def test_a_recording_begins_with_its_part_and_holds_nothing_that_is_not_readable(
    scenario: Scenario,
) -> None:
    """Header, comments with the truth, the settings of today, then inputs in order of time."""
    lines = lines_of(f"{scenario.name}.log.gz")
    assert is_recording(lines[0])
    comments = [line for line in lines if line.startswith("#")]
    assert lines[: len(comments)] == comments
    assert any("Truth: " in comment for comment in comments)
    recorded = [parse_recorded(line) for line in lines[len(comments) :]]
    part, *rest = recorded
    assert isinstance(part, RecordedInput)
    assert (part.mono_s, part.kind) == (0.0, "part")
    assert (part.data["run"], part.data["part"]) == (scenario.name, 1)
    assert settings_from_json(part.data["settings"]) == night_files.settings_of(scenario), REMAKE
    times = [item.mono_s for item in recorded if item is not None]
    assert len(times) == len(recorded)
    assert times == sorted(times)
    verbs = []
    for item in rest:
        if isinstance(item, RecordedInput):
            assert item.kind == "command"
            command_from_json(item.data)
            verbs.append(item.data["command"])
        elif isinstance(item, StampedLine):
            body, _, sum_ = item.text[1:].partition("*")
            assert checksum(body) == int(sum_, 16)
    assert verbs[0] == "let-go"


@pytest.mark.parametrize("name", sorted(shipped.BARE_NIGHTS))
def test_a_bare_night_is_the_lines_of_its_recording_and_nothing_else(name: str) -> None:
    """As a logger without stamps keeps them, with the line ends of the standard."""
    recorded = [
        item.text
        for line in lines_of(f"{name}.log.gz")
        if isinstance(item := parse_recorded(line), StampedLine)
    ]
    assert lines_of(f"{name}.nmea.gz") == [f"{text}\r\n" for text in recorded]


@NIGHTS
def test_the_truth_is_told_in_the_recording_and_in_the_readme(
    scenario: Scenario, truth: dict[str, Any]
) -> None:
    """When the drag begins, and how far and which way it goes, in all three places."""
    told = truth[scenario.name]
    comments = " ".join(line for line in lines_of(f"{scenario.name}.log.gz")[:8])
    readme = (REPLAY_LOGS / "README.md").read_text("utf-8")
    assert f"{scenario.name}.log.gz" in readme
    assert told["held"] == (scenario.holding.drag is None)
    if told["held"]:
        assert told["drag"] is None
        assert "the anchor holds" in comments
    else:
        drag = told["drag"]
        for text in (drag["begins_utc"], f"{drag['distance_m']:.0f} m"):
            assert text in comments
            assert text in readme


def test_the_drop_point_is_where_the_boat_lay_when_she_let_go(truth: dict[str, Any]) -> None:
    """The fix at let go is a boat's length from it: the antenna is 8 m aft (and errs)."""
    for scenario in demo_nights():
        drop = truth[scenario.name]["drop"]
        for line in lines_of(f"{scenario.name}.log.gz"):
            item = parse_recorded(line)
            if isinstance(item, StampedLine) and item.mono_s >= 240.0 and "RMC" in item.text:
                fields = item.text.split(",")
                lat_deg = int(fields[3][:2]) + float(fields[3][2:]) / 60.0
                lon_deg = -int(fields[5][:3]) - float(fields[5][3:]) / 60.0
                break
        way = Geodesic.WGS84.Inverse(drop["lat_deg"], drop["lon_deg"], lat_deg, lon_deg)
        assert 1.0 < way["s12"] < 15.0


def test_the_files_are_all_there_small_and_without_a_date_or_a_name_inside() -> None:
    """Nothing in the gzip header changes from one making to the next."""
    made = {f"{scenario.name}.log.gz" for scenario in demo_nights()}
    made |= {f"{name}.nmea.gz" for name in shipped.BARE_NIGHTS}
    assert {path.name for path in REPLAY_LOGS.iterdir()} == made | {"README.md", "truth.json"}
    for name in made:
        packed = (REPLAY_LOGS / name).read_bytes()
        assert len(packed) < 700_000
        # RFC 1952: no flags (so no name), modification time 0.
        assert packed[3:8] == b"\0\0\0\0\0"


def test_the_command_refuses_a_folder_that_is_not_there(tmp_path: Path) -> None:
    """It writes nothing anywhere else instead."""
    result = CliRunner().invoke(shipped.main, [str(tmp_path / "missing")])
    assert result.exit_code == 2
    assert "missing" in result.output


def test_the_command_writes_each_file_and_names_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The nights, the bare forms and the truth."""
    monkeypatch.setattr(shipped, "demo_nights", lambda: (breakout(),))
    result = CliRunner().invoke(shipped.main, [str(tmp_path)])
    assert result.exit_code == 0
    assert {path.name for path in tmp_path.iterdir()} == {"breakout.log.gz", "truth.json"}
    assert str(tmp_path / "breakout.log.gz") in result.output
