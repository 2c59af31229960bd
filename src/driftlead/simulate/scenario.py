"""Everything a synthetic night is made from. Equal scenarios give equal nights, to the byte."""

import datetime as dt
from collections.abc import Mapping

from attrs import evolve, field, frozen

from driftlead.geodesy.position import Position
from driftlead.simulate.anchor import Holding
from driftlead.simulate.boat import BoatFigures
from driftlead.simulate.receiver import ReceiverFigures, Trouble
from driftlead.simulate.tide import TidePlan
from driftlead.simulate.wind import WindPlan

USUAL_TALK: Mapping[str, float] = {
    "RMC": 1.0,
    "GGA": 1.0,
    "GSA": 10.0,
    "ZDA": 60.0,
    "HDT": 2.0,
    "MWV": 10.0,
    "MWD": 60.0,
    "DPT": 10.0,
}
"""Seconds between sentences of one kind."""


@frozen(kw_only=True)
class Anchoring:
    """What the skipper does, in seconds since the start of the night.

    The anchor touches bottom at ``let_go_s``, with the bow over it and way off; the rode is
    veered to ``rode_m`` at ``veer_mps`` and the anchor dug in under the engine. The command
    follows at once; with ``late_s`` it is forgotten and given then, the boat lying back.
    ``late_instead_s`` is when it would be given if it were forgotten (see ``set_late``).
    ``rode_said_m`` is what the skipper takes the rode for; None: as it is.
    At ``weigh_s`` the anchor is off the bottom; None: the night ends with her riding to it.
    """

    let_go_s: float = 240.0
    rode_m: float = 38.0
    veer_mps: float = 0.35
    late_s: float | None = None
    weigh_s: float | None = None
    rode_said_m: float | None = None
    late_instead_s: float | None = None

    @property
    def said_m(self) -> float:
        """The rode out as the skipper says it."""
        return self.rode_m if self.rode_said_m is None else self.rode_said_m


@frozen(kw_only=True)
class Seabed:
    """Depth in metres at mean level over the drop point, and how it deepens east and north."""

    depth_m: float = 6.5
    per_m_east: float = 0.0
    per_m_north: float = 0.0

    def depth_at_m(self, e_m: float, n_m: float) -> float:
        """Depth at mean level; never less than half a metre."""
        return max(0.5, self.depth_m + self.per_m_east * e_m + self.per_m_north * n_m)


@frozen(kw_only=True)
class Instruments:
    """How the other instruments err: standard deviations and mounting.

    The compass is ``compass_off_deg`` off at every heading, and off again by
    ``compass_deviation_deg`` times the sine of the heading; the wind vane by ``vane_off_deg``.
    """

    compass_off_deg: float = 1.5
    compass_deviation_deg: float = 0.0
    compass_deg: float = 1.0
    vane_off_deg: float = 0.0
    transducer_below_water_m: float = 0.4
    sounder_m: float = 0.05


@frozen(kw_only=True)
class Scenario:
    """One night. ``start_utc`` is second 0; ``drop`` is where the anchor is let go.

    ``fix_interval_s`` is the receiver's and the step of everything that is said; ``talk`` says
    how many seconds lie between sentences of each kind, and which kinds there are.
    ``baud`` spaces the lines as a serial line would. ``longest_step_s`` is how finely the boat's
    motion is worked out, half a second at most. ``setting`` says whose night it is.
    """

    name: str
    seed: int
    story: str
    start_utc: dt.datetime
    lasts_s: float
    drop: Position
    wind: WindPlan
    boat: BoatFigures = field(factory=BoatFigures)
    tide: TidePlan = field(factory=TidePlan)
    seabed: Seabed = field(factory=Seabed)
    anchoring: Anchoring = field(factory=Anchoring)
    holding: Holding = field(factory=Holding)
    receiver: ReceiverFigures = field(factory=ReceiverFigures)
    troubles: tuple[Trouble, ...] = ()
    instruments: Instruments = field(factory=Instruments)
    fix_interval_s: float = 1.0
    longest_step_s: float = 0.25
    talk: Mapping[str, float] = field(default=USUAL_TALK)
    minute_decimals: int = 4
    baud: int = 38_400
    setting: str = "the sloop Corvid in Pellow Sound, which is nowhere."


def set_late(scenario: Scenario) -> Scenario:
    """Give the same night with the watch set late, if it says when that would be."""
    anchoring = scenario.anchoring
    return evolve(scenario, anchoring=evolve(anchoring, late_s=anchoring.late_instead_s))
