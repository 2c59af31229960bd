"""What a replay is told: the boat's measures, the rode, and how the anchor's place is known."""

import datetime as dt

from attrs import evolve, field, frozen

from driftlead.core.settings import CoreSettings
from driftlead.errors import UserInputError
from driftlead.geodesy.position import Position


@frozen(kw_only=True)
class ReplaySettings:
    """Options of a replay; None: not given.

    One of ``drop`` (where the anchor is), ``drop_at`` (when it touched bottom) and
    ``set_late_at`` (when the watch was set, boat already lying back) says how the watch is set.
    ``date`` is for logs that never say one.
    """

    rode_m: float | None = None
    depth_m: float | None = None
    bow_height_m: float | None = None
    antenna_aft_m: float | None = None
    drop: Position | None = None
    drop_at: dt.datetime | dt.time | None = None
    set_late_at: dt.datetime | dt.time | None = None
    date: dt.date | None = None
    core: CoreSettings = field(factory=CoreSettings)

    @property
    def sets_the_watch(self) -> bool:
        """Whether the options themselves say how the watch is set."""
        return not (self.drop is None and self.drop_at is None and self.set_late_at is None)

    def core_settings(self, base: CoreSettings | None = None) -> CoreSettings:
        """The core's settings: ``base`` (from a recording) or the defaults, with the measures."""
        settings = self.core if base is None else base
        boat = settings.watch.boat
        if self.bow_height_m is not None:
            boat = evolve(boat, bow_height_m=self.bow_height_m)
        if self.antenna_aft_m is not None:
            boat = evolve(boat, antenna_aft_m=self.antenna_aft_m)
        return evolve(settings, watch=evolve(settings.watch, boat=boat))


def parse_moment(text: str) -> dt.datetime | dt.time:
    """``2026-11-25T02:13:45Z`` or ``02:13[:45]``, UTC; the latter is the first such time.

    Raises UserInputError showing how to write it.
    """
    stripped = text.strip().removesuffix("Z")
    try:
        if "T" in stripped or " " in stripped:
            moment = dt.datetime.fromisoformat(stripped)
            if moment.tzinfo is not None:
                return moment.astimezone(dt.UTC)
            return moment.replace(tzinfo=dt.UTC)
        time = dt.time.fromisoformat(stripped)
    except ValueError:
        raise UserInputError(
            f"{text!r} is not a time.",
            remedy="Write UTC, as 2026-11-25T02:13:45Z or 02:13:45.",
        ) from None
    if time.tzinfo is not None or ":" not in stripped:
        raise UserInputError(
            f"{text!r} is not a time of day.", remedy="Write UTC, as 02:13:45 or 02:13."
        )
    return time
