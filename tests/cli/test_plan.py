"""``driftlead plan``."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from driftlead.cli import common, stay
from driftlead.cli.main import main
from driftlead.cli.plan import plan

TIDES = """time,height
2026-06-14 12:40,1.0m
2026-06-14 18:50,3.9m
2026-06-15 01:05,1.1m
2026-06-15 07:20,3.8m
2026-06-15 13:35,1.0m
"""
BOAT = ["--length", "9.6m", "--bow-height", "1.1m", "--chain", "45m", "--chain-size", "8mm"]
EVENING = ["--date", "2026-06-14", "--at", "20:00"]


@pytest.fixture(autouse=True)
def _no_configuration(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The machine of the test may have one of its own."""
    monkeypatch.delenv("DRIFTLEAD_CONFIG", raising=False)
    absent = tmp_path / "none.toml"
    for module in (common, stay):
        monkeypatch.setattr(module, "DEFAULT_CONFIG", absent)
    (option,) = (each for each in plan.params if each.name == "config_path")
    monkeypatch.setattr(option, "default", absent)


@pytest.fixture
def tides(tmp_path: Path) -> str:
    """A tide table for the night."""
    path = tmp_path / "tides.csv"
    path.write_text(TIDES)
    return str(path)


def run(*arguments: str) -> Result:
    """Run the verb."""
    return CliRunner().invoke(main, ["plan", *arguments])


def data(*arguments: str) -> dict[str, object]:
    """Run it for JSON."""
    shown = run(*arguments, "--json")
    assert shown.exit_code == 0, shown.output
    found: dict[str, object] = json.loads(shown.stdout)
    return found


def test_without_a_configuration_options_are_enough(tides: str) -> None:
    """Ashore, say."""
    shown = run("--depth", "6m", "--tide", tides, "--wind", "20kn", *BOAT, *EVENING)
    assert shown.exit_code == 0, shown.output
    assert "Veer 37 m, all of it chain, of the 45 m aboard." in shown.stdout
    assert "Reminders; local rules come first:" in shown.stdout


def test_without_anything_it_asks_for_what_is_missing() -> None:
    shown = run("--depth", "6m", "--wind", "20kn")
    assert shown.exit_code == 2
    assert "her length" in shown.stderr
    assert "--bow-height 1.1m" in shown.stderr


def test_measures_come_from_the_configuration_and_options_come_first(tmp_path: Path) -> None:
    config = tmp_path / "driftlead.toml"
    config.write_text(
        '[boat]\nname = "Corvid"\nlength = "9.6m"\nbow_height = "1.1m"\ndraught = "1.7m"\n'
        '[tackle]\nchain = "45m"\nchain_size = "8mm"\n[plan]\nunits = "feet"\nzone = "-02:00"\n'
    )
    usual = ("--config", str(config), "--depth", "6m", "--wind", "20kn", *EVENING)
    shown = run(*usual)
    assert shown.stdout.startswith("Corvid: 14 June 20:00 to 15 June 08:00 UTC-02:00")
    assert "Veer 117 ft" in shown.stdout
    assert data(*usual)["aboard_m"] == 45.0
    assert data(*usual, "--chain", "60m", "--rope", "10m")["aboard_m"] == 70.0
    assert "kN" in run(*usual, "--units", "metric").stdout
    assert str(data(*usual, "--zone", "UTC")["begins"]).endswith("T20:00:00+00:00")


def test_a_configuration_that_was_asked_for_must_be_there(tmp_path: Path) -> None:
    shown = run("--config", str(tmp_path / "gone.toml"), "--depth", "6m", "--wind", "9kn", *BOAT)
    assert shown.exit_code == 2
    assert "There is no such file" in shown.stderr


def test_tide_tables_are_read_as_csv_or_toml(tides: str, tmp_path: Path) -> None:
    toml = tmp_path / "tides.toml"
    rows = [line.split(",") for line in TIDES.splitlines()[1:]]
    toml.write_text(
        f"times = {json.dumps([row[0] for row in rows])}\n"
        f"heights = {json.dumps([row[1] for row in rows])}\n"
    )
    usual = ("--charted", "2m", "--wind", "20kn", *BOAT, *EVENING)
    assert data(*usual, "--tide", str(toml)) == data(*usual, "--tide", tides)
    by_twelfths = data(*usual, "--tide", tides, "--curve", "twelfths")
    assert by_twelfths["hours"] != data(*usual, "--tide", tides)["hours"]
    assert by_twelfths["most_water"] == data(*usual, "--tide", tides)["most_water"]


def test_a_charted_height_may_dry(tides: str) -> None:
    usual = ("--tide", tides, "--wind", "9kn", *BOAT, *EVENING, "--draught", "1m")
    assert "TOUCH" in run(*usual, "--charted", "-1.2m").stdout


def test_today_and_now_are_the_defaults() -> None:
    assert data("--depth", "6m", "--wind", "9kn", *BOAT)["begins"]


def test_darkness_is_told_with_a_position() -> None:
    usual = ("--depth", "6m", "--wind", "9kn", *BOAT, *EVENING, "--zone", "-02:00")
    assert data(*usual)["dark"] is None
    shown = data(*usual, "--position", "46.5,-31.2")["dark"]
    assert isinstance(shown, list)
    assert [list(spell) for spell in shown] == [["sunset", "sunrise"]]
    assert "Sunset 14 June" in run(*usual, "--position", "46.5,-31.2").stdout


def test_the_picture_is_written_or_it_is_told_why_not(tmp_path: Path) -> None:
    usual = ("--depth", "6m", "--wind", "9kn", *BOAT, *EVENING)
    picture = tmp_path / "rode.svg"
    assert run(*usual, "--picture", str(picture)).exit_code == 0
    assert picture.read_text().startswith("<svg ")
    shown = run(*usual, "--picture", str(tmp_path / "no" / "rode.svg"))
    assert shown.exit_code == 2
    assert "cannot be written" in shown.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["--depth", "6", "--wind", "9kn"], "6 has no unit. Write 30m, 100ft or 5fm."),
        (["--depth", "6m", "--wind", "9"], "9 has no unit. Write 15kn or 8m/s."),
        (["--depth", "6m"], "Missing option '--wind'"),
        (["--charted", "-6", "--wind", "9kn"], "6 has no unit"),
        (["--depth", "6m", "--wind", "9kn", "--zone", "CET"], "is not a time zone"),
        (["--depth", "6m", "--wind", "9kn", "--bottom", "jelly"], "Invalid value"),
        (["--wind", "9kn"], "The depth is not known"),
        (["--depth", "60m", "--wind", "9kn"], "do not reach the bottom, 61.1 m below"),
        (["--depth", "6m", "--wind", "9kn", "--gusts", "5kn"], "Gusts cannot be weaker"),
        (["--depth", "6m", "--wind", "9kn", "--tide", "/nowhere.csv"], "does not exist"),
    ],
)
def test_what_is_typed_wrongly_is_told_with_its_remedy(arguments: list[str], words: str) -> None:
    """With exit code 2, and nothing on the standard output."""
    shown = run(*arguments, *BOAT, *EVENING)
    assert shown.exit_code == 2
    assert words in " ".join(shown.stderr.split())
    assert shown.stdout == ""


def test_a_tide_table_out_of_order_is_told_with_its_line(tmp_path: Path) -> None:
    path = tmp_path / "tides.csv"
    path.write_text("2026-06-14 18:50,3.9m\n2026-06-14 12:40,1.0m\n")
    shown = run("--depth", "6m", "--wind", "9kn", "--tide", str(path), *BOAT, *EVENING)
    assert shown.exit_code == 2
    assert f"{path}, line 2: 2026-06-14 12:40 does not come after" in shown.stderr
    path.write_bytes(b"\xff\xfe\x00")
    shown = run("--depth", "6m", "--wind", "9kn", "--tide", str(path), *BOAT, *EVENING)
    assert "cannot be read as text" in shown.stderr


def with_tide(tmp_path: Path, tides: str) -> str:
    """A configuration that names a tide table."""
    path = tmp_path / "driftlead.toml"
    path.write_text(f'[plan]\ntide = "{Path(tides).name}"\n')
    return str(path)


def test_the_tide_table_of_the_configuration_is_used(tides: str, tmp_path: Path) -> None:
    """As if it were given; one that is given comes first."""
    asked = ("--depth", "6m", "--wind", "20kn", *BOAT, *EVENING)
    config = ("--config", with_tide(tmp_path, tides))
    assert data(*asked, *config) == data(*asked, "--tide", tides)
    other = tmp_path / "other.csv"
    other.write_text(TIDES.replace("3.9m", "4.9m"))
    assert data(*asked, *config, "--tide", str(other)) == data(*asked, "--tide", str(other))


def test_its_times_are_of_its_own_zone(tides: str, tmp_path: Path) -> None:
    asked = ("--depth", "6m", "--wind", "20kn", *BOAT)
    config = ("--config", with_tide(tmp_path, tides))
    here = data(*asked, *config, *EVENING)
    east = data(*asked, *config, "--date", "2026-06-14", "--at", "22:00", "--zone", "+02:00")
    assert here["rode_m"] == east["rode_m"]


def test_a_configured_table_that_does_not_reach_so_far_is_told(tides: str, tmp_path: Path) -> None:
    shown = run(
        *("--depth", "6m", "--wind", "20kn", *BOAT, "--date", "2026-08-01"),
        *("--config", with_tide(tmp_path, tides)),
    )
    assert shown.exit_code == 0, shown.output
    assert "does not cover the stay" in shown.stderr
    assert "No tide table" in shown.stdout


def test_its_help_names_what_a_value_is() -> None:
    shown = run("--help").stdout
    assert "_HEIGHT" not in shown
    assert "_SPEED" not in shown
