"""From events and looks to anchorings."""

import datetime as dt
import itertools
import math
from typing import Any

import pytest
from attrs import fields_dict

from driftlead.core.status import Status
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.records.anchoring import Anchoring
from driftlead.records.builder import APART_M, APART_S, AnchoringBuilder, utc_from_text

DROP = Position(46.50125, -31.20115)
EVENING_S = dt.datetime(2026, 6, 14, 22, 4, tzinfo=dt.UTC).timestamp()


def status(**known: Any) -> Status:
    """A status of which only some things are known."""
    unknown: dict[str, Any] = dict.fromkeys(fields_dict(Status))
    return Status(**(unknown | {"state": "riding", "alerts": (), "sources": ()} | known))


def build(events: list[dict[str, Any]]) -> list[Anchoring]:
    """Hear events; give what ended, and what goes on still."""
    builder = AnchoringBuilder()
    ended = [each for each in map(builder.hear, events) if each is not None]
    return ended if builder.under_way is None else [*ended, builder.under_way]


def test_a_night_becomes_one_anchoring(night: list[dict[str, Any]]) -> None:
    """From let go to weigh, with its drag and its alerts."""
    (found,) = build(night)
    assert found.began_utc_s == EVENING_S
    assert found.ended_utc_s == dt.datetime(2026, 6, 15, 6, 30, tzinfo=dt.UTC).timestamp()
    assert (found.drop, found.method) == (DROP, "marked")
    (drag,) = found.drags
    assert (drag.moved_m, drag.bearing_deg) == (40.0, 51.0)
    assert drag.held_utc_s == dt.datetime(2026, 6, 15, 3, 50, tzinfo=dt.UTC).timestamp()
    assert [(each.name, each.priority) for each in found.alerts] == [
        ("rode_unknown", "caution"),
        ("drag", "alarm"),
    ]
    assert found.alarms == 1


def test_an_anchoring_that_goes_on_is_known_too(night: list[dict[str, Any]]) -> None:
    """With the drag as far as it has come."""
    (found,) = build(night[:8])
    assert found.ended_utc_s is None
    assert found.drags[0].moved_m == 31.0
    assert found.drags[0].held_utc_s is None


def test_said_again_over_the_anchor_let_go_corrects_the_first(night: list[dict[str, Any]]) -> None:
    """One anchoring with the first time and the later place."""
    again = night[0] | {
        "t": "2026-06-14T22:04:40.000Z",
        "anchor": {"lat": 46.5013, "lon": -31.2, "sigma_m": 3.0, "method": "given"},
    }
    (found,) = build([night[0], again, *night[1:]])
    assert found.began_utc_s == EVENING_S
    assert (found.drop, found.method) == (Position(46.5013, -31.2), "given")


def test_an_anchoring_whose_end_was_never_told_ends_with_the_next(
    night: list[dict[str, Any]],
) -> None:
    """Power went, and the next evening begins with let go."""
    later = [{**each, "t": str(each["t"]).replace("06-1", "07-1")} for each in night]
    first, second = build([*night[:5], *later])
    assert first.ended_utc_s is None
    assert second.began_utc_s > first.began_utc_s
    assert second.ended_utc_s is not None


def test_a_watch_set_late_is_an_anchoring(night: list[dict[str, Any]]) -> None:
    """It begins riding."""
    late = night[0] | {"name": "set_late", "state": "riding"}
    (found,) = build([late, *night[4:]])
    assert found.ended_utc_s is not None


@pytest.mark.parametrize("change", [{"t": None}, {"anchor": None}, {"t": "yesterday"}])
def test_without_time_or_place_there_is_nothing_to_remember(
    night: list[dict[str, Any]], change: dict[str, Any]
) -> None:
    """It could never be found again; and what follows does no harm."""
    assert build([night[0] | change, *night[1:]]) == []


def test_a_warning_that_became_an_alarm_counts_as_alarm(night: list[dict[str, Any]]) -> None:
    """And only once; one that only ends is not raised."""
    stale = night[2] | {"name": "data_stale", "number": 7, "priority": "warning"}
    over = night[2] | {"name": "fix_lost", "number": 8, "state": "normal"}
    (found,) = build([night[0], stale, stale | {"priority": "alarm"}, over])
    assert [(each.name, each.priority) for each in found.alerts] == [("data_stale", "alarm")]
    assert found.alerts[0].raised_utc_s == utc_from_text("2026-06-14T22:09:00.000Z")


def test_looks_add_rode_depth_and_wind(night: list[dict[str, Any]]) -> None:
    """The rode as it was last, the depth at first, the least and the greatest of what varies."""
    builder = AnchoringBuilder()
    builder.hear(night[0])
    for second, (rode_m, depth_m, wind_mps) in enumerate(
        [(None, 6.2, 5.0), (38.0, 5.1, 11.0), (38.0, 6.9, None)]
    ):
        builder.look(
            status(utc_s=EVENING_S + second, rode_m=rode_m, depth_m=depth_m, wind_mps=wind_mps)
        )
    found = builder.under_way
    assert found is not None
    assert (found.rode_m, found.depth_m) == (38.0, 6.2)
    assert (found.least_depth_m, found.greatest_depth_m) == (5.1, 6.9)
    assert (found.least_wind_mps, found.greatest_wind_mps) == (5.0, 11.0)


def test_the_kept_track_is_never_far_from_the_one_sailed(night: list[dict[str, Any]]) -> None:
    """A boat yawing at a quarter of a metre a second: few points are kept, none far off."""
    builder = AnchoringBuilder()
    builder.hear(night[0])
    plane = LocalPlane(DROP)
    sailed = []
    for second in range(0, 3600, 5):
        swing = math.radians(30.0 * math.sin(second / 60.0))
        point = (40.0 * math.sin(swing), 40.0 * math.cos(swing))
        sailed.append((EVENING_S + second, point))
        builder.look(status(utc_s=EVENING_S + second, position=plane.to_position(*point)))
    assert builder.under_way is not None
    kept = builder.under_way.track
    assert 60 < len(kept) < len(sailed) // 2
    times = [each.utc_s for each in kept]
    assert all(later - earlier >= APART_S for earlier, later in itertools.pairwise(times))
    for utc_s, point in sailed:
        last = max((each for each in kept if each.utc_s <= utc_s), key=lambda each: each.utc_s)
        at = plane.to_plane(last.lat_deg, last.lon_deg)
        # She goes up to 40 m x 30 degrees / 60 s = 0.35 m/s: 5.2 m in the time that is skipped.
        assert math.dist(at, point) < APART_M + 0.36 * APART_S


def test_a_boat_that_lies_still_leaves_a_point_every_five_minutes(
    night: list[dict[str, Any]],
) -> None:
    """And one at once when the state changes."""
    builder = AnchoringBuilder()
    builder.hear(night[0])
    for second in range(0, 1201, 5):
        entered = "riding" if second < 700 else "dragging"
        builder.look(status(utc_s=EVENING_S + second, position=DROP, state=entered))
    assert builder.under_way is not None
    kept = [(each.utc_s - EVENING_S, each.state) for each in builder.under_way.track]
    assert kept == [
        (0.0, "riding"),
        (300.0, "riding"),
        (600.0, "riding"),
        (700.0, "dragging"),
        (1000.0, "dragging"),
    ]


def test_a_drag_that_goes_on_comes_to_what_the_status_says(night: list[dict[str, Any]]) -> None:
    """Until she is weighed without having held."""
    builder = AnchoringBuilder()
    for event in night[:7]:
        builder.hear(event)
    to = LocalPlane(DROP).to_position(60.0, 80.0)
    estimate = AnchorEstimate(to.lat_deg, to.lon_deg, 5.0, AnchorMethod.MOVED)
    builder.look(status(utc_s=EVENING_S + 19_000, anchor=estimate, moved_m=100.0))
    weighed = night[9] | {"anchor": None}
    found = builder.hear(weighed)
    assert found is not None
    assert found.drags[0].moved_m == 100.0
    assert found.drags[0].bearing_deg == pytest.approx(36.9, abs=0.05)
    assert found.anchor is not None
    assert found.anchor.lat_deg == pytest.approx(to.lat_deg)


def test_a_restart_takes_up_what_was_interrupted(
    night: list[dict[str, Any]], anchoring: Anchoring
) -> None:
    """The track goes on after the last point kept, and the end is told of the same anchoring."""
    builder = AnchoringBuilder(anchoring)
    builder.look(status(utc_s=anchoring.track[-1].utc_s + 600.0, position=DROP, state="riding"))
    found = builder.hear(night[9])
    assert found is not None
    assert found.began_utc_s == anchoring.began_utc_s
    assert len(found.track) == len(anchoring.track) + 1


def test_what_is_looked_at_between_anchorings_is_not_kept() -> None:
    """No anchor, no record."""
    builder = AnchoringBuilder()
    builder.look(status(utc_s=EVENING_S, position=DROP))
    assert builder.under_way is None


def test_a_mark_that_was_corrected_takes_the_drag_found_from_it_away(
    night: list[dict[str, Any]],
) -> None:
    """The one that goes on; one from which she held again was real."""
    there = {"lat": 46.5010, "lon": -31.2010, "sigma_m": 5.0, "method": "given"}
    corrected = night[4] | {"name": "mark_corrected", "anchor": there}
    (found,) = build([*night[:8], corrected])
    assert (found.drop, found.method) == (Position(46.5010, -31.2010), "given")
    assert found.anchor == found.drop
    assert found.drags == ()
    (held,) = build([*night[:9], corrected])
    assert [drag.moved_m for drag in held.drags] == [40.0]


def test_a_drag_after_which_rode_was_veered_goes_with_the_wrong_mark(
    night: list[dict[str, Any]],
) -> None:
    """Whether she held again before the veering or not."""
    there = {"lat": 46.5010, "lon": -31.2010, "sigma_m": 5.0, "method": "given"}
    veered = night[4] | {"name": "veer", "state": "laying_back"}
    corrected = night[4] | {"name": "mark_corrected", "anchor": there}
    for before in (night[:8], night[:9]):
        (found,) = build([*before, veered, corrected])
        assert found.drags == ()


def test_after_a_restart_let_go_said_again_corrects_the_first(night: list[dict[str, Any]]) -> None:
    """The watch that goes on says in which state it is."""
    first = AnchoringBuilder()
    first.hear(night[0])
    builder = AnchoringBuilder(first.under_way, state="let_go")
    assert builder.hear(night[0] | {"t": "2026-06-14T22:06:00.000Z"}) is None
    assert builder.under_way is not None
    assert builder.under_way.began_utc_s == EVENING_S
