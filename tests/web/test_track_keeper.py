"""The track of this anchoring outlives a restart of the daemon."""

import json
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from driftlead.core.core import Core
from driftlead.core.settings import CoreSettings
from driftlead.core.state_event import StateEvent
from driftlead.core.status import Status
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.web.track_history import (
    COLUMNS,
    EVERY_S,
    MOST_POINTS,
    SavedTrack,
    TrackHistory,
    saved_row,
)
from driftlead.web.track_keeper import SAVE_EVERY, TrackKeeper, load_track, save_track

NOTHING_KNOWN = Core(CoreSettings(), mono_s=0.0).status(0.0)
ANCHOR = AnchorEstimate(lat_deg=46.5, lon_deg=-31.2, sigma_m=3.0, method=AnchorMethod.MARKED)
UTC_S = 1_781_493_600.0
LET_GO = StateEvent(name="let_go", state="let_go", reason="commanded", mono_s=0.0)


def lies(utc_s: float | None, north_m: float = -20.0, **more: Any) -> Status:
    """How she lies at a time."""
    position = Position(46.5 + north_m / 111_170.0, -31.2)
    known = {"position": position, "anchor": ANCHOR, "utc_s": utc_s, "depth_m": 6.0, **more}
    return evolve(NOTHING_KNOWN, **known)


def points(history: TrackHistory) -> list[dict[str, float | None]]:
    """The rows it has, by their columns."""
    rows = history.rows(after_s=float("-inf"), step_s=0.0)
    return [dict(zip(COLUMNS, json.loads(row), strict=True)) for row in rows]


def ridden(seconds: float, began_utc_s: float = UTC_S) -> TrackHistory:
    """An hour or so at anchor."""
    history = TrackHistory()
    history.hear(LET_GO)
    for n in range(int(seconds / EVERY_S) + 1):
        history.look(n * EVERY_S, lies(began_utc_s + n * EVERY_S, -20.0 - n * 0.01))
    return history


def kept(path: Path, history: TrackHistory) -> None:
    """Write what is to be written."""
    to_save = history.to_save()
    assert to_save is not None
    save_track(path, to_save)


def test_a_daemon_started_anew_goes_on_with_the_track_of_before(tmp_path: Path) -> None:
    """Two seconds later, at 3 s of its own run: the same places at the same times of day."""
    path = tmp_path / "state" / "track.jsonl"
    before = ridden(600.0)
    kept(path, before)
    after = TrackHistory()
    saved = load_track(path)
    assert saved is not None
    after.take_up(saved)
    after.look(1.0, NOTHING_KNOWN)
    after.look(3.0, lies(UTC_S + 605.0))
    assert after.origin == before.origin == Position(46.5, -31.2)
    same = ("utc_s", "east_m", "north_m", "depth_m")
    old, new = points(before), points(after)
    assert [[each[name] for name in same] for each in new[:-1]] == [
        [each[name] for name in same] for each in old
    ]
    assert [each["run_s"] for each in new] == [float(3 - 605 + 5 * n) for n in range(122)]
    assert path.stat().st_mode & 0o077 == 0


def test_it_is_written_in_pieces_and_never_grows_beyond_bounds(tmp_path: Path) -> None:
    path = tmp_path / "track.jsonl"
    history = TrackHistory()
    longest = 0
    for n in range(3 * MOST_POINTS):
        history.look(n * EVERY_S, lies(UTC_S + n * EVERY_S))
        if n % 60 == 0:
            kept(path, history)
            longest = max(longest, path.read_text().count("\n"))
    assert MOST_POINTS < longest <= 2 * MOST_POINTS + 62
    kept(path, history)
    saved = load_track(path)
    assert saved is not None
    assert list(saved.rows[-MOST_POINTS:]) == [list(each.values()) for each in points(history)]
    assert history.to_save() is None


def test_while_the_daemon_was_down_no_line_is_drawn() -> None:
    """A minute without a point is a break: a row of nothing but its time."""
    before = ridden(60.0)
    rows = [list(each.values()) for each in points(before)]
    for down_s, broken in ((40.0, False), (3600.0, True)):
        after = TrackHistory()
        after.take_up(SavedTrack(Position(46.5, -31.2), rows))
        after.look(10.0, lies(UTC_S + 60.0 + down_s))
        gaps = [each for each in points(after) if each["east_m"] is None]
        assert len(gaps) == broken
        assert all(value is None for gap in gaps for value in list(gap.values())[1:])


@pytest.mark.parametrize(
    ("utc_s", "more"),
    [
        (UTC_S + 9 * 3600.0, {}),  # longer ago than is kept
        (UTC_S - 3600.0, {}),  # of another time
        (UTC_S + 60.0, {"anchor": None}),  # no watch is on
        (UTC_S + 60.0, {"anchor": evolve(ANCHOR, lat_deg=46.7)}),  # far from there
        (None, {}),  # the time is not known yet
    ],
)
def test_a_track_that_is_not_of_this_watch_is_left(
    utc_s: float | None, more: dict[str, Any]
) -> None:
    rows = [list(each.values()) for each in points(ridden(60.0))]
    history = TrackHistory()
    history.take_up(SavedTrack(Position(46.5, -31.2), rows))
    history.look(1.0, lies(utc_s, **more))
    assert len([each for each in points(history) if each["east_m"] is not None]) == 1


def test_a_track_read_after_the_anchor_was_let_go_anew_is_not_put_before_its_own() -> None:
    rows = [list(each.values()) for each in points(ridden(60.0))]
    for history in (TrackHistory(), TrackHistory()):
        history.hear(LET_GO)
        history.take_up(SavedTrack(Position(46.5, -31.2), rows))
        history.look(1.0, lies(UTC_S + 70.0))
        assert len(history) == 1


def test_nothing_is_written_over_the_track_of_before_until_it_is_known_what_it_is() -> None:
    """Without the time it cannot be taken up; without a watch there is nothing to keep."""
    history = TrackHistory()
    history.look(1.0, lies(None, anchor=None))
    assert history.to_save() is None
    rows = [list(each.values()) for each in points(ridden(60.0))]
    history.take_up(SavedTrack(Position(46.5, -31.2), rows))
    history.look(6.0, lies(None))
    assert history.to_save() is None
    history.look(11.0, lies(UTC_S + 70.0))
    to_save = history.to_save()
    assert to_save is not None
    assert len(to_save.rows) == len(rows) + 1


@given(st.text() | st.lists(st.none() | st.floats() | st.text(), max_size=12).map(json.dumps))
def test_a_row_is_numbers_or_none(text: str) -> None:
    row = saved_row(text)
    assert row is None or len(row) == len(COLUMNS)
    assert all(value is None or isinstance(value, int | float) for value in row or ())


@pytest.mark.parametrize(
    "text",
    [
        *("", "\n", "{}\n", "[]\n", "nonsense\n", '{"lat": 1, "lon": 2, "columns": []}\n'),
        '{"lat": 91, "lon": 2, "columns": %COLUMNS%}\n',
        '{"lat": "x", "lon": 2, "columns": %COLUMNS%}\n',
        '{"lat": NaN, "lon": 2, "columns": %COLUMNS%}\n',
    ],
)
def test_a_file_that_is_no_track_is_none(tmp_path: Path, text: str) -> None:
    path = tmp_path / "track.jsonl"
    assert load_track(path) is None
    path.write_text(text.replace("%COLUMNS%", json.dumps(list(COLUMNS))))
    assert load_track(path) is None
    path.write_bytes(b"\xff\xfe")
    assert load_track(path) is None


def test_what_the_power_cut_off_is_left_out(tmp_path: Path) -> None:
    path = tmp_path / "track.jsonl"
    kept(path, ridden(60.0))
    path.write_text(path.read_text()[:-20])
    saved = load_track(path)
    assert saved is not None
    assert len(saved.rows) == 12


@pytest.mark.asyncio
async def test_a_disk_that_fails_is_told_once_and_all_is_written_when_it_works(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    folder = tmp_path / "state"
    folder.write_text("a file where the folder should be")
    history = ridden(60.0)
    keeper: Any = TrackKeeper(history, folder / "track.jsonl")
    keeper.begin()
    for _ in range(3):
        await keeper._work
        for _ in range(SAVE_EVERY):
            keeper.tick()
    await keeper._work
    assert caplog.text.count("The track is not kept") == 1
    folder.unlink()
    await keeper.close()
    saved = load_track(folder / "track.jsonl")
    assert saved is not None
    assert len(saved.rows) == 13


@pytest.mark.asyncio
async def test_the_page_still_has_the_track_after_a_restart(serve: Any) -> None:
    """Over the wire: the points of before have a time below 0, and all are about one origin."""
    async with serve() as rig:
        client = await rig.paired()
        await rig.deck.lie(seconds=3)
        await client.post("commands", rig.command("let_go", depth_m=6.0, rode_m=30.0))
        await rig.deck.lie(-10.0, seconds=60)
        _, before = await client.get("track")
        # The core's time of day goes on; the run of the page begins anew.
        await rig.restart()
        await rig.server._track._work
        await rig.deck.lie(-10.0, seconds=20)
        _, after = await rig.client().get("track")
        assert after["run_id"] != before["run_id"]
        assert after["origin"] == before["origin"]
        old = [row[1:4] for row in before["rows"]]
        assert len(old) > 8
        assert [row[1:4] for row in after["rows"]][: len(old)] == old
        assert after["rows"][0][0] < 0.0
        assert len(after["rows"]) > len(old)
