"""The records on the disk."""

import sqlite3
from pathlib import Path

import pytest
from attrs import evolve

from driftlead.errors import JournalError, UserInputError
from driftlead.geodesy.position import Position
from driftlead.journal.journal import Journal
from driftlead.records import store
from driftlead.records.anchoring import Anchoring, merged
from driftlead.records.store import MIGRATIONS, Records


def test_what_is_saved_is_there_when_opened_again(tmp_path: Path, anchoring: Anchoring) -> None:
    """Everything of it, the track too."""
    path = tmp_path / "new" / "records.db"
    with Records.open(path) as records:
        number = records.save(anchoring)
    with Records.open(path) as records:
        assert records.get(number).anchoring == anchoring
        (listed,) = records.all()
        assert listed.anchoring == evolve(anchoring, track=())
        assert records.all(with_tracks=True)[0].anchoring == anchoring


def test_the_same_anchoring_saved_again_is_the_same(tmp_path: Path, anchoring: Anchoring) -> None:
    """What the newer does not know is kept from the older; the name people gave stays."""
    bare = evolve(
        anchoring, place="", track=(), rode_m=None, greatest_wind_mps=20.0, ended_utc_s=None
    )
    with Records.open(tmp_path / "records.db") as records:
        first = records.save(anchoring)
        assert records.save(bare) == first
        found = records.get(first).anchoring
    assert found == evolve(anchoring, greatest_wind_mps=20.0)
    assert merged(bare, evolve(anchoring, place="elsewhere")).place == "elsewhere"


def test_anchorings_are_listed_by_time_whenever_they_were_read(
    tmp_path: Path, anchoring: Anchoring
) -> None:
    """Numbers stay what they were."""
    earlier = evolve(anchoring, began_utc_s=anchoring.began_utc_s - 86_400.0)
    with Records.open(tmp_path / "records.db") as records:
        assert (records.save(anchoring), records.save(earlier)) == (1, 2)
        assert [each.number for each in records.all()] == [2, 1]


def test_the_newest_that_has_not_ended_is_taken_up(tmp_path: Path, anchoring: Anchoring) -> None:
    """An older one without an end was forgotten, and is not."""
    with Records.open(tmp_path / "records.db") as records:
        assert records.unfinished() is None
        forgotten = evolve(anchoring, began_utc_s=1.0, ended_utc_s=None)
        records.save(forgotten)
        records.save(anchoring)
        assert records.unfinished() is None
        going_on = evolve(anchoring, began_utc_s=anchoring.began_utc_s + 9e5, ended_utc_s=None)
        records.save(going_on)
        assert records.unfinished() == going_on


def test_a_place_can_be_called_by_name(tmp_path: Path, anchoring: Anchoring) -> None:
    """And the track stays."""
    with Records.open(tmp_path / "records.db") as records:
        number = records.save(anchoring)
        records.call(number, "  Pellow Sound ")
        found = records.get(number).anchoring
        assert found == evolve(anchoring, place="Pellow Sound")
        with pytest.raises(UserInputError, match="no anchoring number 7"):
            records.call(7, "nowhere")


def test_small_values_are_kept(tmp_path: Path) -> None:
    """The later in place of the earlier."""
    with Records.open(tmp_path / "records.db") as records:
        assert records.noted("seen") is None
        records.note("seen", "1")
        records.note("seen", "2")
        assert records.noted("seen") == "2"


def test_a_journal_is_not_taken_for_records(tmp_path: Path) -> None:
    """Nor is any other database, and neither is changed."""
    path = tmp_path / "journal.db"
    Journal.open(path).close()
    with pytest.raises(JournalError, match="not a file of anchorings"):
        Records.open(path)
    Journal.open(path).close()


def test_records_of_a_newer_version_are_left_alone(tmp_path: Path) -> None:
    """With what to do."""
    path = tmp_path / "records.db"
    Records.open(path).close()
    connection = sqlite3.connect(path)
    connection.execute(f"PRAGMA user_version = {len(MIGRATIONS) + 1}")
    connection.close()
    with pytest.raises(JournalError, match="of version 2; this driftlead knows 1") as refused:
        Records.open(path)
    assert "newer driftlead" in refused.value.remedy


def test_a_damaged_file_is_named_with_its_remedy(tmp_path: Path) -> None:
    """It is not overwritten."""
    path = tmp_path / "records.db"
    path.write_bytes(b"not a database, but long enough to look at" * 50)
    with pytest.raises(JournalError, match=r"records\.db cannot be opened") as refused:
        Records.open(path)
    assert "Move it away" in refused.value.remedy
    assert path.read_bytes().startswith(b"not a database")


def test_a_row_that_cannot_be_read_is_named(tmp_path: Path, anchoring: Anchoring) -> None:
    """Rather than shown half."""
    path = tmp_path / "records.db"
    with Records.open(path) as records:
        records.save(anchoring)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("UPDATE anchoring SET body = '{\"drop\": 3}'")
    connection.close()
    with Records.open(path) as records, pytest.raises(JournalError, match="Anchoring 1 in"):
        records.all()


def test_a_path_that_is_no_file_is_refused(tmp_path: Path) -> None:
    """With a remedy."""
    with pytest.raises(JournalError, match="cannot be opened"):
        Records.open(tmp_path)
    (tmp_path / "file").write_text("")
    with pytest.raises(JournalError, match="cannot be opened"):
        Records.open(tmp_path / "file" / "records.db")


def test_a_drag_from_a_mark_that_was_wrong_is_not_kept_from_before(
    tmp_path: Path, anchoring: Anchoring
) -> None:
    """She would be warned of it at every later let go there."""
    corrected = evolve(anchoring, drop=Position(46.5010, -31.2010), drags=())
    with Records.open(tmp_path / "records.db") as records:
        records.save(anchoring)
        number = records.save(corrected)
        assert records.get(number).anchoring == corrected


def test_saving_again_and_again_uses_no_numbers_up(tmp_path: Path, anchoring: Anchoring) -> None:
    """The next anchoring has the next number."""
    with Records.open(tmp_path / "records.db") as records:
        assert {records.save(anchoring) for _ in range(9)} == {1}
        assert records.save(evolve(anchoring, began_utc_s=anchoring.began_utc_s + 9e5)) == 2
        assert records.newest() == 2


def test_who_may_not_write_is_given_a_copy(
    tmp_path: Path, anchoring: Anchoring, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With all there is; what is saved in it is not kept, and no place is given a name."""
    path = tmp_path / "records.db"
    with Records.open(path) as records:
        records.save(anchoring)

    def refused(*_: object, **__: object) -> None:
        error = sqlite3.OperationalError("attempt to write a readonly database")
        error.sqlite_errorcode = sqlite3.SQLITE_READONLY
        raise error

    with monkeypatch.context() as patched:
        patched.setattr(store, "open_database", refused)
        with pytest.raises(JournalError) as told:
            Records.open(path)
        assert f"{path} belongs to {path.owner()}" in told.value.remedy
        with Records.open_or_copy(path) as copy:
            assert copy.is_copy
            assert copy.get(1).anchoring == anchoring
            copy.save(evolve(anchoring, began_utc_s=1.0))
            assert len(copy.all()) == 2
            with pytest.raises(UserInputError, match="not yours to write"):
                copy.call(1, "Pellow Sound")
        with Records.open_or_copy(tmp_path / "none.db") as copy:
            assert copy.all() == ()
        assert not (tmp_path / "none.db").exists()
    with Records.open_or_copy(path) as records:
        assert not records.is_copy
        assert len(records.all()) == 1
