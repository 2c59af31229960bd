"""The response card for the watch as it stands: one place for the terminal, the page and others."""

from typing import Final, Protocol

from driftlead.geodesy.position import Position
from driftlead.planning.danger_ahead import DangerAhead
from driftlead.planning.response import ResponseCard, Situation, response_card
from driftlead.units import Printer

_DRAGGING: Final = "dragging"


class _Place(Protocol):
    @property
    def lat_deg(self) -> float: ...
    @property
    def lon_deg(self) -> float: ...


class _Status(Protocol):
    """What is asked of a ``driftlead.core.status.Status``, which lies in a layer above this."""

    @property
    def state(self) -> str: ...
    @property
    def moved_m(self) -> float | None: ...
    @property
    def moved_deg(self) -> float | None: ...
    @property
    def rate_mps(self) -> float | None: ...
    @property
    def danger(self) -> DangerAhead | None: ...
    @property
    def rode_m(self) -> float | None: ...
    @property
    def depth_m(self) -> float | None: ...
    @property
    def anchor_depth_m(self) -> float | None: ...
    @property
    def rise_m(self) -> float | None: ...
    @property
    def anchor(self) -> _Place | None: ...


class _Tackle(Protocol):
    @property
    def rode_aboard_m(self) -> float | None: ...


class _Settings(Protocol):
    """What is asked of a ``driftlead.watch.settings.WatchSettings``."""

    @property
    def tackle(self) -> _Tackle: ...


def situation_of(status: _Status, settings: _Settings) -> Situation:
    """What is known, from the status of the watch and its settings."""
    anchor = status.anchor
    # The sounder's depth is of where she is now; the anchor's is the next best.
    depth_m = status.depth_m if status.depth_m is not None else status.anchor_depth_m
    return Situation(
        moved_m=status.moved_m,
        bearing_deg=status.moved_deg,
        rate_mps=status.rate_mps,
        danger=status.danger,
        rode_m=status.rode_m,
        rode_aboard_m=settings.tackle.rode_aboard_m,
        depth_m=depth_m,
        rise_to_high_water_m=status.rise_m,
        anchor=None if anchor is None else Position(anchor.lat_deg, anchor.lon_deg),
    )


def card_of(
    status: _Status, settings: _Settings, units: Printer | None = None
) -> ResponseCard | None:
    """The card while she drags, None otherwise.

    ``status`` is a ``core.status.Status``, ``settings`` the ``WatchSettings`` of the same core.
    """
    if status.state != _DRAGGING:
        return None
    return response_card(situation_of(status, settings), units)
