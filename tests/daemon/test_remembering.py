"""The records beside the watch: kept up, asked at let go, and never in its way."""

import asyncio
import datetime as dt
import json
import logging
import sqlite3
from collections.abc import AsyncIterator
from contextlib import closing
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from attrs import evolve, fields_dict

from driftlead.core.events_json import event_to_json
from driftlead.core.state_event import StateEvent
from driftlead.core.status import Status
from driftlead.daemon.remembering import LOOK_EVERY, SAVE_EVERY, Remembering
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.journal.journal import Journal
from driftlead.records.anchoring import Anchoring, Drag
from driftlead.records.store import Records
from driftlead.units import Printer, UnitSystem

DROP = Position(46.5, -31.2)
EVENING_S = dt.datetime(2026, 7, 1, 20, 0, tzinfo=dt.UTC).timestamp()
ANCHOR = AnchorEstimate(DROP.lat_deg, DROP.lon_deg, 3.0, AnchorMethod.MARKED)
DRAGGED = Anchoring(
    began_utc_s=EVENING_S - 30 * 86_400.0,
    ended_utc_s=EVENING_S - 30 * 86_400.0 + 9 * 3600.0,
    drop=DROP,
    method="marked",
    anchor=DROP,
    rode_m=30.0,
    depth_m=5.0,
    least_wind_mps=3.0,
    greatest_wind_mps=12.4,
    drags=(Drag(found_utc_s=EVENING_S - 30 * 86_400.0 + 7200.0, moved_m=40.0, bearing_deg=90.0),),
)


def event(name: str, state: str, after_s: float = 0.0) -> StateEvent:
    """A change of state, so long after the evening's beginning."""
    return StateEvent(
        name=name,
        state=state,
        reason="",
        mono_s=after_s,
        utc_s=EVENING_S + after_s,
        anchor=ANCHOR,
    )


def status(**known: Any) -> Status:
    """A status of which only some things are known."""
    unknown: dict[str, Any] = dict.fromkeys(fields_dict(Status))
    return Status(**(unknown | {"state": "riding", "alerts": (), "sources": ()} | known))


class Aboard:
    """The records of a boat, and what keeps them."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "records.db"
        self.journal = folder / "journal.db"
        self.anew()

    def anew(self, system: UnitSystem = UnitSystem.METRIC) -> None:
        """Another run of the daemon."""
        self.remembering = Remembering(self.path, self.journal, units=Printer(system))

    def have(self, *anchorings: Anchoring) -> None:
        """Remember these already."""
        with Records.open(self.path) as records:
            for each in anchorings:
                records.save(each)

    async def kept(self) -> list[Anchoring]:
        """What is on the disk when all that was begun is done, with the tracks."""
        await self.remembering.update()
        with Records.open(self.path) as records:
            return [each.anchoring for each in records.all(with_tracks=True)]

    async def asked(self, place: Position = DROP, reach_m: float = 0.0) -> str | None:
        """What is said at let go."""
        return await self.remembering.dragged_here(place, reach_m=reach_m, bow_height_m=1.2)


@pytest_asyncio.fixture
async def aboard(tmp_path: Path) -> AsyncIterator[Aboard]:
    """A boat without records."""
    boat = Aboard(tmp_path)
    yield boat
    await boat.remembering.close()


@pytest.mark.asyncio
async def test_an_anchoring_is_kept_with_wind_rode_and_track_as_it_goes_on(aboard: Aboard) -> None:
    """Without any recording being read."""
    aboard.remembering.hear(event("let_go", "let_go"))
    for second in range(1, 301):
        seen = status(
            utc_s=EVENING_S + second, position=DROP, rode_m=30.0, depth_m=5.0, wind_mps=8.0
        )
        aboard.remembering.look(partial(evolve, seen))
    aboard.remembering.hear(event("settled", "riding", 400.0))
    (found,) = await aboard.kept()
    assert (found.drop, found.rode_m, found.depth_m) == (DROP, 30.0, 5.0)
    assert (found.least_wind_mps, found.greatest_wind_mps) == (8.0, 8.0)
    assert found.ended_utc_s is None
    assert [each.utc_s - EVENING_S for each in found.track] == [LOOK_EVERY]


@pytest.mark.asyncio
async def test_what_no_event_tells_is_on_the_disk_within_half_an_hour(aboard: Aboard) -> None:
    aboard.remembering.hear(event("let_go", "let_go"))
    for second in range(1, SAVE_EVERY + 1):
        seen = status(utc_s=EVENING_S + second, position=DROP, wind_mps=second / 100.0)
        aboard.remembering.look(partial(evolve, seen))
    (found,) = await aboard.kept()
    assert found.greatest_wind_mps == SAVE_EVERY / 100.0


@pytest.mark.asyncio
@pytest.mark.parametrize(("name", "state"), [("weigh", "aweigh"), ("slipped", "slipped")])
async def test_the_end_is_kept(aboard: Aboard, name: str, state: str) -> None:
    aboard.remembering.hear(event("let_go", "let_go"))
    aboard.remembering.hear(event(name, state, 3600.0))
    (found,) = await aboard.kept()
    assert found.ended_utc_s == EVENING_S + 3600.0


@pytest.mark.asyncio
async def test_closing_keeps_what_is_under_way(aboard: Aboard) -> None:
    aboard.remembering.hear(event("let_go", "let_go"))
    for second in range(1, LOOK_EVERY + 1):
        aboard.remembering.look(lambda: status(utc_s=EVENING_S + 9.0, position=DROP, rode_m=33.0))
        assert second
    await aboard.remembering.close()
    aboard.anew()
    (found,) = await aboard.kept()
    assert found.rode_m == 33.0


@pytest.mark.asyncio
async def test_after_a_restart_the_same_anchoring_goes_on(aboard: Aboard) -> None:
    aboard.remembering.hear(event("let_go", "let_go"))
    await aboard.remembering.close()
    aboard.anew()
    await aboard.remembering.take_up(Position(46.50002, -31.2), "let_go")
    aboard.remembering.hear(event("weigh", "aweigh", 3600.0))
    (found,) = await aboard.kept()
    assert (found.began_utc_s, found.ended_utc_s) == (EVENING_S, EVENING_S + 3600.0)


@pytest.mark.asyncio
async def test_let_go_said_again_after_a_restart_is_the_same_anchoring(aboard: Aboard) -> None:
    aboard.remembering.hear(event("let_go", "let_go"))
    await aboard.remembering.close()
    aboard.anew()
    await aboard.remembering.take_up(DROP, "let_go")
    aboard.remembering.hear(event("let_go", "let_go", 60.0))
    (found,) = await aboard.kept()
    assert found.began_utc_s == EVENING_S


@pytest.mark.asyncio
async def test_another_that_never_ended_is_not_taken_for_it(aboard: Aboard) -> None:
    aboard.have(evolve(DRAGGED, ended_utc_s=None, drop=Position(47.0, -31.2)))
    await aboard.remembering.take_up(DROP, "riding")
    aboard.remembering.hear(event("weigh", "aweigh"))
    (found,) = await aboard.kept()
    assert found.ended_utc_s is None


@pytest.mark.asyncio
async def test_at_let_go_it_says_when_how_far_on_what_rode_and_in_what_wind(
    aboard: Aboard,
) -> None:
    aboard.have(DRAGGED)
    assert await aboard.asked() == (
        "She dragged here before: anchoring 1, 2026-06-01 22:00 UTC, 40 m towards 090° (E), on "
        "30 m of rode in 5.0 m (4.8:1), in up to 24 kn of wind, 0 m from this place. "
        "More rode, or another spot, is worth considering."
    )
    await aboard.remembering.close()
    aboard.anew(UnitSystem.FEET)
    assert "98 ft of rode in 16.4 ft" in (await aboard.asked() or "")


@pytest.mark.asyncio
async def test_farther_off_than_she_may_swing_it_says_nothing(aboard: Aboard) -> None:
    """Sixty metres at the least, more if her circle is wider."""
    aboard.have(DRAGGED)
    off = Position(46.5 + 80.0 / 111_170.0, -31.2)
    assert await aboard.asked(off) is None
    assert await aboard.asked(off, reach_m=90.0) is not None
    aboard.have(evolve(DRAGGED, drags=()))


@pytest.mark.asyncio
async def test_without_records_it_says_nothing(aboard: Aboard) -> None:
    assert await aboard.asked() is None


@pytest.mark.asyncio
@pytest.mark.parametrize("trouble", ["corrupt", "another program's", "a folder", "no folder"])
async def test_whatever_is_wrong_with_the_file_nothing_is_raised_and_it_is_logged_once(
    aboard: Aboard, trouble: str, caplog: pytest.LogCaptureFixture
) -> None:
    if trouble == "corrupt":
        aboard.path.write_bytes(b"no database at all " * 500)
    elif trouble == "another program's":
        with closing(sqlite3.connect(aboard.path)) as other:
            other.execute("CREATE TABLE waypoint (name TEXT)")
    elif trouble == "a folder":
        aboard.path.mkdir()
    else:
        aboard.path.parent.joinpath("file").write_text("")
        aboard.path = aboard.path.parent / "file" / "records.db"
        await aboard.remembering.close()
        aboard.anew()
    with caplog.at_level(logging.WARNING):
        aboard.remembering.hear(event("let_go", "let_go"))
        await aboard.remembering.take_up(DROP, "riding")
        assert await aboard.asked() is None
        assert await aboard.remembering.update() == 0
    assert len([each for each in caplog.records if "not remembered" in each.message]) == 1


@pytest.mark.asyncio
async def test_a_look_that_breaks_does_not_break_the_watch(
    aboard: Aboard, caplog: pytest.LogCaptureFixture
) -> None:
    aboard.remembering.hear(event("let_go", "let_go"))

    def breaks() -> Status:
        raise ZeroDivisionError

    for _ in range(LOOK_EVERY):
        aboard.remembering.look(breaks)
    assert "The watch is not remembered" in caplog.text


@pytest.mark.asyncio
async def test_what_the_journal_has_is_read_in_and_then_not_needed_there(aboard: Aboard) -> None:
    """But the watch that is on is needed from its let go."""
    earlier = [event("let_go", "let_go"), event("weigh", "aweigh", 60.0)]
    with closing(Journal.open(aboard.journal)) as journal:
        journal.save("{}", [event_to_json(each) for each in earlier])
        assert await aboard.remembering.update() == 2
        more = [event("let_go", "let_go", 90.0), event("settled", "riding", 95.0)]
        journal.save("{}", [event_to_json(each) for each in more])
        assert await aboard.remembering.update() == 2
        journal.save("{}", [event_to_json(event("weigh", "aweigh", 99.0))])
        assert await aboard.remembering.update() == 5
    assert len(await aboard.kept()) == 2


@pytest.mark.asyncio
async def test_a_watch_begun_before_the_receiver_told_the_time_is_needed_too(
    aboard: Aboard,
) -> None:
    """It leaves no record, but it is the present watch."""
    timeless = json.dumps(json.loads(event_to_json(event("let_go", "let_go"))) | {"t": None})
    with closing(Journal.open(aboard.journal)) as journal:
        journal.save("{}", [timeless, event_to_json(event("settled", "riding", 60.0))])
        assert await aboard.remembering.update() == 0


@pytest.mark.asyncio
async def test_a_file_that_is_locked_is_waited_for_elsewhere(aboard: Aboard) -> None:
    """The loop turns meanwhile."""
    aboard.have(DRAGGED)
    with closing(sqlite3.connect(aboard.path, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        asking = asyncio.ensure_future(aboard.asked())
        await asyncio.sleep(0)
        assert not asking.done()
        other.execute("ROLLBACK")
        assert await asking is not None
