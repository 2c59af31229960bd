"""``driftlead room``, and the worked evening of the docs."""

import json
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from driftlead.cli.main import main
from driftlead.cli.room import EXIT_NO_ROOM, parse_winds
from driftlead.errors import UserInputError

ROOT = Path(__file__).resolve().parents[2]
DOCS = ROOT / "docs"
OWN = ("--drop", "46.5012,-31.2034", "--rode", "38m", "--depth", "6.4m")
AROUND = ("--around", str(DOCS / "pellow-sound.toml"))
TIDE = ("--tide", str(DOCS / "pellow-sound-tides.csv"), "--date", "2026-06-14", "--at", "20:00")


def run(*arguments: str, config: str | None = "systemd/driftlead.example.toml") -> Result:
    """The command as a person would run it."""
    given = () if config is None else ("--config", str(ROOT / config))
    return CliRunner().invoke(main, ["room", *given, *arguments])


def test_the_evening_of_the_docs_is_what_the_command_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its words and its picture, made anew with the very command that is printed there."""
    page = (DOCS / "swinging-room.md").read_text(encoding="utf-8")
    printed = re.search(r"^    driftlead (room (?:.*\\\n)*.*)$", page, re.MULTILINE)
    assert printed is not None
    arguments = shlex.split(printed[1].replace("\\\n", " "))
    picture = tmp_path / "room.svg"
    arguments[arguments.index("--picture") + 1] = str(picture)
    monkeypatch.chdir(ROOT)
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == EXIT_NO_ROOM
    assert f"```text\n{result.stdout}```" in page
    drawn = picture.read_text(encoding="utf-8")
    assert drawn == (DOCS / "swinging-room.svg").read_text(encoding="utf-8")


def test_moved_as_advised_she_fits(tmp_path: Path) -> None:
    """The place the GeoJSON gives, given back as the drop point."""
    written = tmp_path / "room.geojson"
    first = run(*OWN, *AROUND, *TIDE, "--for", "11h", "--geojson", str(written))
    assert first.exit_code == EXIT_NO_ROOM
    features = json.loads(written.read_text())["features"]
    (advice,) = [each for each in features if each["properties"]["layer"] == "advice"]
    lon, lat = advice["geometry"]["coordinates"]
    # Bearings and distances of the file count from the drop point, so its features are given.
    around = tmp_path / "around.geojson"
    others = [each for each in features if each["properties"].pop("layer") == "around"]
    around.write_text(json.dumps({"type": "FeatureCollection", "features": others}))
    moved = ("--drop", f"{lat},{lon}", "--rode", "38m", "--depth", "6.4m")
    second = run(*moved, "--around", str(around), *TIDE, "--for", "11h", "--margin", "9.9m")
    assert second.exit_code == 0, second.output
    assert "She fits: everything stays clear by 10 m or more." in second.stdout


def test_winds_that_cannot_come_are_left_out() -> None:
    """In easterly winds she lies clear of the pier."""
    result = run(*OWN, *AROUND, "--wind", "NE-SE", "--json")
    data = json.loads(result.stdout)
    assert result.exit_code == 0
    assert data["fits"] is True
    assert {each["wind_from_deg"] for each in data["sectors"]} == {
        45.0,
        67.5,
        90.0,
        112.5,
        135.0,
    }


def test_without_a_configuration_the_length_must_be_given(tmp_path: Path) -> None:
    """Ashore there is none; all else has a usual value."""
    short = run(*OWN, config=None)
    assert short.exit_code == 2
    assert "Give --length 9.6m" in short.stderr
    whole = run(*OWN, "--length", "9.6m", "--name", "Corvid", config=None)
    assert whole.exit_code == 0
    assert "Nothing is marked round her" in whole.stdout


def test_feet_and_fathoms_are_taken_and_given() -> None:
    """38 m are 125 ft."""
    feet = ("--drop", "46.5012,-31.2034", "--rode", "125ft", "--depth", "3.5fm")
    result = run(*feet, *AROUND, "--units", "feet")
    assert "Corvid swings 154 ft about her anchor" in result.stdout


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--rode", "38"), "38 has no unit"),
        (("--wind", "south"), "is no wind"),
        (("--wind", "400"), "is no wind"),
        (("--wind", "1-2-3"), "is no wind"),
        (("--zone", "Mars"), "is not a time zone"),
        (("--rode", "6m"), "6.0 m of rode do not take Corvid to her anchor"),
        (("--around", "no-such-file.toml"), "does not exist"),
        (("--picture", "/no/such/folder/room.svg"), "cannot be written"),
        ((*TIDE[:-1], "04:00"), "does not cover"),
        ((*TIDE, "--for", "90h"), "three days"),
    ],
)
def test_what_cannot_be_is_told_with_its_remedy(arguments: tuple[str, ...], words: str) -> None:
    """Exit code 2, nothing on the standard output."""
    result = run(*OWN, *arguments)
    assert result.exit_code == 2
    assert words in " ".join(result.stderr.split())


def test_a_faulty_file_is_told_with_file_and_key(tmp_path: Path) -> None:
    """As it stands in the file."""
    path = tmp_path / "around.toml"
    path.write_text('[[boat]]\nkind = "chain"\nname = "Petrel"\nbearing_deg = 10\n')
    result = run(*OWN, "--around", str(path))
    assert result.exit_code == 2
    assert f"{path}, [[boat]] 1 (Petrel): distance is missing." in result.stderr
    assert 'Add distance = "30m".' in result.stderr


@pytest.mark.parametrize(
    ("text", "bearings"),
    [
        ("SW", (225.0, 225.0)),
        ("sw-nw", (225.0, 315.0)),
        ("350-10", (350.0, 10.0)),
        (" 22.5 ", (22.5, 22.5)),
    ],
)
def test_winds_are_points_or_degrees(text: str, bearings: tuple[float, float]) -> None:
    """From one clockwise to the other."""
    assert parse_winds(text) == bearings


def test_a_wind_that_is_none_has_a_remedy() -> None:
    """It shows how to write one."""
    with pytest.raises(UserInputError) as refused:
        parse_winds("")
    assert "SW-NW" in refused.value.remedy
