"""What is known of the nights in a folder, without decoding any."""

from collections.abc import Iterator
from pathlib import Path

from driftlead.tune.marks import MARKS_FILE, Mark, read_marks
from driftlead.tune.moments import clock_text, moment_text
from driftlead.tune.nights import Night, list_nights, stem
from driftlead.tune.truth import Truth, read_truth


def known_lines(folder: Path) -> Iterator[str]:
    """A line for each night: its name, its parts, how it went and who says so."""
    nights, marks, truths = list_nights(folder), read_marks(folder), read_truth(folder)
    width = max(len(night.name) for night in nights)
    for night in nights:
        parts = f", {len(night.paths)} parts" if len(night.paths) > 1 else ""
        said = _said(night, marks.get(night.name), truths.get(stem(night.name)))
        yield f"{night.name.ljust(width)}  {said}{parts}"
    strangers = sorted(marks.keys() - {night.name for night in nights})
    for name in strangers:
        yield f'{folder / MARKS_FILE}: ["{name}"] is no night in this folder.'
    unknown = sum(night.name not in marks and stem(night.name) not in truths for night in nights)
    yield ""
    yield f"{len(nights)} nights, {len(nights) - unknown} of them marked."


def _said(night: Night, mark: Mark | None, truth: Truth | None) -> str:
    if mark is not None:
        went = "held" if mark.at is None else f"dragged at {moment_text(mark.at)}"
        note = f" ({mark.note})" if mark.note else ""
        return f"{went}, marked{note}"
    if truth is None:
        return f"not marked: driftlead tune mark {night.paths[0]} held"
    if truth.drag is None:
        return "held, by truth.json"
    return f"dragged from {clock_text(truth.drag.begins_utc_s)}, by truth.json"
