"""What a plan must know of the boat and her tackle, as the configuration or the options give it."""

import datetime as dt

from attrs import frozen

from driftlead.tackle.design_load import Hull
from driftlead.tackle.rope import RopeKind
from driftlead.units import Printer, UnitSystem, WindUnit


@frozen(kw_only=True)
class PlanSettings:
    """The boat, what is in her chain locker, and how she likes it printed. None: not known.

    ``drag_area_m2`` is drag coefficient times area to the wind. ``*_size_m`` are diameters.
    ``clearance_m`` is how much water the skipper wants under the keel; half a metre by default.
    """

    name: str = ""
    length_m: float | None = None
    beam_m: float | None = None
    draught_m: float | None = None
    bow_height_m: float | None = None
    hull: Hull = Hull.SAIL
    drag_area_m2: float | None = None
    chain_m: float | None = None
    chain_size_m: float | None = None
    chain_kg_per_m: float | None = None
    rope_m: float | None = None
    rope_size_m: float | None = None
    rope_kg_per_m: float | None = None
    rope_kind: RopeKind = RopeKind.NYLON
    snubber_m: float | None = None
    snubber_size_m: float | None = None
    units: UnitSystem = UnitSystem.METRIC
    wind_units: WindUnit = WindUnit.KNOTS
    zone: dt.timezone = dt.UTC
    clearance_m: float = 0.5

    @property
    def printer(self) -> Printer:
        """What prints it as she likes it."""
        return Printer(self.units, self.wind_units)
