"""The truth beside simulated nights."""

import json
from pathlib import Path

import pytest

from driftlead.errors import UserInputError
from driftlead.tune.truth import TRUTH_FILE, DragKnown, read_truth

NIGHTS = Path(__file__).resolve().parents[2] / "replay_logs"


def test_the_shipped_truth_is_read() -> None:
    truth = read_truth(NIGHTS)
    drag = truth["slow-drag"].drag
    shipped = json.loads((NIGHTS / TRUTH_FILE).read_text())["slow-drag"]["drag"]
    assert truth["quiet-night"].held
    assert not truth["slow-drag"].held
    assert drag is not None
    assert drag.distance_m == shipped["distance_m"]
    assert drag.ends_utc_s - drag.begins_utc_s == shipped["ends_s"] - shipped["begins_s"]


def test_a_folder_without_truth_has_none(tmp_path: Path) -> None:
    assert read_truth(tmp_path) == {}


def test_the_anchor_comes_evenly_from_beginning_to_end() -> None:
    drag = DragKnown(begins_utc_s=1000.0, ends_utc_s=1100.0, distance_m=40.0)
    assert [drag.dragged_m(t) for t in (900.0, 1000.0, 1025.0, 1100.0, 2000.0)] == [
        0.0,
        0.0,
        10.0,
        40.0,
        40.0,
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "cannot be read"),
        ("[]", "no nights by name"),
        ('{"a": 1}', "truth.json: a: this is not the truth of a night"),
        ('{"a": {"held": false}}', "truth.json: a: this is not the truth of a night"),
        ('{"a": {"held": false, "drag": {"begins_utc": "x"}}}', "truth.json: a: "),
    ],
)
def test_truth_that_is_none_is_a_clear_error(tmp_path: Path, text: str, words: str) -> None:
    (tmp_path / TRUTH_FILE).write_text(text)
    with pytest.raises(UserInputError, match=words) as caught:
        read_truth(tmp_path)
    assert caught.value.remedy
