"""The track in memory: thinned, about the anchor, and never larger."""

import itertools
import json
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
from driftlead.web.track_history import COLUMNS, EVERY_S, KEPT_S, TrackHistory

NOTHING_KNOWN = Core(CoreSettings(), mono_s=0.0).status(0.0)
ANCHOR = AnchorEstimate(lat_deg=46.5, lon_deg=-31.2, sigma_m=3.0, method=AnchorMethod.MARKED)


def at(lat_deg: float, lon_deg: float = -31.2, **more: Any) -> Status:
    """How she lies at a place."""
    return evolve(NOTHING_KNOWN, position=Position(lat_deg, lon_deg), **more)


def points(history: TrackHistory, after_s: float = -1.0, step_s: float = 0.0) -> list[list[float]]:
    """What it tells, read."""
    return [json.loads(row) for row in history.rows(after_s=after_s, step_s=step_s)]


def test_a_point_is_kept_every_five_seconds_however_often_it_is_looked_at() -> None:
    history = TrackHistory()
    for second in range(61):
        history.look(float(second), at(46.5))
    assert [point[0] for point in points(history)] == [5.0 * n for n in range(13)]


def test_a_week_takes_no_more_room_than_eight_hours() -> None:
    history = TrackHistory()
    for n in range(int(7 * 86_400 / EVERY_S)):
        history.look(n * EVERY_S, at(46.5))
    kept = points(history)
    assert len(kept) == KEPT_S / EVERY_S == 5760
    assert kept[-1][0] == 7 * 86_400 - EVERY_S
    assert kept[0][0] == 7 * 86_400 - KEPT_S


def test_metres_are_east_and_north_of_the_anchor() -> None:
    """A minute of latitude is 1852 m by the mile's definition, at 45 N to 2 m; 46.5 is near."""
    history = TrackHistory()
    history.look(0.0, at(46.5 + 0.01 / 60.0, anchor=ANCHOR))
    history.look(5.0, at(46.5, -31.2 - 0.01 / 60.0, anchor=ANCHOR))
    (north, west) = points(history)
    assert history.origin == Position(46.5, -31.2)
    assert north[2:4] == pytest.approx([0.0, 18.52], abs=0.05)
    assert west[2:4] == pytest.approx([-18.52 * 0.6884, 0.0], abs=0.05)  # cos 46.5


def test_what_is_not_known_is_null_and_what_is_known_stands_in_its_column() -> None:
    history = TrackHistory()
    history.look(0.0, at(46.5))
    history.look(
        5.0,
        at(
            46.5,
            utc_s=1_781_493_620.44,
            distance_m=47.52,
            radius_m=41.26,
            confidence=0.0042,
            heading_deg=231.4,
            wind_from_deg=229.0,
            wind_mps=12.11,
            depth_m=6.12,
        ),
    )
    unknown, known = (dict(zip(COLUMNS, point, strict=True)) for point in points(history))
    assert {name for name, value in unknown.items() if value is None} == {
        *("utc_s", "distance_m", "radius_m", "confidence", "heading_deg", "wind_from_deg"),
        *("wind_mps", "depth_m"),
    }
    assert known["utc_s"] == 1_781_493_620.4
    assert known["distance_m"] == 47.5
    assert known["heading_deg"] == 231
    assert known["wind_from_deg"] == 229
    assert known["wind_mps"] == 12.1
    assert known["depth_m"] == 6.1


@pytest.mark.parametrize(
    ("name", "begins"), [("let_go", True), ("set_late", True), ("veer", False)]
)
def test_the_track_begins_anew_when_an_anchor_is_let_go(name: str, begins: bool) -> None:
    history = TrackHistory()
    history.look(0.0, at(46.49))
    history.hear(StateEvent(name=name, state="let_go", reason="marked", mono_s=1.0))
    history.look(2.0, at(46.5001, anchor=ANCHOR))
    assert len(history) == 1
    assert (history.origin == Position(46.5, -31.2)) is begins


def test_under_way_it_begins_anew_before_the_plane_is_stretched() -> None:
    history = TrackHistory()
    for n in range(200):
        history.look(n * 5.0, at(46.5 + n * 0.005))
    assert all(abs(point[3]) <= 10_000.0 for point in points(history))
    assert history.origin is not None
    assert history.origin.lat_deg > 47.0


def test_without_a_position_there_is_no_track() -> None:
    history = TrackHistory()
    history.look(0.0, NOTHING_KNOWN)
    assert points(history) == []
    assert history.origin is None


@given(
    after_s=st.floats(-10.0, 400.0),
    step_s=st.floats(0.0, 100.0),
    looks=st.lists(st.floats(0.0, 30.0), max_size=40),
)
def test_rows_asked_for_are_some_of_all_in_order_and_as_far_apart_as_asked(
    after_s: float, step_s: float, looks: list[float]
) -> None:
    history = TrackHistory()
    run_s = 0.0
    for gap_s in looks:
        run_s += gap_s
        history.look(run_s, at(46.5))
    everything = points(history)
    some = points(history, after_s, step_s)
    times = [point[0] for point in some]
    assert [point for point in everything if point in some] == some
    assert times == sorted(times)
    # Times are told to a tenth of a second.
    assert all(time_s > after_s - 0.06 for time_s in times)
    apart = [later - earlier for earlier, later in itertools.pairwise(times)]
    assert all(gap_s >= max(step_s, EVERY_S) - 0.11 for gap_s in apart)
    if step_s <= EVERY_S:
        assert len(some) >= len([point for point in everything if point[0] > after_s + 0.06])
