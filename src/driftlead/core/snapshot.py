"""What must survive a power cut for the same watch to go on."""

import json
from typing import Any, Final

import cattrs
from attrs import field, frozen

from driftlead.alerts.alert import Alert
from driftlead.alerts.paging import Paging
from driftlead.errors import JournalError
from driftlead.geodesy.position import Position
from driftlead.watch.anchored import Anchored
from driftlead.watch.detector import AnchorInPlane, Memory
from driftlead.watch.state_table import WatchState

SNAPSHOT_VERSION: Final = 1


@frozen(kw_only=True)
class Snapshot:
    """The watch as it stands.

    ``origin`` is the origin of the plane in which ``anchored.place`` is given. ``memory`` is what
    the detector had learned of the anchor, in water of ``drawn_depth_m`` by the tide table;
    ``dragged_to`` is where a drag that goes on has put it, in the same plane.
    """

    version: int = SNAPSHOT_VERSION
    state: WatchState = WatchState.STOWED
    anchored: Anchored | None = None
    origin: Position | None = None
    farthest_m: float = 0.0
    farthest_bearing_deg: float = 0.0
    moved_m: float = 0.0
    dragged_to: AnchorInPlane | None = None
    memory: Memory | None = None
    drawn_depth_m: float | None = None
    alerts: tuple[Alert, ...] = field(factory=tuple)
    pagings: tuple[Paging, ...] = field(factory=tuple)
    last_number: int = 0


_CONVERTER: Final = cattrs.Converter(forbid_extra_keys=True)


def snapshot_to_data(snapshot: Snapshot) -> dict[str, Any]:
    """Plain dicts, lists, strings and numbers."""
    data: dict[str, Any] = _CONVERTER.unstructure(snapshot)
    return data


def snapshot_from_data(data: Any) -> Snapshot:
    """Undo ``snapshot_to_data``; raises JournalError if the data is not a snapshot."""
    try:
        version = data["version"]
        if version != SNAPSHOT_VERSION:
            raise JournalError(
                f"The stored watch is of version {version}; this program knows {SNAPSHOT_VERSION}.",
                remedy="Use the driftlead version that wrote it, or set the watch anew.",
            )
        snapshot = _CONVERTER.structure(data, Snapshot)
    except (cattrs.BaseValidationError, KeyError, TypeError, ValueError) as error:
        raise JournalError(
            f"The stored watch cannot be read ({type(error).__name__}).",
            remedy="Look at the anchor and set the watch anew with driftlead let-go.",
        ) from error
    if snapshot.state.on_watch and (snapshot.anchored is None or snapshot.origin is None):
        raise JournalError(
            f"The stored watch is {snapshot.state.value} but has no anchor.",
            remedy="Look at the anchor and set the watch anew with driftlead let-go.",
        )
    return snapshot


def snapshot_to_json(snapshot: Snapshot) -> str:
    """One line of JSON, keys sorted."""
    return json.dumps(snapshot_to_data(snapshot), sort_keys=True, separators=(",", ":"))


def snapshot_from_json(text: str) -> Snapshot:
    """Undo ``snapshot_to_json``; raises JournalError with a remedy if the text is not one."""
    try:
        data = json.loads(text)
    except ValueError as error:
        raise JournalError(
            "The stored watch is not JSON.",
            remedy="Look at the anchor and set the watch anew with driftlead let-go.",
        ) from error
    return snapshot_from_data(data)
