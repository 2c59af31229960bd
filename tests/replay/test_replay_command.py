"""The replay command: what it refuses, what it writes, how it ends."""

import gzip
import json
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from driftlead.cli.replay import replay
from driftlead.nmea.checksum import checksum

NIGHTS = Path(__file__).resolve().parents[2] / "replay_logs"


def run(*arguments: str | Path) -> Result:
    """The command as a person would run it."""
    return CliRunner().invoke(replay, [str(argument) for argument in arguments])


def sentence(body: str) -> str:
    """A sentence with its checksum."""
    return f"${body}*{checksum(body):02X}"


@pytest.fixture
def short_log(tmp_path: Path) -> Path:
    """Two minutes at rest, RMC only, a date in it."""
    path = tmp_path / "short.nmea"
    path.write_text(
        "".join(
            sentence(
                f"GPRMC,21{4 + second // 60:02d}{second % 60:02d}.00,A,4630.{second % 7:04d},N,"
                "03112.0000,W,0.0,,140626,,,A"
            )
            + "\r\n"
            for second in range(120)
        )
    )
    return path


@pytest.mark.parametrize(
    ("option", "value", "words"),
    [
        ("--rode", "30", "has no unit"),
        ("--depth", "6", "has no unit"),
        ("--bow-height", "1", "has no unit"),
        ("--antenna-aft", "8", "has no unit"),
        ("--drop", "95,10", ""),
        ("--drop", "north", ""),
        ("--drop-at", "half past nine", "is not a time"),
        ("--set-late-at", "2104", "is not a time of day"),
    ],
)
def test_a_value_that_cannot_be_meant_is_refused(
    short_log: Path, option: str, value: str, words: str
) -> None:
    result = run(short_log, option, value)
    assert result.exit_code == 2
    assert words in result.output
    assert value in result.output


def test_a_bare_log_needs_to_be_told_where_the_anchor_is(short_log: Path) -> None:
    result = run(short_log, "--rode", "30m")
    assert result.exit_code == 1
    assert "--drop LAT,LON, --drop-at TIME or --set-late-at TIME" in result.output


def test_only_one_way_of_setting_the_watch_is_taken(short_log: Path) -> None:
    result = run(short_log, "--drop-at", "21:04", "--set-late-at", "21:05")
    assert result.exit_code == 1
    assert "More than one" in result.output


def test_a_recording_refuses_a_rode_it_would_ignore() -> None:
    result = run(NIGHTS / "breakout.log.gz", "--rode", "30m")
    assert result.exit_code == 1
    assert "would be ignored" in result.output


def test_a_time_outside_of_the_log_is_an_error(short_log: Path) -> None:
    result = run(short_log, "--rode", "30m", "--drop-at", "2026-06-14T23:00Z")
    assert result.exit_code == 1
    assert "ends before the time" in result.output


def test_a_file_that_is_no_log_is_an_error(tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear harbour master,\n")
    result = run(path, "--drop", "46.5,-31.2", "--rode", "30m")
    assert result.exit_code == 1


def test_a_drop_point_elsewhere_is_an_error(short_log: Path) -> None:
    """60 miles off is a slip of the pen; the replay must not end as a quiet night."""
    result = run(short_log, "--rode", "30m", "--drop", "47.5,-31.2")
    assert result.exit_code == 1
    assert "never lies within" in result.output


def test_a_refused_command_is_told_and_is_an_error(short_log: Path) -> None:
    """A rode that does not reach the bottom sets no watch; nor is that a quiet night."""
    result = run(short_log, "--rode", "5m", "--depth", "6m", "--drop-at", "21:04:05")
    assert result.exit_code == 1
    assert "does not reach the bottom" in result.output


def test_lengths_come_in_feet_and_fathoms(short_log: Path, tmp_path: Path) -> None:
    texts = []
    for rode in ("27.432m", "90ft", "15fm"):
        out = tmp_path / "events"
        result = run(short_log, "--rode", rode, "--drop-at", "21:04:05", "--events", out)
        assert result.exit_code == 0
        texts.append(out.read_text())
    assert texts[0] == texts[1] == texts[2]
    assert texts[0]


def test_events_to_standard_output_are_nothing_but_events(short_log: Path) -> None:
    result = run(short_log, "--rode", "30m", "--drop-at", "21:04:05", "--events", "-")
    assert [json.loads(line)["v"] for line in result.stdout.splitlines()]
    assert "0 alarms" in result.stderr


def test_times_are_the_receivers(short_log: Path, tmp_path: Path) -> None:
    out = tmp_path / "events"
    run(short_log, "--rode", "30m", "--drop-at", "21:04:05", "--events", out)
    first = json.loads(out.read_text().splitlines()[0])
    assert first["t"].startswith("2026-06-14T21:04:0")
    assert (first["kind"], first["name"], first["state"]) == ("state", "let_go", "let_go")


def test_a_log_without_dates_takes_the_date_given(tmp_path: Path) -> None:
    path = tmp_path / "undated.nmea.gz"
    body = "".join(
        sentence(
            f"GPGGA,21{4 + second // 60:02d}{second % 60:02d}.00,4630.0000,N,03112.0000,W,1,08,0.9,"
            "3.0,M,46.9,M,,"
        )
        + "\n"
        for second in range(120)
    )
    path.write_bytes(gzip.compress(body.encode()))
    out = tmp_path / "events"
    run(path, "--rode", "30m", "--drop", "46.5,-31.2", "--events", out)
    assert json.loads(out.read_text().splitlines()[0])["t"] is None
    run(path, "--rode", "30m", "--drop", "46.5,-31.2", "--events", out, "--date", "2026-06-14")
    assert json.loads(out.read_text().splitlines()[0])["t"].startswith("2026-06-14T21:05")


def test_a_log_cut_off_in_its_gzip_is_replayed_as_far_as_it_goes(tmp_path: Path) -> None:
    whole = (NIGHTS / "slow-drag.log.gz").read_bytes()
    cut = tmp_path / "cut.log.gz"
    cut.write_bytes(whole[: len(whole) // 2])
    result = run(cut)
    assert result.exit_code == 1
    assert "breaks off" in result.output
    assert "Riding" in result.output


def test_pictures_are_written(tmp_path: Path) -> None:
    svg, geojson = tmp_path / "night.svg", tmp_path / "night.geojson"
    result = run(NIGHTS / "breakout.log.gz", "--picture", svg, "--geojson", geojson)
    assert result.exit_code == 10
    root = ET.fromstring(svg.read_text())  # noqa: S314  # we wrote it ourselves
    words = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "drop point" in words
    assert any(word and word.startswith("drag circle, ") for word in words)
    features = json.loads(geojson.read_text())["features"]
    assert [feature["properties"]["name"] for feature in features] == [
        "track",
        "drop point",
        "anchor",
        "drag circle",
    ]
    assert len(features[0]["geometry"]["coordinates"]) > 1000


def test_a_picture_that_cannot_be_written_is_a_clear_error(tmp_path: Path) -> None:
    result = run(NIGHTS / "breakout.log.gz", "--picture", tmp_path / "no" / "night.svg")
    assert result.exit_code == 1
    assert "cannot be written" in result.output


def test_quiet_says_nothing(short_log: Path) -> None:
    result = run(short_log, "--rode", "30m", "--drop-at", "21:04:05", "--quiet")
    assert (result.exit_code, result.output) == (0, "")


def test_several_logs_make_one_night(tmp_path: Path) -> None:
    """A night cut into parts gives the events of the whole."""
    packed = (NIGHTS / "breakout.log.gz").read_bytes()
    lines = gzip.decompress(packed).decode().splitlines(keepends=True)
    header, middle = lines[0], len(lines) // 2
    part_line = next(line for line in lines if " !part " in line)
    first, second = tmp_path / "1.log", tmp_path / "2.log"
    first.write_text("".join(lines[:middle]))
    at = lines[middle].split(" ", 1)[0]
    follower = part_line.replace(part_line.split(" ", 1)[0], at, 1).replace('"part":1', '"part":2')
    second.write_text(header + follower + "".join(lines[middle:]))
    whole, parts = tmp_path / "whole.jsonl", tmp_path / "parts.jsonl"
    run(NIGHTS / "breakout.log.gz", "--events", whole)
    run(first, second, "--events", parts)
    assert parts.read_text() == whole.read_text()
    assert whole.read_text()


def test_a_recording_without_a_watch_says_so(tmp_path: Path) -> None:
    """As `record` makes them: it must not pass for a quiet night."""
    packed = (NIGHTS / "breakout.log.gz").read_bytes()
    lines = gzip.decompress(packed).decode().splitlines(keepends=True)
    recording = tmp_path / "only-lines.log"
    recording.write_text("".join(line for line in lines[:3000] if " !command " not in line))
    result = run(recording)
    assert "no watch was kept" in result.output
    set_late = ("--set-late-at", "23:20:30", "--rode", "40m")
    assert "no watch was kept" not in run(recording, *set_late).output


def test_a_file_without_any_sentence_is_called_no_log(tmp_path: Path) -> None:
    """Whatever else is missing: its options would not help."""
    path = tmp_path / "README.md"
    path.write_text("# A letter\n\n    $ driftlead watch\n")
    result = run(path)
    assert result.exit_code == 1
    assert "README.md is no log" in result.output


def test_its_help_says_time_of_what_is_a_time() -> None:
    assert "_MOMENT" not in run("--help").output
