"""A night as numbers instead of text: what driftlead would read, beside what is true.

It takes half the time of writing NMEA 0183 and none of reading it, and gives the same numbers:
the same boat, receiver and instruments, rounded as the sentences round them.
"""

import math
from typing import TypeAlias

import numpy as np
from attrs import frozen

from driftlead.geodesy.plane import LocalPlane
from driftlead.simulate.anchor import DragMode
from driftlead.simulate.measure import Measuring
from driftlead.simulate.night import depth_said_m, manoeuvre_of, veer_said_s
from driftlead.simulate.nmea_writer import quantised_deg
from driftlead.simulate.receiver import PositionError
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.truth import TruthProcess
from driftlead.units import KNOT_MPS

Numbers: TypeAlias = np.ndarray[tuple[int], np.dtype[np.float64]]
Flags: TypeAlias = np.ndarray[tuple[int], np.dtype[np.bool_]]

_NONE = math.nan


@frozen(kw_only=True, eq=False)
class ObservedNight:
    """One row for each moment the receiver spoke; metres east and north of the drop point.

    As measured: ``east_m``, ``north_m``, ``sog_mps`` (NaN where there is no fix), ``cog_deg``
    (NaN where none is given), ``hdop``, ``satellites``, ``valid``; ``heading_deg`` by the compass,
    the wind over the ground, ``depth_m`` from the water down. As it is: the places of antenna,
    bow and anchor, ``rode_m`` (anchor and rode are NaN before let go and once aweigh),
    ``dragged_m`` straight since the drag began and ``dragged_path_m`` along the way.

    ``veered_s`` is when the skipper said how much rode is out, ``late_s`` when the watch was set,
    or would have been, if let go was forgotten. ``rode_said_m`` may fall short of ``rode_m``.
    """

    seed: int
    t_s: Numbers
    east_m: Numbers
    north_m: Numbers
    sog_mps: Numbers
    cog_deg: Numbers
    hdop: Numbers
    satellites: Numbers
    valid: Flags
    heading_deg: Numbers
    wind_from_deg: Numbers
    wind_mps: Numbers
    depth_m: Numbers
    antenna_east_m: Numbers
    antenna_north_m: Numbers
    bow_east_m: Numbers
    bow_north_m: Numbers
    anchor_east_m: Numbers
    anchor_north_m: Numbers
    rode_m: Numbers
    dragged_m: Numbers
    dragged_path_m: Numbers
    let_go_s: float
    veered_s: float
    late_s: float | None
    rode_said_m: float
    depth_said_m: float
    antenna_aft_m: float
    bow_height_m: float
    minute_decimals: int
    drag_begins_s: float | None
    mode: DragMode | None

    @property
    def quantum_m(self) -> float:
        """The step of the coordinates in metres, along a meridian."""
        return 1852.0 / 10.0**self.minute_decimals


_COLUMNS = (
    *("t_s", "east_m", "north_m", "sog_mps", "cog_deg", "hdop", "satellites", "valid"),
    *("heading_deg", "wind_from_deg", "wind_mps", "depth_m"),
    *("antenna_east_m", "antenna_north_m", "bow_east_m", "bow_north_m"),
    *("anchor_east_m", "anchor_north_m", "rode_m", "dragged_m", "dragged_path_m"),
)


def observe(scenario: Scenario, *, error: PositionError | None = None) -> ObservedNight:
    """Simulate a night without text.

    ``error`` takes the place of the modelled error of the receiver's position.
    """
    manoeuvre = manoeuvre_of(scenario)
    columns = dict(zip(_COLUMNS, _table(scenario, error), strict=True))
    columns["sog_mps"] = np.round(columns["sog_mps"] / KNOT_MPS, 2) * KNOT_MPS
    for name in ("cog_deg", "heading_deg", "wind_from_deg"):
        columns[name] = np.round(columns[name] % 360.0, 1) % 360.0
    for name in ("hdop", "wind_mps"):
        columns[name] = np.round(columns[name], 1)
    below_water_m = scenario.instruments.transducer_below_water_m
    columns["depth_m"] = np.round(columns["depth_m"] - below_water_m, 1) + below_water_m
    valid = columns.pop("valid") > 0.0
    anchoring, drag = scenario.anchoring, scenario.holding.drag
    return ObservedNight(
        seed=scenario.seed,
        valid=valid,
        **columns,
        let_go_s=anchoring.let_go_s,
        veered_s=veer_said_s(manoeuvre),
        late_s=anchoring.late_instead_s if anchoring.late_s is None else anchoring.late_s,
        rode_said_m=anchoring.said_m,
        depth_said_m=depth_said_m(scenario),
        antenna_aft_m=scenario.boat.antenna_aft_m,
        bow_height_m=scenario.boat.bow_height_m,
        minute_decimals=scenario.minute_decimals,
        drag_begins_s=None if drag is None else drag.begins_s,
        mode=None if drag is None else drag.mode,
    )


def _table(scenario: Scenario, error: PositionError | None) -> tuple[Numbers, ...]:
    """Run the night; one array for each of ``_COLUMNS``, not yet rounded but for positions."""
    plane, decimals = LocalPlane(scenario.drop), scenario.minute_decimals
    measuring = Measuring(scenario, error=error)
    rows = []
    for truth in TruthProcess(scenario, manoeuvre_of(scenario)).samples():
        reading = measuring.step(truth)
        fix = reading.fix
        if fix is None:
            continue
        if fix.valid:
            lat_deg, lon_deg = plane.to_lat_lon(fix.e_m, fix.n_m)
            east_m, north_m = plane.to_plane(
                quantised_deg(lat_deg, decimals), quantised_deg(lon_deg, decimals)
            )
            sog_mps, cog_deg = fix.sog_mps, _NONE if fix.cog_deg is None else fix.cog_deg
        else:
            east_m = north_m = sog_mps = cog_deg = _NONE
        rows.append(
            (
                *(
                    truth.t_s,
                    east_m,
                    north_m,
                    sog_mps,
                    cog_deg,
                    fix.hdop,
                    fix.satellites,
                    fix.valid,
                ),
                *(
                    reading.heading_deg,
                    reading.wind.from_deg,
                    reading.wind.speed_mps,
                    reading.depth_m,
                ),
                *truth.antenna_en_m,
                *truth.bow_en_m,
                *(truth.anchor_en_m or (_NONE, _NONE)),
                *(_NONE if truth.rode_m is None else truth.rode_m, truth.dragged_m),
                truth.dragged_path_m,
            )
        )
    table = np.array(rows, dtype=np.float64).reshape(-1, len(_COLUMNS))
    return tuple(np.ascontiguousarray(column) for column in table.T)
