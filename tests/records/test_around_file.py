"""The file of neighbours and dangers on the disk."""

import json
from pathlib import Path

import pytest

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.records.around_file import load_around

PLANE = LocalPlane(Position(46.5012, -31.2034))
TOML = '[[boat]]\nkind = "chain"\nname = "Petrel"\nat = "46.5021,-31.2034"\nrode = "35m"\n'


def test_toml_and_geojson_say_the_same(tmp_path: Path) -> None:
    """The ending of the name decides; a byte order mark does no harm."""
    by_hand = tmp_path / "around.TOML"
    by_hand.write_text("\ufeff" + TOML, encoding="utf-8")
    said = {"kind": "chain", "name": "Petrel", "rode_m": 35}
    place = {"type": "Point", "coordinates": [-31.2034, 46.5021]}
    feature = {"type": "Feature", "properties": said, "geometry": place}
    written = tmp_path / "around.geojson"
    written.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    assert load_around(by_hand, PLANE) == load_around(written, PLANE)


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("a.toml", b"[[boat]]\nname = Petrel\n", r"a\.toml: this is not TOML"),
        ("a.toml", b"x = " + b"[" * 5000, r"a\.toml: this is not TOML"),
        ("a.geojson", b"{", r"a\.geojson: this is not JSON"),
        ("a.geojson", b'{"a": NaN}', "NaN is not a number"),
        ("a.geojson", b"[" * 100_000, r"a\.geojson: this is not JSON"),
        ("a.geojson", b"\xff\xfe", "byte 1 is not UTF-8"),
    ],
)
def test_a_file_that_is_neither_is_named(
    tmp_path: Path, name: str, content: bytes, words: str
) -> None:
    """With what to give instead."""
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(UserInputError, match=words) as refused:
        load_around(path, PLANE)
    assert refused.value.remedy


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    """As any other fault."""
    with pytest.raises(UserInputError, match=r"none\.toml cannot be read"):
        load_around(tmp_path / "none.toml", PLANE)
