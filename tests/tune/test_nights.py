"""Which nights a folder holds."""

import gzip
import json
from pathlib import Path

import pytest

from driftlead.errors import UserInputError
from driftlead.recording.format import HEADER
from driftlead.tune.nights import list_nights, night_of, stem


def part(folder: Path, number: int, *, state: str | None, packed: bool = True) -> Path:
    """One part of a recording whose watch is in this state as it begins."""
    snapshot = None if state is None else {"state": state}
    head = json.dumps({"run": 1, "part": number, "settings": {}, "snapshot": snapshot})
    text = f"{HEADER}\n12.000000 !part {head}\n".encode()
    path = folder / (f"night-{number:06d}.log" + (".gz" if packed else ""))
    path.write_bytes(gzip.compress(text) if packed else text)
    return path


def names(folder: Path) -> list[str]:
    """The nights' names."""
    return [night.name for night in list_nights(folder)]


def test_every_log_is_a_night_and_nothing_else_is(tmp_path: Path) -> None:
    for name in ("b.nmea.gz", "a.log", "c.txt", "truth.json", "marks.toml", ".hidden.log", "x.tmp"):
        (tmp_path / name).write_bytes(b"")
    (tmp_path / "folder.log").mkdir()
    assert names(tmp_path) == ["a.log", "b.nmea", "c.txt"]


def test_a_log_keeps_its_name_when_it_is_packed(tmp_path: Path) -> None:
    """Marks must still find it."""
    (tmp_path / "a.log.gz").write_bytes(b"")
    assert names(tmp_path) == ["a.log"]
    (tmp_path / "a.log").write_bytes(b"")
    (night,) = list_nights(tmp_path)
    assert (night.name, night.paths) == ("a.log", (tmp_path / "a.log",))


def test_parts_belong_together_while_the_anchor_stays_down(tmp_path: Path) -> None:
    """Let go in part 2, still riding at the heads of 3 and 4, weighed in 4; again in 6."""
    states = [None, "stowed", "brought_up", "riding", "aweigh", "stowed", "dragging"]
    for number, state in enumerate(states, start=1):
        part(tmp_path, number, state=state, packed=number != 7)
    nights = {
        night.name: [int(path.name[6:12]) for path in night.paths]
        for night in list_nights(tmp_path)
    }
    assert nights == {
        "night-000001": [1],
        "night-000002": [2, 3, 4],
        "night-000005": [5],
        "night-000006": [6, 7],
    }


def test_a_part_with_two_files_is_taken_once(tmp_path: Path) -> None:
    """As a crash in the middle of packing leaves it; the packed one was whole first."""
    part(tmp_path, 1, state=None)
    part(tmp_path, 1, state=None, packed=False)
    (tmp_path / "night-000001.log.gz.tmp").write_bytes(b"x")
    (tmp_path / "night-000002.log.gz.tmp").write_bytes(b"x")
    (night,) = list_nights(tmp_path)
    assert night.paths == (tmp_path / "night-000001.log.gz",)


@pytest.mark.parametrize("content", [b"", b"\x1f\x8b\x08rubbish", b"no recording\n"])
def test_a_damaged_part_begins_a_night_of_its_own(tmp_path: Path, content: bytes) -> None:
    part(tmp_path, 1, state=None)
    (tmp_path / "night-000002.log.gz").write_bytes(content)
    assert names(tmp_path) == ["night-000001", "night-000002"]


def test_a_part_with_a_state_nobody_knows_begins_a_night(tmp_path: Path) -> None:
    part(tmp_path, 1, state=None)
    part(tmp_path, 2, state="flying")
    assert names(tmp_path) == ["night-000001", "night-000002"]


def test_the_night_of_any_part_is_found(tmp_path: Path) -> None:
    part(tmp_path, 1, state=None)
    second = part(tmp_path, 2, state="riding")
    assert night_of(second).name == "night-000001"


def test_an_empty_folder_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(UserInputError, match="no recorded night") as caught:
        list_nights(tmp_path)
    assert ".nmea" in caught.value.remedy


def test_a_folder_that_is_not_there_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(UserInputError, match="cannot be read"):
        list_nights(tmp_path / "nowhere")


def test_what_is_no_log_has_no_night(tmp_path: Path) -> None:
    (tmp_path / "a.log").write_bytes(b"")
    (tmp_path / "letter.doc").write_bytes(b"")
    with pytest.raises(UserInputError, match="not taken for the log"):
        night_of(tmp_path / "letter.doc")
    with pytest.raises(UserInputError, match="There is no file"):
        night_of(tmp_path / "b.log")


def test_the_stem_is_the_name_without_its_kind() -> None:
    assert [stem(name) for name in ("a.log", "a.b.nmea", "night-000001")] == [
        "a",
        "a.b",
        "night-000001",
    ]
