"""Events in a file of the owner's."""

import json
import os
from pathlib import Path

from driftlead.daemon.events_file import EventsFile
from driftlead.testing import make_alert


def test_each_event_is_a_line_of_json(tmp_path: Path) -> None:
    """Also after somebody has moved the file away."""
    path = tmp_path / "events.jsonl"
    file = EventsFile(path, on_fault=lambda _: None)
    file.write(make_alert(number=1))
    path.rename(tmp_path / "old.jsonl")
    file.write(make_alert(number=2))
    assert json.loads(path.read_text())["number"] == 2
    assert json.loads((tmp_path / "old.jsonl").read_text())["number"] == 1


def test_a_file_that_cannot_be_written_is_told_once_and_again_when_it_can(tmp_path: Path) -> None:
    """The watch goes on without it."""
    faults: list[str | None] = []
    file = EventsFile(tmp_path / "folder" / "events", on_fault=faults.append)
    file.write(make_alert())
    file.write(make_alert())
    assert len(faults) == 1
    (tmp_path / "folder").mkdir()
    file.write(make_alert())
    assert faults[1:] == [None]


def test_a_pipe_that_nobody_reads_does_not_stop_the_watch(tmp_path: Path) -> None:
    """Opening it would wait for a reader for ever."""
    os.mkfifo(tmp_path / "pipe")
    faults: list[str | None] = []
    EventsFile(tmp_path / "pipe", on_fault=faults.append).write(make_alert())
    assert len(faults) == 1
