"""The table of the watch's states: what it lists is possible, and nothing else is.

The legal pairs stand here once more, by hand, from what happens to an anchor in its day.
"""

from collections import deque

import pytest

from driftlead.errors import RefusedError
from driftlead.watch.state_table import (
    TRANSITIONS,
    WatchEvent,
    WatchState,
    is_legal,
    next_state,
)

LEGAL = {
    # stowed: only an anchor that goes down
    ("stowed", "let_go"): "let_go",
    ("stowed", "set_late"): "riding",
    # on the bottom, boat over it
    ("let_go", "let_go"): "let_go",
    ("let_go", "veer"): "laying_back",
    ("let_go", "mark_corrected"): "let_go",
    ("let_go", "fell_back"): "laying_back",
    ("let_go", "drag_found"): "dragging",
    ("let_go", "weigh"): "aweigh",
    ("let_go", "slipped"): "slipped",
    # falling astern
    ("laying_back", "veer"): "laying_back",
    ("laying_back", "mark_corrected"): "laying_back",
    ("laying_back", "fetched_up"): "brought_up",
    ("laying_back", "drag_found"): "dragging",
    ("laying_back", "weigh"): "aweigh",
    ("laying_back", "slipped"): "slipped",
    # fetched up to it
    ("brought_up", "veer"): "laying_back",
    ("brought_up", "mark_corrected"): "brought_up",
    ("brought_up", "settled"): "riding",
    ("brought_up", "drag_found"): "dragging",
    ("brought_up", "weigh"): "aweigh",
    ("brought_up", "slipped"): "slipped",
    # the night
    ("riding", "veer"): "riding",
    ("riding", "mark_corrected"): "riding",
    ("riding", "drag_found"): "dragging",
    ("riding", "weigh"): "aweigh",
    ("riding", "slipped"): "slipped",
    # coming home
    ("dragging", "veer"): "laying_back",
    ("dragging", "mark_corrected"): "riding",
    ("dragging", "held_again"): "riding",
    ("dragging", "weigh"): "aweigh",
    ("dragging", "slipped"): "slipped",
    # coming up
    ("aweigh", "let_go"): "let_go",
    ("aweigh", "set_late"): "riding",
    ("aweigh", "stowed"): "stowed",
    # left on the bottom: another goes down, or this one again
    ("slipped", "let_go"): "let_go",
    ("slipped", "set_late"): "riding",
}
COMMANDS = (
    WatchEvent.LET_GO,
    WatchEvent.SET_LATE,
    WatchEvent.VEER,
    WatchEvent.CORRECT_MARK,
    WatchEvent.WEIGH,
    WatchEvent.SLIP,
)
PAIRS = [(state, event) for state in WatchState for event in WatchEvent]


@pytest.mark.parametrize(("state", "event"), PAIRS)
def test_every_pair_of_state_and_event_is_allowed_or_refused_as_listed(
    state: WatchState, event: WatchEvent
) -> None:
    wanted = LEGAL.get((state.value, event.value))
    assert is_legal(state, event) is (wanted is not None)
    if wanted is not None:
        assert next_state(state, event) is WatchState(wanted)
        return
    with pytest.raises(RefusedError, match="makes no sense") as refused:
        next_state(state, event)
    assert f"while {state.value.replace('_', ' ')}." in refused.value.message
    assert "(" not in refused.value.message
    if event in COMMANDS:
        assert refused.value.remedy


@pytest.mark.parametrize(
    ("state", "event", "word"),
    [
        (WatchState.RIDING, WatchEvent.LET_GO, "weigh"),
        (WatchState.LAYING_BACK, WatchEvent.LET_GO, "correct-mark"),
        (WatchState.RIDING, WatchEvent.SET_LATE, "correct-mark"),
        (WatchState.DRAGGING, WatchEvent.SET_LATE, "weigh"),
        (WatchState.STOWED, WatchEvent.VEER, "let-go"),
        (WatchState.AWEIGH, WatchEvent.WEIGH, "No anchor is down"),
        (WatchState.SLIPPED, WatchEvent.WEIGH, "No anchor is down"),
        (WatchState.SLIPPED, WatchEvent.SLIP, "No anchor is down"),
    ],
)
def test_a_refusal_says_what_to_do_instead(state: WatchState, event: WatchEvent, word: str) -> None:
    with pytest.raises(RefusedError) as refused:
        next_state(state, event)
    assert word in refused.value.remedy


@pytest.mark.parametrize(
    ("state", "event", "message"),
    [
        (
            WatchState.LAYING_BACK,
            WatchEvent.SET_LATE,
            "let-go --late makes no sense while laying back.",
        ),
        (WatchState.LAYING_BACK, WatchEvent.LET_GO, "let-go makes no sense while laying back."),
        (WatchState.STOWED, WatchEvent.CORRECT_MARK, "correct-mark makes no sense while stowed."),
        (WatchState.STOWED, WatchEvent.SLIP, "slip makes no sense while stowed."),
    ],
)
def test_a_refusal_names_what_was_typed(state: WatchState, event: WatchEvent, message: str) -> None:
    with pytest.raises(RefusedError) as refused:
        next_state(state, event)
    assert refused.value.message == message


@pytest.mark.parametrize("event", [WatchEvent.LET_GO, WatchEvent.SET_LATE])
def test_where_a_refusal_points_to_a_correction_that_is_possible(event: WatchEvent) -> None:
    for state in WatchState:
        if not is_legal(state, event) and state is not WatchState.STOWED:
            assert is_legal(state, WatchEvent.CORRECT_MARK)


def test_a_watch_is_kept_exactly_while_the_anchor_is_on_the_bottom() -> None:
    off = {state for state in WatchState if not state.on_watch}
    assert off == {WatchState.STOWED, WatchState.AWEIGH, WatchState.SLIPPED}


def test_every_state_is_reached_and_every_state_leads_back_to_stowed() -> None:
    """No state is a trap, and none is dead."""
    for start in WatchState:
        seen = {start}
        waiting = deque([start])
        while waiting:
            for following in TRANSITIONS[waiting.popleft()].values():
                if following not in seen:
                    seen.add(following)
                    waiting.append(following)
        assert seen == set(WatchState)


@pytest.mark.parametrize("state", [state for state in WatchState if state.on_watch])
def test_from_every_state_of_the_watch_a_drag_is_found_and_the_watch_is_ended(
    state: WatchState,
) -> None:
    """There is no state in which she may drag unseen, and none that cannot be left on purpose."""
    assert is_legal(state, WatchEvent.WEIGH)
    assert is_legal(state, WatchEvent.SLIP)
    assert state is WatchState.DRAGGING or is_legal(state, WatchEvent.DRAG_FOUND)


def test_the_walk_of_a_whole_night() -> None:
    """Let go, veer, fall back, fetch up, settle, drag, veer, hold, weigh, stow."""
    walk = [
        (WatchEvent.LET_GO, WatchState.LET_GO),
        (WatchEvent.FELL_BACK, WatchState.LAYING_BACK),
        (WatchEvent.VEER, WatchState.LAYING_BACK),
        (WatchEvent.FETCHED_UP, WatchState.BROUGHT_UP),
        (WatchEvent.SETTLED, WatchState.RIDING),
        (WatchEvent.VEER, WatchState.RIDING),
        (WatchEvent.DRAG_FOUND, WatchState.DRAGGING),
        (WatchEvent.VEER, WatchState.LAYING_BACK),
        (WatchEvent.DRAG_FOUND, WatchState.DRAGGING),
        (WatchEvent.HELD_AGAIN, WatchState.RIDING),
        (WatchEvent.WEIGH, WatchState.AWEIGH),
        (WatchEvent.STOWED, WatchState.STOWED),
    ]
    state = WatchState.STOWED
    for event, wanted in walk:
        state = next_state(state, event)
        assert state is wanted
