"""What the watch may know: eight cases of one and the same night."""

from typing import Final

from attrs import frozen

from driftlead.watch.evidence import Knowledge


@frozen(kw_only=True)
class Case:
    """Let go marked, or the watch set late; with a compass or not, with a wind sensor or not."""

    late: bool
    heading: bool
    wind: bool

    @property
    def key(self) -> str:
        """Its name in files."""
        parts = ("late" if self.late else "marked", "heading" if self.heading else "no-heading")
        return "-".join((*parts, "wind" if self.wind else "no-wind"))

    @property
    def title(self) -> str:
        """Its name in tables."""
        when = "set late" if self.late else "marked"
        return (
            f"{when}, {'heading' if self.heading else 'no heading'}, "
            f"{'wind' if self.wind else 'no wind'}"
        )

    @property
    def knowledge(self) -> Knowledge:
        """What the detector calls it."""
        if self.late:
            return Knowledge.LATE_WITH_HEADING if self.heading else Knowledge.LATE
        return Knowledge.MARKED_WITH_HEADING if self.heading else Knowledge.MARKED


CASES: Final = tuple(
    Case(late=late, heading=heading, wind=wind)
    for late in (False, True)
    for heading in (True, False)
    for wind in (False, True)
)


@frozen
class Target:
    """What is aimed at: metres dragged at the alarm, and the share of drags missed, at most."""

    median_m: float
    p90_m: float
    missed: float


TARGETS: Final = {
    Knowledge.MARKED_WITH_HEADING: Target(14.0, 24.0, 0.0),
    Knowledge.MARKED: Target(17.0, 28.0, 0.0),
    Knowledge.LATE_WITH_HEADING: Target(18.0, 35.0, 0.01),
    Knowledge.LATE: Target(28.0, 60.0, 0.05),
}
FALSE_PER_NIGHT: Final = 1.0 / 50.0
