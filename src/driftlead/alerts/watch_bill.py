"""The watch bill: who of the crew stands which watch, and by which notifiers they are called."""

from typing import Final

from attrs import field, frozen

DAY_S: Final = 86_400.0


@frozen
class WatchHours:
    """A watch in seconds of the ship's day, from ``from_s`` up to but without ``to_s``.

    One that ends before it begins goes over midnight.
    """

    from_s: float
    to_s: float

    def covers(self, tod_s: float) -> bool:
        """Whether this time of the ship's day is within the watch."""
        if self.from_s < self.to_s:
            return self.from_s <= tod_s < self.to_s
        return tod_s >= self.from_s or tod_s < self.to_s


@frozen(kw_only=True)
class CrewMember:
    """Somebody aboard: the notifiers that reach them and no one else, and their watches."""

    name: str
    notifiers: tuple[str, ...]
    watches: tuple[WatchHours, ...] = ()


@frozen(kw_only=True)
class WatchBill:
    """The crew in the order in which they are called, and what ship's time is.

    ``utc_offset_s`` is ship's time minus UTC: positive east of Greenwich.
    """

    crew: tuple[CrewMember, ...] = field(factory=tuple)
    utc_offset_s: float = 0.0

    def find(self, name: str) -> CrewMember | None:
        """The member of the crew of this name."""
        return next((member for member in self.crew if member.name == name), None)

    def on_watch(self, utc_s: float) -> CrewMember | None:
        """Whose watch it is at ``utc_s`` (Unix seconds); the first of several, None if nobody's."""
        tod_s = (utc_s + self.utc_offset_s) % DAY_S
        for member in self.crew:
            if any(watch.covers(tod_s) for watch in member.watches):
                return member
        return None

    def in_order(self, utc_s: float | None) -> tuple[CrewMember, ...]:
        """The crew in the order in which they are called: first whose watch it is, if known."""
        first = None if utc_s is None else self.on_watch(utc_s)
        return tuple(sorted(self.crew, key=lambda member: member is not first))
