"""``driftlead tune`` as a person uses it."""

import json
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from driftlead.cli.main import main
from driftlead.tune.marks import MARKS_FILE

SWEEP = "[grid]\nfalse_alarm_nights = [20, 50, 200]\n"


def run(*arguments: str | Path) -> Result:
    """The command as it would be typed."""
    return CliRunner().invoke(main, ["tune", *map(str, arguments)])


@pytest.fixture
def log(one_night: Path) -> Path:
    """The log of the night."""
    return one_night / "breakout.log.gz"


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache that is not the user's."""
    monkeypatch.setenv("DRIFTLEAD_CACHE", str(tmp_path / "cache"))
    return tmp_path / "cache"


def test_a_night_is_marked_and_shown(one_night: Path, log: Path) -> None:
    assert "held, marked" not in run("show", one_night).output
    result = run("mark", log, "held", "--note", "calm")
    assert (result.exit_code, "breakout.log: held" in result.output) == (0, True)
    assert "held, marked (calm)" in run("show", one_night).output
    result = run("mark", log, "dragged", "--at", "01:16")
    assert result.exit_code == 0
    assert "dragged at 01:16:00, marked (calm)" in run("show", one_night).output


def test_several_nights_are_marked_at_once(one_night: Path) -> None:
    for name in ("a.log", "b.log"):
        (one_night / name).write_text("x\n")
    assert run("mark", one_night / "a.log", one_night / "b.log", "held").exit_code == 0
    assert run("show", one_night).output.count("held, marked") == 2


def test_a_bare_log_is_told_of_its_anchor(one_night: Path) -> None:
    path = one_night / "a.nmea"
    path.write_text("x\n")
    result = run(
        *("mark", path, "held", "--rode", "100ft", "--depth", "6.6m", "--bow-height", "1.2m"),
        *("--antenna-aft", "8m", "--drop", "46.5,-31.2", "--date", "2026-06-14"),
    )
    assert result.exit_code == 0, result.output
    text = (one_night / MARKS_FILE).read_text()
    for line in ('rode = "30.48m"', 'drop = "46.5000000,-31.2000000"', 'date = "2026-06-14"'):
        assert line in text


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["dragged"], ["When did the drag begin?", "--at 03:12"]),
        (["dragged", "--at", "soon"], ["is not a time"]),
        (["adrift"], ["held", "dragged"]),
        (["held", "--rode", "30"], ["has no unit"]),
        (["held", "--rode", "30m"], ["Alone it would not be used", "drop_at"]),
        (["held", "--drop-at", "22:04", "--drop", "46.5,-31.2"], ["says drop already"]),
    ],
)
def test_what_cannot_be_meant_is_refused(log: Path, options: list[str], words: list[str]) -> None:
    result = run("mark", log, *options)
    assert result.exit_code == 2
    for word in words:
        assert word in result.output
    assert not (log.parent / MARKS_FILE).exists()


def test_two_nights_cannot_have_dragged_at_one_time(one_night: Path, log: Path) -> None:
    (one_night / "a.log").write_text("x\n")
    result = run("mark", log, one_night / "a.log", "dragged", "--at", "03:12")
    assert result.exit_code == 2
    assert "one by one" in result.output


def test_a_mark_of_a_night_that_is_not_there_is_shown(one_night: Path) -> None:
    (one_night / MARKS_FILE).write_text('["gone.log"]\noutcome = "held"\n')
    assert '["gone.log"] is no night in this folder' in run("show", one_night).output


def test_a_sweep_reports_and_recommends(one_night: Path, cache: Path, tmp_path: Path) -> None:
    """And the second one decodes nothing."""
    settings, page = tmp_path / "sweep.toml", tmp_path / "page.html"
    settings.write_text(SWEEP)
    arguments = ("sweep", one_night, "--settings", settings, "--workers", "1")
    result = run(*arguments, "--html", page, "--accept", "1 in 20")
    assert result.exit_code == 0, result.output
    assert "Recommended for 1 in 20 false alarms a night:" in result.stdout
    assert "dragged 01:16:12" in result.stdout
    assert "Decoding: 1 of 1" in result.stderr
    assert page.read_text().startswith("<!DOCTYPE html>")
    assert len(list(cache.iterdir())) == 1
    again = run(*arguments, "--json")
    assert "Decoding" not in again.stderr
    data = json.loads(again.stdout)
    assert len(data["settings"]) == 3
    assert data["nights"][0]["verdict"] == "found"


def test_a_quiet_sweep_says_nothing_but_its_report(
    one_night: Path, cache: Path, tmp_path: Path
) -> None:
    settings = tmp_path / "sweep.toml"
    settings.write_text(SWEEP)
    result = run("sweep", one_night, "--settings", settings, "--workers", "1", "--quiet")
    assert (result.exit_code, result.stderr) == (0, "")


def test_a_page_without_matplotlib_is_refused_before_the_work(
    one_night: Path, cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    result = run("sweep", one_night, "--html", one_night / "page.html")
    assert result.exit_code == 2
    assert "driftlead[tune]" in result.output
    assert not cache.exists()


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--accept", "often"], "Write 1 in 50"),
        (["--settings", "nowhere.toml"], "does not exist"),
        (["--workers", "0"], "0 is not in the range"),
    ],
)
def test_a_sweep_that_cannot_be_meant_is_refused(
    one_night: Path, cache: Path, options: list[str], words: str
) -> None:
    result = run("sweep", one_night, *options)
    assert result.exit_code == 2
    assert words in result.output


def test_faults_of_the_marks_are_told_all_at_once(one_night: Path, cache: Path) -> None:
    (one_night / MARKS_FILE).write_text('["a"]\noutcome = "x"\n["b"]\noutcome = "dragged"\n')
    result = run("sweep", one_night)
    assert result.exit_code == 2
    assert result.output.count(MARKS_FILE) == 2


def test_an_empty_folder_is_a_clear_error(tmp_path: Path, cache: Path) -> None:
    (tmp_path / "empty").mkdir()
    result = run("sweep", tmp_path / "empty")
    assert result.exit_code == 2
    assert "no recorded night" in result.output


def test_a_page_that_cannot_be_written_is_a_clear_error(
    one_night: Path, cache: Path, tmp_path: Path
) -> None:
    settings = tmp_path / "sweep.toml"
    settings.write_text(SWEEP)
    page = tmp_path / "no" / "page.html"
    result = run("sweep", one_night, "--settings", settings, "--workers", "1", "--html", page)
    assert result.exit_code == 2
    assert "cannot be written" in result.output
    assert "Recommended" in result.output


def test_a_time_outside_of_the_night_is_refused_when_it_is_said(log: Path) -> None:
    """Not only by a sweep."""
    result = run("mark", log, "dragged", "--at", "12:00")
    assert result.exit_code == 2
    assert "is not within that night, 2026-06-18" in " ".join(result.output.split())
    assert not (log.parent / MARKS_FILE).exists()


def test_a_night_that_held_has_no_time_of_a_drag(log: Path) -> None:
    result = run("mark", log, "held", "--at", "01:16")
    assert result.exit_code == 2
    assert "a night that held has none" in result.output
    assert "_MOMENT" not in run("mark", "--help").output
