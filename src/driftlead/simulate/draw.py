"""Chance nights: everything about a night drawn from its seed, for tuning and for judging.

Each part is drawn from its own stream of chances, so that the same seed with and without a drag
is the same boat, rode, tide and receiver. All is synthetic, and lies in open ocean.
"""

import datetime as dt
from random import Random

from driftlead.geodesy.position import Position, wrap_lon_deg
from driftlead.simulate.anchor import DragMode, DragPlan, Holding
from driftlead.simulate.boat import BoatFigures
from driftlead.simulate.draw_drag import draw_drag, gusts_of
from driftlead.simulate.draw_receiver import draw_receiver, draw_troubles
from driftlead.simulate.draw_wind import DRAGGING_MPS, Blow, draw_wind
from driftlead.simulate.noise import stream
from driftlead.simulate.scenario import USUAL_TALK, Anchoring, Instruments, Scenario, Seabed
from driftlead.simulate.tide import M2_PERIOD_S, TidePlan
from driftlead.simulate.wind import WindPlan

MIN_S = 60.0
HOUR_S = 3600.0

# South, north, west, east (east beyond 180: over the antimeridian); no land in any of them.
_OCEAN = (
    (42.0, 60.0, -42.0, -18.0),
    (-35.0, -18.0, -27.0, -16.0),
    (-50.0, -30.0, -130.0, -100.0),
    (-35.0, -22.0, 75.0, 100.0),
    (34.0, 48.0, 165.0, 195.0),
    (-8.0, 8.0, -125.0, -105.0),
)


def draw_night(
    seed: int,
    *,
    drags: bool,
    mode: DragMode | None = None,
    hours: float = 8.0,
    interval_s: float = 1.0,
) -> Scenario:
    """Draw a night of at least an hour; ``mode`` is how she drags, None: whichever it is.

    ``set_late`` makes of it the night in which let go was forgotten. Raises ValueError for a
    mode without a drag, and for a night too short to drag in.
    """
    if mode is not None and not drags:
        raise ValueError("an anchor that holds has no mode of dragging")
    if hours < 1.0:
        raise ValueError("a night has at least an hour")
    lasts_s = hours * HOUR_S
    boat = _draw_boat(stream(seed, "draw boat"))
    anchoring, depth_m = _draw_anchoring(stream(seed, "draw anchoring"), boat)
    let_go_s = anchoring.let_go_s
    drag = None
    if drags:
        drag = _draw_drag(stream(seed, "draw drag"), mode, let_go_s=let_go_s, lasts_s=lasts_s)
    wind = _draw_wind(seed, drag, lasts_s=lasts_s)
    tide = _draw_tide(
        stream(seed, "draw tide"), depth_m=depth_m, wind_from_deg=wind.from_deg.at(0.0)
    )
    settling = stream(seed, "draw settling")
    slope = stream(seed, "draw slope")
    where = stream(seed, "draw place")
    listening = stream(seed, "draw instruments")
    troubles = draw_troubles(stream(seed, "draw troubles"), lasts_s=lasts_s, let_go_s=let_go_s)
    how = "holds" if drag is None or drag.mode is None else drag.mode.value
    return Scenario(
        name=f"drawn-{seed}-{how}",
        seed=seed,
        story="A night drawn by chance. " + _told(drag),
        start_utc=_draw_start(where),
        lasts_s=lasts_s,
        drop=_draw_drop(where),
        wind=wind,
        boat=boat,
        tide=tide,
        seabed=Seabed(
            depth_m=depth_m - tide.height_m(let_go_s),
            per_m_east=slope.gauss(0.0, 0.004),
            per_m_north=slope.gauss(0.0, 0.004),
        ),
        anchoring=anchoring,
        holding=Holding(
            settles_m=settling.uniform(0.0, 3.0), settle_s=settling.uniform(200.0, 600.0), drag=drag
        ),
        receiver=draw_receiver(stream(seed, "draw receiver")),
        troubles=troubles,
        instruments=Instruments(
            compass_off_deg=max(-6.0, min(6.0, listening.gauss(0.0, 2.5))),
            compass_deviation_deg=listening.uniform(0.0, 3.0),
            compass_deg=listening.uniform(0.5, 2.0),
            vane_off_deg=listening.gauss(0.0, 3.0),
            sounder_m=listening.uniform(0.03, 0.12),
        ),
        fix_interval_s=interval_s,
        talk={**USUAL_TALK, "RMC": interval_s, "GGA": interval_s},
        setting="a boat drawn by chance, on open ocean. None of it is real.",
        longest_step_s=0.5,
        minute_decimals=3 if listening.random() < 0.12 else 4,
    )


def _told(drag: DragPlan | None) -> str:
    if drag is None or drag.mode is None:
        return "The anchor holds."
    return f"The anchor drags after {drag.begins_s / HOUR_S:.1f} hours ({drag.mode.value})."


def _draw_boat(random: Random) -> BoatFigures:
    """Draw a boat of 8 to 15 m; one in four has rope in her rode, which is light and stretches."""
    aft_m = random.uniform(6.0, 12.0)
    length_m = aft_m + random.uniform(1.5, 3.0)
    bigger = length_m / 10.4
    sheer_deg, sheer_s = random.uniform(12.0, 28.0), random.uniform(60.0, 120.0)
    chain_kg_per_m = random.choice((1.15, 1.40, 2.25)) if bigger < 1.2 else 2.25
    rope = random.random() < 0.25
    return BoatFigures(
        length_m=length_m,
        bow_height_m=random.uniform(0.8, 1.6),
        antenna_aft_m=aft_m,
        mass_kg=7500.0 * bigger**2.5 * random.uniform(0.8, 1.25),
        windage_m2=5.0 * bigger**1.5 * random.uniform(0.8, 1.3),
        beam_windage_m2=14.0 * bigger**1.5 * random.uniform(0.8, 1.3),
        chain_kg_per_m=chain_kg_per_m * (random.uniform(0.2, 0.4) if rope else 1.0),
        sheer_deg=(sheer_deg, random.uniform(sheer_deg + 5.0, 45.0)),
        sheer_s=(sheer_s, random.uniform(sheer_s + 20.0, 200.0)),
        stretch=random.uniform(0.03, 0.15) if rope else 0.0,
    )


def _draw_anchoring(random: Random, boat: BoatFigures) -> tuple[Anchoring, float]:
    """Draw what the skipper does, and the depth she lets go in."""
    depth_m = random.uniform(3.0, 12.0)
    said_m = round(random.uniform(3.5, 8.0) * (depth_m + boat.bow_height_m))
    let_go_s = round(random.uniform(180.0, 600.0))
    anchoring = Anchoring(
        let_go_s=float(let_go_s),
        rode_m=said_m * random.uniform(1.0, 1.08),
        rode_said_m=float(said_m),
        veer_mps=random.uniform(0.2, 0.6),
        late_instead_s=float(let_go_s + round(random.uniform(20.0, 60.0) * MIN_S)),
    )
    return anchoring, depth_m


def _draw_drag(
    random: Random, mode: DragMode | None, *, let_go_s: float, lasts_s: float
) -> DragPlan:
    """Draw a drag that begins 1.5 to 6 hours after let go, earlier if the night is short."""
    mode = random.choice(tuple(DragMode)) if mode is None else mode
    left_s = lasts_s - let_go_s
    latest_s = min(6 * HOUR_S, left_s - min(2 * HOUR_S, 0.4 * left_s))
    earliest_s = min(1.5 * HOUR_S, 0.5 * left_s, latest_s)
    begins_s = let_go_s + random.uniform(earliest_s, latest_s)
    return draw_drag(random, mode, begins_s=begins_s, ends_s=lasts_s)


def _draw_wind(seed: int, drag: DragPlan | None, *, lasts_s: float) -> WindPlan:
    random = stream(seed, "draw wind")
    if drag is None:
        return draw_wind(random, lasts_s=lasts_s)
    extra = stream(seed, "draw dragging wind")
    blow = Blow(drag.begins_s, drag.ends_s, extra.uniform(DRAGGING_MPS + 0.5, 12.0))
    shift = None
    if drag.mode is DragMode.IN_SHIFT:
        takes_s = extra.uniform(5.0, 60.0) * MIN_S
        shift = (drag.begins_s - extra.uniform(0.1, 0.9) * takes_s, takes_s)
    gusts = gusts_of(drag) if drag.mode is DragMode.HOPS else ()
    return draw_wind(random, lasts_s=lasts_s, blow=blow, shift=shift, gusts=gusts)


def _draw_tide(random: Random, *, depth_m: float, wind_from_deg: float) -> TidePlan:
    """Draw a tide; four nights in ten its stream runs with the wind and against it in turn."""
    flood_deg = random.uniform(0.0, 360.0)
    if random.random() < 0.4:
        flood_deg = wind_from_deg + random.gauss(0.0, 15.0)
    return TidePlan(
        range_m=random.uniform(0.0, min(4.0, 0.4 * depth_m)),
        high_water_s=random.uniform(0.0, M2_PERIOD_S),
        stream_mps=random.choice((0.0, 1.0, 1.0)) * random.uniform(0.0, 0.6),
        flood_deg=flood_deg % 360.0,
        turn_after_s=random.uniform(-1.0, 1.0) * HOUR_S,
        eddy_mps=random.uniform(0.01, 0.06),
        eddy_s=random.uniform(120.0, 600.0),
    )


def _draw_start(random: Random) -> dt.datetime:
    first = dt.datetime(2026, 1, 1, 17, tzinfo=dt.UTC)
    return first + dt.timedelta(days=random.randrange(365), minutes=random.randrange(6 * 60))


def _draw_drop(random: Random) -> Position:
    south, north, west, east = random.choice(_OCEAN)
    lat_deg, lon_deg = random.uniform(south, north), random.uniform(west, east)
    return Position(round(lat_deg, 6), wrap_lon_deg(round(lon_deg, 6)))
