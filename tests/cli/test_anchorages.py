"""``driftlead anchorages``."""

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from driftlead.cli.main import main
from driftlead.journal.journal import Journal
from driftlead.records.store import Records

NIGHTS = Path(__file__).resolve().parents[2] / "replay_logs"


def event(kind: str, name: str, state: str, t: str, **more: Any) -> str:
    """One event as the journal has it."""
    anchor = {"lat": 46.5012, "lon": -31.2034, "sigma_m": 2.5, "method": "marked"}
    said = {"v": 1, "t": t, "kind": kind, "name": name, "state": state, "anchor": anchor}
    return json.dumps(said | more)


@pytest.fixture
def config(tmp_path: Path) -> Path:
    """A configuration whose journal holds one night with a drag."""
    path = tmp_path / "driftlead.toml"
    path.write_text('[journal]\npath = "var/journal.db"\n')
    journal = Journal.open(tmp_path / "var" / "journal.db")
    journal.save(
        "{}",
        [
            event("state", "let_go", "let_go", "2026-06-14T22:04:00.000Z"),
            event(
                "state",
                "drag_found",
                "dragging",
                "2026-06-15T03:20:00.000Z",
                moved_m=13.0,
                bearing_deg=51.0,
            ),
            event("state", "weigh", "aweigh", "2026-06-15T03:58:00.000Z"),
        ],
    )
    journal.close()
    return path


def run(config: Path, *arguments: str | Path) -> Result:
    """The command as a person would run it."""
    given = [str(argument) for argument in arguments]
    return CliRunner().invoke(main, ["anchorages", "--config", str(config), *given])


def test_the_nights_of_the_journal_are_listed(config: Path, tmp_path: Path) -> None:
    """The records lie beside the journal."""
    result = run(config)
    assert result.exit_code == 0
    assert "  1  2026-06-14 22:04 to 2026-06-15 03:58 UTC  46°30.072'N 031°12.204'W" in (
        result.stdout
    )
    assert "DRAGGED 13 m towards 051° (NE)" in result.stdout
    assert (tmp_path / "var" / "records.db").is_file()


def test_where_she_dragged_before_a_warning_comes_first(config: Path) -> None:
    """Within a swinging circle; and what is far off is not listed."""
    near = run(config, "--near", "46.5013,-31.2034")
    assert near.stdout.startswith("WARNING: She dragged here before: anchoring 1, ")
    assert "2026-06-15 03:20 UTC, 13 m towards" in near.stdout
    beside = run(config, "--near", "46.5023,-31.2034")
    assert "WARNING" not in beside.stdout
    assert "  1  2026-06-14" in beside.stdout
    far = run(config, "--near", "47.5012,-31.2034")
    assert far.stdout == "No anchoring is remembered near there.\n"


def test_a_place_is_called_by_name(config: Path) -> None:
    """By its number."""
    run(config, "--night", "1", "--call", "Pellow Sound")
    assert "Pellow Sound" in run(config).stdout
    assert json.loads(run(config, "--json").stdout)[0]["place"] == "Pellow Sound"


def test_a_recorded_night_is_read_and_exported(config: Path, tmp_path: Path) -> None:
    """Report, GPX and GeoJSON of the one that is chosen."""
    files = [tmp_path / name for name in ("night.html", "night.gpx", "night.geojson")]
    read = run(config, "--read", NIGHTS / "breakout.log.gz")
    assert read.exit_code == 0, read.output
    assert "  2  2026-06-18 23:19" in read.stdout
    result = run(
        config, "--night", "2", "--report", files[0], "--gpx", files[1], "--geojson", files[2]
    )
    assert result.exit_code == 0, result.output
    assert "Anchoring 2, 2026-06-18 23:19 UTC" in files[0].read_text(encoding="utf-8")
    assert "<trkpt" in files[1].read_text(encoding="utf-8")
    assert len(json.loads(files[2].read_text())["features"]) == 2


def test_the_report_is_of_the_last_night_unless_one_is_chosen(config: Path, tmp_path: Path) -> None:
    """And there must be one."""
    page = tmp_path / "night.html"
    assert run(config, "--report", page).exit_code == 0
    assert "Anchoring 1, 2026-06-14 22:04 UTC" in page.read_text(encoding="utf-8")
    none = run(config, "--near", "47.5,-31.2", "--report", page)
    assert none.exit_code == 2
    assert "no night to report on" in none.stderr


def test_a_journal_that_cannot_be_read_hides_nothing_remembered(
    config: Path, tmp_path: Path
) -> None:
    """What is in the records is listed, and the fault is told."""
    run(config)
    journal = tmp_path / "var" / "journal.db"
    journal.write_bytes(b"nothing of the kind" * 100)
    result = run(config)
    assert result.exit_code == 0
    assert "  1  2026-06-14" in result.stdout
    assert "Note: The journal" in result.stderr


def test_records_may_lie_elsewhere(config: Path, tmp_path: Path) -> None:
    """Where the daemon's folder may not be written to."""
    path = tmp_path / "own.db"
    assert run(config, "--records", path).exit_code == 0
    with Records.open(path) as records:
        assert len(records.all()) == 1


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--call", "x"), "Say which with --night"),
        (("--night", "9"), "no anchoring number 9"),
        (("--near", "46,31"), "decimal"),
        (("--within", "5"), "5 has no unit"),
        (("--gpx", "/no/such/folder/x.gpx"), "cannot be written"),
    ],
)
def test_what_cannot_be_is_told_with_its_remedy(
    config: Path, arguments: tuple[str, ...], words: str
) -> None:
    """Exit code 2."""
    result = run(config, *arguments)
    assert result.exit_code == 2
    assert words in " ".join(result.stderr.split())


def test_a_log_without_an_anchor_is_told(config: Path) -> None:
    """A bare one does not say where it was let go."""
    result = run(config, "--read", NIGHTS / "quiet-night.nmea.gz")
    assert result.exit_code == 2
    assert "where the anchor was let go" in result.stderr


def test_with_nothing_remembered_it_says_so(tmp_path: Path) -> None:
    """No journal yet."""
    config = tmp_path / "driftlead.toml"
    config.write_text('[journal]\npath = "journal.db"\n')
    assert run(config).stdout == "No anchoring is remembered yet.\n"


def test_it_is_printed_in_the_units_of_the_configuration_unless_others_are_asked_for(
    config: Path,
) -> None:
    """13 m are 43 ft, or 7 fathoms to the half."""
    config.write_text(config.read_text() + '[plan]\nunits = "feet"\nwind_units = "m/s"\n')
    assert "DRAGGED 43 ft" in run(config).stdout
    assert "DRAGGED 7.1 fm" in run(config, "--units", "fathoms").stdout
    config.write_text('[journal]\npath = "var/journal.db"\n[plan]\nunits = "cubits"\n')
    assert "DRAGGED 13 m" in run(config).stdout


def test_winds_are_in_metres_a_second_where_that_is_asked_for(config: Path) -> None:
    night = NIGHTS / "slow-drag.log.gz"
    read = run(config, "--read", night, "--wind-units", "m/s").stdout
    assert " m/s" in read
    assert " kn" not in read
