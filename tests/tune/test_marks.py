"""Marks: what the skipper says of nights, in a file of their own."""

import datetime as dt
import string
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import ConfigError, DriftleadError, UserInputError
from driftlead.geodesy.position import Position
from driftlead.tune.marks import MARKS_FILE, TEXTS, Mark, read_marks, write_mark


def problems(folder: Path, text: str) -> tuple[str, ...]:
    """What is found wrong with marks like these."""
    (folder / MARKS_FILE).write_text(text)
    with pytest.raises(ConfigError) as caught:
        read_marks(folder)
    return caught.value.problems or (caught.value.message,)


def test_a_folder_without_marks_has_none(tmp_path: Path) -> None:
    assert read_marks(tmp_path) == {}


def test_a_mark_is_read_as_it_was_written(tmp_path: Path) -> None:
    write_mark(tmp_path, "a.log", {"outcome": "held"})
    written = write_mark(tmp_path, "b.log", {"outcome": "dragged", "at": "03:12"})
    assert read_marks(tmp_path) == {"a.log": Mark(outcome="held"), "b.log": written}
    assert written.at == dt.time(3, 12)
    assert (written.held, read_marks(tmp_path)["a.log"].held) == (False, True)


def test_everything_a_replay_needs_can_be_said(tmp_path: Path) -> None:
    said = {
        "rode": 27.432,
        "depth": 6.6,
        "bow_height": 1.2,
        "antenna_aft": 8.0,
        "drop": Position(46.5, -31.2),
        "date": dt.date(2026, 6, 14),
    }
    texts = {key: TEXTS[key](value) for key, value in said.items()}
    mark = write_mark(tmp_path, "a.nmea", {"outcome": "held", "note": 'a "calm" one', **texts})
    settings = mark.replay_settings()
    assert (settings.rode_m, settings.depth_m, settings.drop) == (27.432, 6.6, said["drop"])
    assert (settings.bow_height_m, settings.antenna_aft_m) == (1.2, 8.0)
    assert settings.date == said["date"]
    assert mark.note == 'a "calm" one'


def test_times_are_taken_in_every_way_they_are_written(tmp_path: Path) -> None:
    """As text, and as TOML's own times and dates."""
    (tmp_path / MARKS_FILE).write_text(
        '["a"]\noutcome = "dragged"\nat = 03:12:00\n'
        '["b"]\noutcome = "dragged"\nat = 2026-06-15T03:12:00Z\n'
        '["c"]\noutcome = "dragged"\nat = "2026-06-15 03:12"\n'
        '["d"]\noutcome = "held"\ndate = 2026-06-14\nset_late_at = "22:04:30"\n'
    )
    marks = read_marks(tmp_path)
    at = dt.datetime(2026, 6, 15, 3, 12, tzinfo=dt.UTC)
    assert [marks[name].at for name in "abc"] == [dt.time(3, 12), at, at]
    assert marks["d"].set_late_at == dt.time(22, 4, 30)
    assert marks["d"].date == dt.date(2026, 6, 14)


def test_marking_again_replaces_what_is_said_anew_and_keeps_the_rest(tmp_path: Path) -> None:
    write_mark(tmp_path, "a", {"outcome": "held", "rode": "38m", "drop_at": "22:04"})
    mark = write_mark(tmp_path, "a", {"outcome": "dragged", "at": "03:12"})
    assert (mark.rode_m, mark.drop_at, mark.at) == (38.0, dt.time(22, 4), dt.time(3, 12))
    mark = write_mark(tmp_path, "a", {"outcome": "held", "at": None})
    assert (mark.held, mark.at, mark.rode_m) == (True, None, 38.0)


def test_what_the_skipper_wrote_beside_it_stays(tmp_path: Path) -> None:
    """Comments, order, and other nights' tables as they were typed."""
    text = (
        "# my nights\n\n"
        '["a.log"]   # behind the island\noutcome="held"\n\n'
        "# a bad one\n"
        "[b]\noutcome = 'dragged'\nat = '03:12'\n\n"
        "# the last\n"
        '["c.log"]\noutcome = "held"\n'
    )
    (tmp_path / MARKS_FILE).write_text(text)
    write_mark(tmp_path, "b", {"outcome": "held", "at": None})
    after = (tmp_path / MARKS_FILE).read_text()
    assert after == text.replace(
        "[b]\noutcome = 'dragged'\nat = '03:12'\n", '["b"]\noutcome = "held"\n'
    )


_NAMES = st.text(string.ascii_letters + string.digits + " .-_'[]#\"\\=é\n", min_size=1, max_size=12)


@given(st.lists(st.tuples(_NAMES, st.sampled_from(["held", "03:12", "note"])), max_size=6))
def test_any_names_can_be_marked_in_any_order(
    tmp_path_factory: pytest.TempPathFactory, said: list[tuple[str, str]]
) -> None:
    """What was said last of each is what is read."""
    folder = tmp_path_factory.mktemp("marks")
    expected: dict[str, Any] = {}
    for name, what in said:
        changes = {"held": {"outcome": "held", "at": None, "note": None}}.get(
            what, {"outcome": "dragged", "at": "03:12", "note": 'of "it" # [a]'}
        )
        write_mark(folder, name, changes)
        expected[name] = {key: value for key, value in changes.items() if value is not None}
        assert tomllib.loads((folder / MARKS_FILE).read_text()) == expected
    assert read_marks(folder).keys() == expected.keys()


def test_a_file_too_odd_to_change_is_left_alone(tmp_path: Path) -> None:
    """A table inside a text that looks like one."""
    text = 'a = {outcome = "held"}\n'
    (tmp_path / MARKS_FILE).write_text(text)
    with pytest.raises(DriftleadError, match=MARKS_FILE) as caught:
        write_mark(tmp_path, "a", {"outcome": "held"})
    assert caught.value.remedy
    assert (tmp_path / MARKS_FILE).read_text() == text


def test_a_mark_that_is_wrong_is_not_written(tmp_path: Path) -> None:
    write_mark(tmp_path, "a", {"outcome": "held"})
    text = (tmp_path / MARKS_FILE).read_text()
    with pytest.raises(ConfigError):
        write_mark(tmp_path, "a", {"rode": "38m"})
    assert (tmp_path / MARKS_FILE).read_text() == text


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ("", ["outcome: This key is missing"]),
        ('outcome = "drifted"', ['outcome = "drifted"', '"held", "dragged"']),
        ("outcome = 1", ["outcome = 1: This is none of the choices"]),
        ('outcome = "dragged"', ["at: When did the drag begin?", 'at = "03:12"']),
        ('outcome = "held"\nat = "03:12"', ['at = "03:12": A night that held']),
        ('outcome = "dragged"\nat = "3 o\'clock"', ["is not a time", "02:13:45"]),
        ('outcome = "dragged"\nat = 3', ["at = 3: This is not text"]),
        (
            'outcome = "held"\nrode = 38\ndrop_at = "22:04"',
            ["rode = 38: 38 has no unit", "30m, 100ft"],
        ),
        ('outcome = "held"\nrode = "38m"', ['rode = "38m": Alone it would not be used']),
        (
            'outcome = "held"\ndrop = "46.5,-31.2"\ndrop_at = "22:04"',
            ['drop_at = "22:04": The night says drop already'],
        ),
        ('outcome = "held"\ndrop = "north"', ['drop = "north": north is not a position']),
        ('outcome = "held"\ndate = "14.6.26"', ["This is not a date", "2026-06-14"]),
        ('outcome = "held"\nrodee = "38m"', ["rodee", "Did you mean rode?"]),
    ],
)
def test_what_is_wrong_names_file_night_key_and_remedy(
    tmp_path: Path, table: str, words: list[str]
) -> None:
    line = problems(tmp_path, f'["a.log"]\n{table}\n')[0]
    assert line.startswith(f'{tmp_path / MARKS_FILE}: ["a.log"] ')
    for word in words:
        assert word in line


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    found = problems(tmp_path, 'x = 1\n["a"]\noutcome = "x"\n["b"]\noutcome = "dragged"\n')
    assert len(found) == 3
    assert "This belongs to no night" in found[0]


def test_what_is_not_toml_is_told_with_its_line(tmp_path: Path) -> None:
    assert "line 1" in problems(tmp_path, "[a\n")[0]


def test_a_folder_that_cannot_be_written_is_a_clear_error(tmp_path: Path) -> None:
    with pytest.raises(UserInputError, match="cannot be written"):
        write_mark(tmp_path / "nowhere", "a", {"outcome": "held"})
