"""The status as JSON: the card while she drags, and only then."""

from typing import Any

import pytest

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.core.status import Status
from driftlead.daemon.status_json import status_to_data
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.planning.danger_ahead import DangerAhead, DangerKind
from driftlead.watch.settings import TackleSettings, WatchSettings
from driftlead.watch.state_table import WatchState

DRAG = Alert(
    name="drag",
    number=1,
    priority=Priority.ALARM,
    state=AlertState.ACTIVE_UNACKNOWLEDGED,
    reason="anchor_moved",
    text="The anchor is dragging.",
    mono_s=0.0,
    bearing_deg=90.0,
)
PIER = DangerAhead(
    name="west pier",
    kind=DangerKind.PIER,
    distance_m=86.4,
    bearing_deg=92.0,
    minutes=12.0,
    nearest_name="west pier",
    nearest_m=86.0,
    nearest_bearing_deg=95.0,
)


def data(
    state: WatchState,
    *,
    rode_aboard_m: float | None = 60.0,
    danger: DangerAhead | None = PIER,
) -> dict[str, Any]:
    """What the daemon answers of a boat that has dragged 18 m on 35 of her metres."""
    status = Status(
        state=state.value,
        utc_s=None,
        set_result=None,
        verdict="dragging",
        reason="anchor_moved",
        confidence=0.99,
        distance_m=60.0,
        bearing_deg=90.0,
        radius_m=41.0,
        moved_m=18.0,
        rate_mps=0.12,
        position=None,
        anchor=AnchorEstimate(46.5, -31.2, 5.0, AnchorMethod.MOVED),
        rode_m=35.0,
        depth_m=6.5,
        heading_deg=None,
        wind_from_deg=None,
        wind_mps=None,
        fix_age_s=1.0,
        receiver=None,
        moved_deg=90.0,
        danger=danger,
        anchor_depth_m=6.9,
        rise_m=1.2,
        alerts=(DRAG,),
    )
    return status_to_data(
        status,
        on_watch=True,
        health={},
        journal_ok=True,
        recording_ok=True,
        lost_lines=0,
        settings=WatchSettings(tackle=TackleSettings(rode_aboard_m=rode_aboard_m)),
    )


def test_while_she_drags_it_carries_the_card_filled_in_with_what_is_known() -> None:
    text = "\n".join(data(WatchState.DRAGGING)["response"])
    assert "The watch has her anchor 18 m towards 090\N{DEGREE SIGN} (E)" in text
    assert "There is room for 25 m more" in text
    assert "differ from 6.5 m" in text
    assert "46\N{DEGREE SIGN}30.000'N" in text
    assert "the skipper decides" in text
    assert "west pier (pier) is 86 m away along the drift: 12 minutes" in text


def test_it_names_the_danger_with_metres_bearing_and_minutes() -> None:
    told = data(WatchState.DRAGGING)
    assert told["danger"] == {
        "name": "west pier",
        "kind": "pier",
        "distance_m": 86.4,
        "bearing_deg": 92.0,
        "minutes": 12.0,
        "nearest_name": "west pier",
        "nearest_m": 86.0,
        "nearest_bearing_deg": 95.0,
    }
    assert (told["moved_deg"], told["anchor_depth_m"], told["rise_m"]) == (90.0, 6.9, 1.2)


def test_without_all_the_rode_there_is_no_length_to_veer_is_named() -> None:
    text = "\n".join(data(WatchState.DRAGGING, rode_aboard_m=None, danger=None)["response"])
    assert "If there is room astern and rode left" in text


@pytest.mark.parametrize("state", [each for each in WatchState if each is not WatchState.DRAGGING])
def test_in_any_other_state_there_is_no_card(state: WatchState) -> None:
    assert data(state)["response"] is None
