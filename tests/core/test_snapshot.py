"""What survives a power cut, and what is said of one that did not survive it whole."""

import contextlib
import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import AlertState, Priority
from driftlead.alerts.paging import Paging
from driftlead.core.snapshot import (
    Snapshot,
    snapshot_from_data,
    snapshot_from_json,
    snapshot_to_data,
    snapshot_to_json,
)
from driftlead.errors import JournalError
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.geodesy.position import Position
from driftlead.testing.alerts import make_alert
from driftlead.watch.anchored import Anchored
from driftlead.watch.detector import AnchorInPlane, Memory
from driftlead.watch.state_table import WatchState

NUMBERS = st.floats(-1e6, 1e6)
ROWS = st.lists(NUMBERS, max_size=3).map(tuple)
PLACES = st.builds(Position, st.floats(-90.0, 90.0), st.floats(-180.0, 179.9))
ALERTS = st.builds(
    make_alert,
    name=st.sampled_from(["drag", "fix_lost"]),
    instance=st.text(max_size=3),
    priority=st.sampled_from(Priority),
    state=st.sampled_from(AlertState),
    text=st.text(max_size=9),
    utc_s=st.none() | NUMBERS,
    moved_m=st.none() | NUMBERS,
    anchor=st.none()
    | st.builds(
        AnchorEstimate,
        st.floats(-90.0, 90.0),
        st.floats(-180.0, 180.0),
        NUMBERS,
        st.sampled_from(AnchorMethod),
    ),
)
SNAPSHOTS = st.builds(
    Snapshot,
    state=st.sampled_from(WatchState),
    anchored=st.builds(
        Anchored,
        drop=PLACES,
        place=st.builds(AnchorInPlane, NUMBERS, NUMBERS, NUMBERS),
        method=st.sampled_from(AnchorMethod),
        rode_m=st.none() | NUMBERS,
        depth_m=st.none() | NUMBERS,
    ),
    origin=PLACES,
    farthest_m=NUMBERS,
    farthest_bearing_deg=NUMBERS,
    moved_m=NUMBERS,
    memory=st.none() | st.builds(Memory, st.lists(ROWS, max_size=2).map(tuple)),
    alerts=st.lists(ALERTS, max_size=3).map(tuple),
    pagings=st.lists(
        st.builds(
            Paging,
            name=st.sampled_from(["drag", "fix_lost"]),
            instance=st.text(max_size=3),
            number=st.integers(0, 10**9),
            step=st.integers(0, 2),
            loudness=st.integers(0, 9),
            called=st.lists(st.text(max_size=3), max_size=3).map(tuple),
            since_s=NUMBERS,
            called_s=NUMBERS,
            quiet_s=NUMBERS,
        ),
        max_size=2,
    ).map(tuple),
    last_number=st.integers(0, 10**9),
)


@given(snapshot=SNAPSHOTS)
def test_it_comes_back_to_the_last_bit(snapshot: Snapshot) -> None:
    text = snapshot_to_json(snapshot)
    assert snapshot_from_json(text) == snapshot
    assert "\n" not in text
    assert list(json.loads(text)) == sorted(json.loads(text))


@pytest.mark.parametrize("state", [state for state in WatchState if state.on_watch])
@pytest.mark.parametrize("lost", ["anchored", "origin"])
def test_a_watch_without_its_anchor_is_none(state: WatchState, lost: str) -> None:
    """Taken up as it is it would watch nothing and say nothing."""
    whole = Snapshot(
        state=state,
        anchored=Anchored(
            drop=Position(46.5, -31.2),
            place=AnchorInPlane(0.0, 0.0, 3.0),
            method=AnchorMethod.MARKED,
        ),
        origin=Position(46.5, -31.2),
    )
    data = snapshot_to_data(whole)
    assert snapshot_from_data(data) == whole
    data[lost] = None
    with pytest.raises(JournalError, match="no anchor") as error:
        snapshot_from_data(data)
    assert "let-go" in error.value.remedy


@given(snapshot=SNAPSHOTS, data=st.data())
def test_one_that_is_damaged_anywhere_is_read_or_clearly_refused(
    snapshot: Snapshot, data: st.DataObject
) -> None:
    """Anything may stand in any place of it."""
    stored: Any = json.loads(snapshot_to_json(snapshot))
    place = stored
    while True:
        key = data.draw(
            st.sampled_from(sorted(place) if isinstance(place, dict) else range(len(place)))
        )
        if not isinstance(place[key], dict | list) or not place[key] or data.draw(st.booleans()):
            break
        place = place[key]
    place[key] = data.draw(
        st.sampled_from([None, True, 5, -1e300, "", "riding", [], {}, [1], {"x": 1}])
    )
    with contextlib.suppress(JournalError):
        assert isinstance(snapshot_from_json(json.dumps(stored)), Snapshot)
