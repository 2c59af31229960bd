"""What a killed program had decided and not yet on the disk."""

import json
import logging
from pathlib import Path

import pytest

from driftlead.daemon.unsaved_file import UnsavedFile

FIRST, SECOND, THIRD = ("one", ("a",)), ("two", ()), ("three", ("b", "c"))


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the place of the file."""
    return tmp_path / "unsaved.json"


def killed(path: Path, *, confirmed: int) -> UnsavedFile:
    """Three saves after the snapshot "none", of which so many were confirmed; a new run's file."""
    file = UnsavedFile(path)
    file.begin("none")
    tickets = [file.note(*save) for save in (FIRST, SECOND, THIRD)]
    for ticket in tickets[:confirmed]:
        file.saved(ticket)
    return UnsavedFile(path)


@pytest.mark.parametrize(
    ("confirmed", "in_journal", "left"),
    [
        (confirmed, in_journal, (FIRST, SECOND, THIRD)[saved:])
        for saved, in_journal in enumerate(("none", "one", "two", "three"))
        for confirmed in range(min(saved, 2) + 1)
    ],
)
def test_what_the_journal_has_not_is_left_whether_it_was_confirmed_or_not(
    path: Path, confirmed: int, in_journal: str, left: tuple[object, ...]
) -> None:
    """A save may be on the disk and the kill have come before that was known."""
    assert killed(path, confirmed=confirmed).after(in_journal) == list(left)


def test_beside_any_other_journal_it_is_worth_nothing(path: Path) -> None:
    """Of another time, or another boat."""
    assert killed(path, confirmed=1).after("something else") == []
    assert killed(path, confirmed=1).after(None) == []


def test_the_first_watch_of_all_comes_after_nothing(path: Path) -> None:
    file = UnsavedFile(path)
    file.begin(None)
    file.note(*FIRST)
    assert UnsavedFile(path).after(None) == [FIRST]


def test_when_all_is_saved_there_is_no_file(path: Path) -> None:
    """And a later confirmation counts for those before it."""
    file = UnsavedFile(path)
    file.begin("none")
    assert not path.exists()
    file.note(*FIRST)
    assert path.exists()
    file.saved(file.note(*SECOND))
    assert not path.exists()
    assert UnsavedFile(path).after("none") == []


def test_what_is_left_stays_until_it_is_saved(path: Path) -> None:
    """A second kill, before that, costs nothing."""
    killed(path, confirmed=1)
    again = UnsavedFile(path)
    first, second = again.begin("one", again.after("one"))
    assert UnsavedFile(path).after("one") == [SECOND, THIRD]
    again.saved(first)
    assert UnsavedFile(path).after("two") == [THIRD]
    again.saved(second)
    assert not path.exists()


def test_a_journal_that_fails_for_long_does_not_fill_the_memory(path: Path) -> None:
    """The newest are kept, and come after what is no longer known: the journal keeps its own."""
    file = UnsavedFile(path)
    file.begin("none")
    for number in range(1000):
        file.note(str(number), ())
    assert len(json.loads(path.read_text())["saves"]) == 64
    assert UnsavedFile(path).after("none") == []
    assert UnsavedFile(path).after("990")[0] == ("991", ())


@pytest.mark.parametrize(
    "text", ["", "{", "[]", "null", '{"base": ""}', '{"base": "", "saves": [1]}', "\x00"]
)
def test_what_cannot_be_read_is_nothing(path: Path, text: str) -> None:
    path.write_text(text)
    assert UnsavedFile(path).after(None) == []


def test_a_place_that_cannot_be_written_is_told_once_and_harms_nothing(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.WARNING)
    file = UnsavedFile(tmp_path / "missing" / "unsaved.json")
    file.begin(None)
    file.saved(file.note(*FIRST))
    file.note(*SECOND)
    assert len(caplog.records) == 1
    assert file.after(None) == []


def test_without_a_place_nothing_is_kept() -> None:
    file = UnsavedFile(None)
    file.begin(None)
    file.saved(file.note(*FIRST))
    assert file.after(None) == []
