"""One anchoring from let go to weigh (or slip), as it is remembered."""

from typing import Any, Final

from attrs import evolve, field, fields, frozen

from driftlead.core.drill import DRILL
from driftlead.geodesy.position import Position


@frozen(kw_only=True)
class Drag:
    """One drag: when it was found, when she held again (None: she did not), how far and whither.

    ``veered`` says that rode was veered since it was found.
    """

    found_utc_s: float
    held_utc_s: float | None = None
    moved_m: float | None = None
    bearing_deg: float | None = None
    veered: bool = False


@frozen(kw_only=True)
class RaisedAlert:
    """An alert as it was raised; ``number`` is its number in that watch."""

    number: int
    name: str
    instance: str = ""
    priority: str
    raised_utc_s: float | None
    text: str = ""


@frozen(kw_only=True)
class Slip:
    """A cable that was slipped: where the anchor was believed to lie, and where the bow was.

    ``sigma_m`` and ``bow_sigma_m`` are standard errors per axis. ``rode_m`` is the rode left down,
    ``depth_m`` the depth of water. None: not known.
    """

    utc_s: float | None
    anchor: Position
    sigma_m: float
    bow: Position | None = None
    bow_sigma_m: float | None = None
    rode_m: float | None = None
    depth_m: float | None = None


@frozen
class TrackSample:
    """Where the antenna was at one time, and the state of the watch."""

    utc_s: float
    lat_deg: float
    lon_deg: float
    state: str


@frozen(kw_only=True)
class Anchoring:
    """One anchoring. None: not known. Times are the receiver's UTC in Unix seconds.

    ``place`` is what the crew calls it. ``drop`` is the drop point as marked (``method`` says how),
    ``anchor`` where the anchor was believed last. Winds and depths are the least and the greatest
    that were measured; ``radius_m`` is the last drag circle. ``slip`` is there where the cable was
    slipped and the anchor left.
    """

    began_utc_s: float
    ended_utc_s: float | None = None
    place: str = ""
    drop: Position
    method: str
    anchor: Position | None = None
    rode_m: float | None = None
    depth_m: float | None = None
    least_depth_m: float | None = None
    greatest_depth_m: float | None = None
    least_wind_mps: float | None = None
    greatest_wind_mps: float | None = None
    radius_m: float | None = None
    drags: tuple[Drag, ...] = ()
    alerts: tuple[RaisedAlert, ...] = ()
    slip: Slip | None = None
    track: tuple[TrackSample, ...] = field(default=(), repr=False)

    @property
    def dragged(self) -> bool:
        """Whether the watch found a drag."""
        return bool(self.drags)

    @property
    def alarms(self) -> int:
        """How many alarms were raised."""
        return self.raised("alarm")

    def raised(self, priority: str) -> int:
        """How many alerts of a priority were raised; a drill is none."""
        return sum(each.priority == priority and each.name != DRILL for each in self.alerts)


_KEPT: Final = ("place",)
"""What only people say; what a machine has found never takes its place."""


def merged(old: Anchoring, new: Anchoring) -> Anchoring:
    """Put together what two sources know of the same anchoring; the newer word counts.

    What the newer does not know (a journal has no track) is kept from the older; not so the drags
    from a mark that was found to be wrong.
    """
    known: dict[str, Any] = {}
    for attribute in fields(Anchoring):
        name = attribute.name
        value = getattr(new, name)
        if name == "drags" and new.drop != old.drop:
            continue
        if value is None or value in ("", ()) or (name in _KEPT and getattr(old, name)):
            known[name] = getattr(old, name)
    return evolve(new, **known)
