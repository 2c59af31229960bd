"""Anchorings read from the journal of a watch."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve

from driftlead.errors import JournalError
from driftlead.journal.journal import Journal
from driftlead.records.anchoring import Anchoring
from driftlead.records.from_journal import update_from_journal
from driftlead.records.store import Records


@pytest.fixture
def records(tmp_path: Path) -> Iterator[Records]:
    """Records that are empty."""
    with Records.open(tmp_path / "records.db") as opened:
        yield opened


def journal(path: Path, events: list[dict[str, Any]]) -> Path:
    """A journal to which these events are added."""
    opened = Journal.open(path)
    opened.save("{}", [json.dumps(event) for event in events])
    opened.close()
    return path


def test_the_nights_of_the_journal_are_added_once(
    tmp_path: Path, records: Records, night: list[dict[str, Any]]
) -> None:
    """Reading again changes nothing."""
    path = journal(tmp_path / "journal.db", night)
    assert update_from_journal(records, path) == 1
    assert update_from_journal(records, path) == 0
    (found,) = records.all()
    assert found.anchoring.dragged


def test_one_that_goes_on_is_completed_when_more_is_told(
    tmp_path: Path, records: Records, night: list[dict[str, Any]]
) -> None:
    """Each time from its let go on, however many events came in between."""
    path = tmp_path / "journal.db"
    for told in (night[:1], night[1:4], night[4:7]):
        journal(path, told)
        assert update_from_journal(records, path) == 1
        assert len(records.all()) == 1
    assert records.all()[0].anchoring.ended_utc_s is None
    journal(path, night[7:])
    assert update_from_journal(records, path) == 1
    (found,) = records.all()
    assert found.anchoring.ended_utc_s is not None
    assert found.anchoring.drags[0].moved_m == 40.0
    assert update_from_journal(records, path) == 0


def test_a_watch_that_runs_is_not_disturbed(
    tmp_path: Path, records: Records, night: list[dict[str, Any]]
) -> None:
    """Its journal stays open, and can be written between and after the readings."""
    path = tmp_path / "journal.db"
    opened = Journal.open(path)
    opened.save("{}", [json.dumps(night[0])])
    assert update_from_journal(records, path) == 1
    opened.save("{}", [json.dumps(event) for event in night[1:]])
    assert update_from_journal(records, path) == 1
    assert opened.last_event_id() == len(night)
    opened.close()


def test_a_journal_begun_anew_is_read_from_its_beginning(
    tmp_path: Path, records: Records, night: list[dict[str, Any]]
) -> None:
    """The damaged one was moved aside, and its numbers begin again."""
    path = journal(tmp_path / "journal.db", night)
    update_from_journal(records, path)
    path.unlink()
    later = [{**each, "t": str(each["t"]).replace("06-1", "07-1")} for each in night]
    journal(path, later[:-1])
    assert update_from_journal(records, path) == 1
    assert len(records.all()) == 2


def test_what_a_recording_knew_is_not_lost(
    tmp_path: Path, records: Records, night: list[dict[str, Any]], anchoring: Anchoring
) -> None:
    """The journal has no track and no wind."""
    records.save(evolve(anchoring, drags=()))
    update_from_journal(records, journal(tmp_path / "journal.db", night))
    (found,) = records.all(with_tracks=True)
    assert found.anchoring.track == anchoring.track
    assert found.anchoring.greatest_wind_mps == anchoring.greatest_wind_mps
    assert found.anchoring.drags[0].moved_m == 40.0


def test_no_journal_is_no_anchoring(tmp_path: Path, records: Records) -> None:
    """And none is made."""
    assert update_from_journal(records, tmp_path / "journal.db") == 0
    assert not (tmp_path / "journal.db").exists()


def test_a_journal_that_cannot_be_read_is_named(tmp_path: Path, records: Records) -> None:
    """With whom to read it as."""
    path = tmp_path / "journal.db"
    path.write_bytes(b"nothing of the kind" * 100)
    with pytest.raises(JournalError, match=r"journal\.db cannot be read") as refused:
        update_from_journal(records, path)
    assert "sudo -u driftlead" in refused.value.remedy
    path.unlink()
    opened = Journal.open(path)
    opened.save("{}", ["not json"])
    opened.close()
    with pytest.raises(JournalError, match=r"journal\.db cannot be read"):
        update_from_journal(records, path)


def test_let_go_said_twice_is_one_anchoring_however_often_it_is_read(
    tmp_path: Path, records: Records, night: list[dict[str, Any]]
) -> None:
    """Also when the journal is read between the second let go and the end."""
    path = tmp_path / "journal.db"
    journal(path, [night[0], night[0] | {"t": "2026-06-14T22:04:40.000Z"}])
    update_from_journal(records, path)
    journal(path, night[1:4])
    update_from_journal(records, path)
    journal(path, night[4:])
    update_from_journal(records, path)
    (found,) = records.all()
    assert found.anchoring.ended_utc_s is not None
