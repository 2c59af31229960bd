"""The verb that makes nights."""

import gzip
import json
from pathlib import Path

import pynmea2
import pytest
from click.testing import CliRunner, Result

from driftlead.cli.main import main
from driftlead.cli.simulate import MODES
from driftlead.lines import StampedLine
from driftlead.recording.format import RecordedInput, is_recording, parse_recorded
from driftlead.simulate.anchor import DragMode

SHORT = ("--hours", "1", "--rate", "0.2")


def run(*arguments: str | Path) -> Result:
    """The command as a person would run it."""
    return CliRunner().invoke(main, ["simulate", *map(str, arguments)])


def inputs_of(path: Path) -> list[RecordedInput]:
    """Commands and such of a recording, every line of which must be one."""
    lines = gzip.decompress(path.read_bytes()).decode("ascii").splitlines()
    assert is_recording(lines[0])
    read = [parse_recorded(line) for line in lines]
    assert sum(isinstance(line, StampedLine) for line in read) > 1000
    return [line for line in read if isinstance(line, RecordedInput)]


def test_the_help_says_that_it_is_synthetic_and_knows_every_mode() -> None:
    shown = run("--help")
    assert "synthetic: no boat, place or receiver in it is real" in " ".join(shown.output.split())
    assert set(DragMode) == set(MODES)


def test_a_night_is_a_recording_with_the_skippers_commands_and_its_truth(tmp_path: Path) -> None:
    """Let go and veer; the truth as JSON agrees with them."""
    out, truth_path = tmp_path / "night.log.gz", tmp_path / "truth.json"
    result = run("--seed", "7", "--mode", "breakout", *SHORT, "-o", out, "--truth", truth_path)
    assert result.exit_code == 0, result.output
    assert "synthetic" in result.output
    part, let_go, veer = inputs_of(out)
    assert part.kind == "part"
    (truth,) = json.loads(truth_path.read_text()).values()
    assert truth["synthetic"] is True
    assert (truth["seed"], truth["mode"], truth["held"]) == (7, "breakout", False)
    assert veer.data["rode_m"] == truth["rode_said_m"] <= truth["rode_m"]
    assert let_go.mono_s < truth["drag"]["begins_s"] < truth["drag"]["ends_s"] <= 3600.0
    assert truth["drag"]["distance_m"] > 20.0


def test_replay_takes_it_and_finds_the_breakout(tmp_path: Path) -> None:
    """Exit status 10: an alarm was raised."""
    out = tmp_path / "night.log.gz"
    assert run("--seed", "12", "--mode", "breakout", "--hours", "2", "-o", out).exit_code == 0
    shown = CliRunner().invoke(main, ["replay", str(out)])
    assert shown.exit_code == 10, shown.output
    assert "ALARM drag" in shown.output


def test_the_same_options_give_the_same_bytes_and_another_seed_others(tmp_path: Path) -> None:
    made = []
    for name, seed in (("a", "3"), ("b", "3"), ("c", "4")):
        path = tmp_path / f"{name}.log.gz"
        assert run("--seed", seed, *SHORT, "-o", path).exit_code == 0
        made.append(path.read_bytes())
    assert made[0] == made[1] != made[2]


def test_bare_nmea_is_valid_and_the_way_to_replay_it_is_told(tmp_path: Path) -> None:
    """Every line by an independent library, checksum and all; plain text without ``.gz``."""
    out = tmp_path / "night.nmea"
    result = run(*SHORT, "--nmea", "--place", "46.5,-31.2", "-o", out)
    assert result.exit_code == 0, result.output
    lines = out.read_bytes().decode("ascii").splitlines()
    sentences = [pynmea2.parse(line, check=True) for line in lines]
    first = next(s for s in sentences if s.sentence_type == "RMC" and s.status == "A")
    assert first.latitude == pytest.approx(46.5, abs=0.01)
    assert first.longitude == pytest.approx(-31.2, abs=0.01)
    assert "driftlead replay" in result.output
    assert "--drop=46.500000,-31.200000" in result.output


def test_set_late_there_is_one_command_and_it_comes_late(tmp_path: Path) -> None:
    out = tmp_path / "late.log.gz"
    assert run(*SHORT, "--hours", "2", "--late", "-o", out).exit_code == 0
    _, let_go = inputs_of(out)
    assert let_go.data["late"] is True
    assert let_go.mono_s > 20 * 60


def test_many_nights_go_into_a_folder_with_one_truth(tmp_path: Path) -> None:
    """Named for their seeds; the folder is made."""
    folder = tmp_path / "nights"
    result = run(
        "--seed", "20", "--count", "3", *SHORT, "-o", folder, "--truth", folder / "truth.json"
    )
    assert result.exit_code == 0, result.output
    names = [f"drawn-{seed}-holds" for seed in (20, 21, 22)]
    assert sorted(path.name for path in folder.iterdir()) == [
        *(f"{name}.log.gz" for name in names),
        "truth.json",
    ]
    assert list(json.loads((folder / "truth.json").read_text())) == names


def test_what_is_there_is_not_written_over_unless_told_to(tmp_path: Path) -> None:
    """Neither the night nor the truth; nothing is written if one of them is there."""
    out, truth_path = tmp_path / "night.log", tmp_path / "truth.json"
    truth_path.write_text("mine")
    result = run(*SHORT, "-o", out, "--truth", truth_path)
    assert result.exit_code == 2
    assert "truth.json is there already." in result.stderr
    assert "--force" in result.stderr
    assert not out.exists()
    assert run(*SHORT, "-o", out, "--truth", truth_path, "--force").exit_code == 0
    assert json.loads(truth_path.read_text())
    assert out.read_text("ascii").startswith("# driftlead recording")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--holds", "--mode", "creep"], "--mode says how the anchor drags"),
        (["--mode", "sideways"], "sideways"),
        (["--hours", "0.5"], "1.0<=x<=48.0"),
        (["--rate", "3"], "0.2"),
        (["--count", "0"], "1<=x<=10000"),
        (["--place", "46,31"], "decimal"),
        (["--place", "95.5,31.5"], "95.5"),
    ],
)
def test_what_cannot_be_meant_is_refused(arguments: list[str], words: str) -> None:
    """With exit code 2, before anything is made."""
    result = run(*arguments)
    assert result.exit_code == 2
    assert words in result.stderr


def test_a_place_that_cannot_be_written_to_is_told(tmp_path: Path) -> None:
    """A file where a folder would have to be."""
    (tmp_path / "file").write_text("")
    result = run(*SHORT, "-o", tmp_path / "file" / "night.log")
    assert result.exit_code == 2
    assert "cannot be written" in result.stderr


def test_a_folder_that_has_to_be_made_is_told(tmp_path: Path) -> None:
    """It may be a slip of the pen."""
    out = tmp_path / "nigths" / "night.log.gz"
    assert f"{out.parent} was not there: the folder is made." in run(*SHORT, "-o", out).output
    assert "was not there" not in run(*SHORT, "-o", out, "--force").output


def test_the_help_names_the_file_that_is_written_by_default() -> None:
    assert "drawn-1-holds.log.gz" in " ".join(run("--help").output.split())
