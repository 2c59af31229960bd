"""The states of the watch and what leads from one to another: the only place that says so.

Everything that changes the state goes through ``next_state``. An event the table does not list
for a state is refused and changes nothing.
"""

import enum
from typing import Final

from driftlead.errors import RefusedError


class WatchState(enum.StrEnum):
    """Where the anchor is in its day."""

    STOWED = "stowed"
    """In its place on the bow; no watch."""
    LET_GO = "let_go"
    """It touches bottom; the boat is still over it."""
    LAYING_BACK = "laying_back"
    """The boat falls astern while rode is veered."""
    BROUGHT_UP = "brought_up"
    """She has fetched up to it and lies to it; the first minutes are watched closely."""
    RIDING = "riding"
    """She rides to her anchor."""
    DRAGGING = "dragging"
    """The anchor is coming home."""
    AWEIGH = "aweigh"
    """Off the bottom and coming up; no watch."""
    SLIPPED = "slipped"
    """Left on the bottom with its cable slipped and buoyed; no watch."""

    @property
    def on_watch(self) -> bool:
        """Whether there is an anchor on the bottom to watch."""
        return self not in _OFF_WATCH


_OFF_WATCH: Final = (WatchState.STOWED, WatchState.AWEIGH, WatchState.SLIPPED)


class WatchEvent(enum.StrEnum):
    """What may happen to the watch: the skipper's commands, and what the track shows."""

    LET_GO = "let_go"
    """Command: the anchor touches bottom now."""
    SET_LATE = "set_late"
    """Command: the anchor has been down for a while and the boat lies back."""
    VEER = "veer"
    """Command: this much rode is out."""
    CORRECT_MARK = "mark_corrected"
    """Command: the anchor does not lie where it was thought to, but there."""
    WEIGH = "weigh"
    """Command: the anchor leaves the bottom."""
    SLIP = "slipped"
    """Command: the cable is slipped, and the anchor stays where it is."""
    FELL_BACK = "fell_back"
    """The track leaves the drop point."""
    FETCHED_UP = "fetched_up"
    """The boat has stopped falling back."""
    SETTLED = "settled"
    """She has lain to the anchor for a while without moving it."""
    DRAG_FOUND = "drag_found"
    """The detector says that the anchor moves."""
    HELD_AGAIN = "held_again"
    """After a drag, the anchor has stopped moving."""
    STOWED = "stowed"
    """Time or way made good say that the anchor is up."""


_S, _E = WatchState, WatchEvent

TRANSITIONS: Final[dict[WatchState, dict[WatchEvent, WatchState]]] = {
    _S.STOWED: {_E.LET_GO: _S.LET_GO, _E.SET_LATE: _S.RIDING},
    _S.LET_GO: {
        # Said too early, said again: the later word counts.
        _E.LET_GO: _S.LET_GO,
        _E.VEER: _S.LAYING_BACK,
        _E.CORRECT_MARK: _S.LET_GO,
        _E.FELL_BACK: _S.LAYING_BACK,
        _E.DRAG_FOUND: _S.DRAGGING,
        _E.WEIGH: _S.AWEIGH,
        _E.SLIP: _S.SLIPPED,
    },
    _S.LAYING_BACK: {
        _E.VEER: _S.LAYING_BACK,
        _E.CORRECT_MARK: _S.LAYING_BACK,
        _E.FETCHED_UP: _S.BROUGHT_UP,
        _E.DRAG_FOUND: _S.DRAGGING,
        _E.WEIGH: _S.AWEIGH,
        _E.SLIP: _S.SLIPPED,
    },
    _S.BROUGHT_UP: {
        _E.VEER: _S.LAYING_BACK,
        _E.CORRECT_MARK: _S.BROUGHT_UP,
        _E.SETTLED: _S.RIDING,
        _E.DRAG_FOUND: _S.DRAGGING,
        _E.WEIGH: _S.AWEIGH,
        _E.SLIP: _S.SLIPPED,
    },
    _S.RIDING: {
        _E.VEER: _S.RIDING,
        _E.CORRECT_MARK: _S.RIDING,
        _E.DRAG_FOUND: _S.DRAGGING,
        _E.WEIGH: _S.AWEIGH,
        _E.SLIP: _S.SLIPPED,
    },
    _S.DRAGGING: {
        _E.VEER: _S.LAYING_BACK,
        # What was taken for a drag was a wrong mark.
        _E.CORRECT_MARK: _S.RIDING,
        _E.HELD_AGAIN: _S.RIDING,
        _E.WEIGH: _S.AWEIGH,
        _E.SLIP: _S.SLIPPED,
    },
    _S.AWEIGH: {
        _E.LET_GO: _S.LET_GO,
        _E.SET_LATE: _S.RIDING,
        _E.STOWED: _S.STOWED,
    },
    # With another anchor, or with this one recovered.
    _S.SLIPPED: {_E.LET_GO: _S.LET_GO, _E.SET_LATE: _S.RIDING},
}

_REMEDIES: Final[dict[WatchEvent, str]] = {
    _E.LET_GO: "The anchor is down already. If it lies elsewhere than it is marked, say "
    "`driftlead correct-mark`; if it has been up since, say `driftlead weigh` first.",
    _E.SET_LATE: "A watch is kept already. If the anchor lies elsewhere than it is marked, say "
    "`driftlead correct-mark`; to set the watch anew, say `driftlead weigh` first.",
    _E.VEER: "No anchor is down. Say `driftlead let-go` when it touches bottom.",
    _E.CORRECT_MARK: "No anchor is down, so there is no mark. Say `driftlead let-go` first.",
    _E.WEIGH: "No anchor is down, so there is none to weigh.",
    _E.SLIP: "No anchor is down, so there is no cable to slip.",
}

_COMMANDS: Final[dict[WatchEvent, str]] = {
    _E.LET_GO: "let-go",
    _E.SET_LATE: "let-go --late",
    _E.VEER: "veer",
    _E.CORRECT_MARK: "correct-mark",
    _E.WEIGH: "weigh",
    _E.SLIP: "slip",
}
"""What a person says for it."""


def is_legal(state: WatchState, event: WatchEvent) -> bool:
    """Whether ``event`` means anything in ``state``."""
    return event in TRANSITIONS[state]


def next_state(state: WatchState, event: WatchEvent) -> WatchState:
    """The state after ``event``; raises RefusedError with the remedy if it is illegal."""
    following = TRANSITIONS[state].get(event)
    if following is None:
        said = _COMMANDS.get(event, event.value.replace("_", " "))
        raise RefusedError(
            f"{said} makes no sense while {state.value.replace('_', ' ')}.",
            remedy=_REMEDIES.get(event, ""),
        )
    return following
