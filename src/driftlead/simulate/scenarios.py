"""The demo nights: the sloop *Corvid* at anchor in Pellow Sound, which is nowhere but here.

Each night is fixed by its seed. The waters are open ocean on every chart.
"""

import datetime as dt

from driftlead.geodesy.position import Position
from driftlead.simulate.anchor import Holding, drag_steadily, drag_through
from driftlead.simulate.receiver import Held, Multipath, Silence, Trouble, Void
from driftlead.simulate.scenario import USUAL_TALK, Anchoring, Scenario, Seabed
from driftlead.simulate.tide import TidePlan
from driftlead.simulate.timeline import Timeline, steady
from driftlead.simulate.wind import WindPlan

MIN_S = 60.0
HOUR_S = 3600.0

EARLIEST_DATE = dt.date(2026, 1, 1)
"""No demo night is before this; an earlier date is a receiver's fault."""

RODE_ABOARD_M = 60.0
"""All the chain in the *Corvid*'s locker."""

_SEABED = Seabed(depth_m=6.6, per_m_east=0.004, per_m_north=-0.006)


def _hours(*points: tuple[float, float]) -> Timeline:
    return Timeline(tuple((hour * HOUR_S, value) for hour, value in points))


def _evening(day: int, hour: int, minute: int = 0) -> dt.datetime:
    return dt.datetime(2026, 6, day, hour, minute, tzinfo=dt.UTC)


def quiet_night() -> Scenario:
    """Eight hours in a breeze that dies away and comes back; a receiver with a fix every 2 s."""
    return Scenario(
        name="quiet-night",
        seed=4111,
        story=(
            "A light breeze from the south-west dies in the small hours, when she wanders over "
            "her chain, and comes back before dawn. The anchor holds all night."
        ),
        start_utc=_evening(2, 20, 30),
        lasts_s=8 * HOUR_S,
        drop=Position(46.50210, -31.20340),
        wind=WindPlan(
            speed_mps=_hours((0, 5.5), (3, 4.5), (4.2, 0.4), (5.6, 0.3), (6.4, 3.5), (8, 5.0)),
            from_deg=_hours((0, 228), (3.5, 215), (5, 180), (6.4, 240), (8, 246)),
        ),
        tide=TidePlan(
            range_m=1.2,
            high_water_s=3.1 * HOUR_S,
            stream_mps=0.02,
            flood_deg=40.0,
            eddy_mps=0.03,
            eddy_s=500.0,
        ),
        seabed=_SEABED,
        anchoring=Anchoring(rode_m=36.0),
        holding=Holding(settles_m=1.6),
        fix_interval_s=2.0,
        talk={**USUAL_TALK, "RMC": 2.0, "GGA": 2.0},
    )


def wind_shift() -> Scenario:
    """Four hours with a front: the wind veers 120 degrees in a quarter of an hour."""
    return Scenario(
        name="wind-shift",
        seed=4202,
        story=(
            "A front goes through after two hours: the wind veers from south to north-west "
            "within a quarter of an hour and she swings through 120 degrees. The anchor "
            "holds until she weighs."
        ),
        start_utc=_evening(5, 21, 0),
        lasts_s=4 * HOUR_S,
        drop=Position(46.49870, -31.19820),
        wind=WindPlan(
            speed_mps=_hours((0, 7.0), (1.9, 8.5), (2.1, 11.0), (2.5, 9.5), (4, 7.5)),
            from_deg=_hours((0, 188), (2.0, 192), (2.25, 312), (4, 318)),
        ),
        tide=TidePlan(range_m=1.0, high_water_s=-1.0 * HOUR_S),
        seabed=_SEABED,
        anchoring=Anchoring(rode_m=38.0, weigh_s=4 * HOUR_S - 2 * MIN_S),
        holding=Holding(settles_m=2.1),
    )


def tide_turn() -> Scenario:
    """Six and a half hours of stream that turns half way, with hardly any wind."""
    return Scenario(
        name="tide-turn",
        seed=4303,
        story=(
            "She lies to the stream in light airs. The ebb slackens after three hours and turns, "
            "and she ends up on the other side of her anchor. The anchor holds."
        ),
        start_utc=_evening(9, 19, 45),
        lasts_s=6.5 * HOUR_S,
        drop=Position(46.50660, -31.20990),
        wind=WindPlan(
            speed_mps=_hours((0, 3.0), (2, 2.0), (4, 1.6), (6.5, 2.4)),
            from_deg=_hours((0, 255), (4, 285), (6.5, 270)),
        ),
        tide=TidePlan(
            range_m=2.2,
            high_water_s=3.2 * HOUR_S - 6.21 * HOUR_S,
            stream_mps=0.55,
            flood_deg=75.0,
        ),
        seabed=Seabed(depth_m=6.9),
        anchoring=Anchoring(rode_m=37.0),
        holding=Holding(settles_m=1.1),
    )


def slow_drag() -> Scenario:
    """Six hours: she holds for five, then drags slowly in a squall."""
    return Scenario(
        name="slow-drag",
        seed=4404,
        story=(
            "She holds through the evening. In a squall at 03:15 the anchor begins to come home "
            "at 0.05 to 0.1 m/s, and goes on until she is got under way at 03:58."
        ),
        start_utc=_evening(14, 22, 0),
        lasts_s=6 * HOUR_S,
        drop=Position(46.50125, -31.20115),
        wind=WindPlan(
            speed_mps=_hours((0, 6.0), (4, 7.5), (5.15, 8.5), (5.25, 15.5), (5.6, 13.5), (6, 10.0)),
            from_deg=_hours((0, 205), (4, 212), (5.1, 216), (5.3, 236), (6, 240)),
        ),
        tide=TidePlan(range_m=1.0, high_water_s=2.0 * HOUR_S),
        seabed=_SEABED,
        anchoring=Anchoring(rode_m=38.0, weigh_s=6 * HOUR_S - 2 * MIN_S),
        holding=Holding(
            settles_m=1.9,
            drag=drag_through(
                begins_s=5.25 * HOUR_S,
                steps=(
                    (0.0, 0.0),
                    (3 * MIN_S, 0.05),
                    (12 * MIN_S, 0.10),
                    (25 * MIN_S, 0.08),
                    (40 * MIN_S, 0.05),
                    (45 * MIN_S, 0.0),
                ),
            ),
        ),
    )


def breakout() -> Scenario:
    """Two and a half hours: after two the anchor breaks out and she is off at a knot."""
    return Scenario(
        name="breakout",
        seed=4505,
        story=(
            "A hard squall after two hours breaks the anchor out. She falls off beam to the wind "
            "and goes to leeward at more than a knot until it bites again, 300 seconds later."
        ),
        start_utc=_evening(18, 23, 15),
        lasts_s=2.5 * HOUR_S,
        drop=Position(46.49540, -31.20730),
        wind=WindPlan(
            speed_mps=_hours((0, 8.0), (1.93, 9.0), (2.0, 18.5), (2.12, 17.0), (2.3, 11.0)),
            from_deg=_hours((0, 160), (1.9, 168), (2.0, 190), (2.5, 186)),
            gust_fraction=0.16,
        ),
        tide=TidePlan(range_m=0.8, high_water_s=1.0 * HOUR_S),
        seabed=_SEABED,
        anchoring=Anchoring(rode_m=40.0),
        holding=Holding(
            settles_m=2.4,
            drag=drag_steadily(begins_s=2.02 * HOUR_S, lasts_s=300.0, mps=0.7, builds_s=25.0),
        ),
    )


def _glitches() -> tuple[Trouble, ...]:
    """Everything a bad antenna does, far enough apart to be told from one another."""
    return (
        Multipath(begins_s=40 * MIN_S, lasts_s=20.0, offset_m=35.0, bearing_deg=310.0),
        Multipath(begins_s=62 * MIN_S, lasts_s=45.0, offset_m=60.0, bearing_deg=75.0, hdop=6.4),
        Multipath(begins_s=80 * MIN_S, lasts_s=12.0, offset_m=300.0, bearing_deg=170.0, hdop=2.3),
        Held(begins_s=95 * MIN_S, lasts_s=150.0),
        Void(begins_s=112 * MIN_S, lasts_s=25.0),
        Silence(begins_s=125 * MIN_S, lasts_s=20.0),
        Multipath(begins_s=140 * MIN_S, lasts_s=90.0, offset_m=9.0, bearing_deg=215.0),
        Held(begins_s=155 * MIN_S, lasts_s=300.0),
        Silence(begins_s=172 * MIN_S, lasts_s=100.0),
        Void(begins_s=190 * MIN_S, lasts_s=240.0),
        Multipath(begins_s=210 * MIN_S, lasts_s=10.0, offset_m=120.0, bearing_deg=20.0),
        Multipath(begins_s=220 * MIN_S, lasts_s=60.0, offset_m=18.0, bearing_deg=140.0, hdop=3.1),
    )


def receiver_glitches() -> Scenario:
    """Four hours in which only the receiver misbehaves."""
    return Scenario(
        name="receiver-glitches",
        seed=4606,
        story=(
            "A steady breeze, an anchor that holds, and a receiver that does everything wrong: "
            "positions that step aside by 9 to 300 m for 10 to 90 s, positions that stand still "
            "and then jump, void fixes, and silence of up to 100 s."
        ),
        start_utc=_evening(21, 22, 30),
        lasts_s=4 * HOUR_S,
        drop=Position(46.50480, -31.19560),
        wind=WindPlan(
            speed_mps=_hours((0, 6.5), (2, 7.5), (4, 6.0)),
            from_deg=_hours((0, 275), (4, 290)),
        ),
        tide=TidePlan(range_m=1.1, high_water_s=0.5 * HOUR_S),
        seabed=_SEABED,
        anchoring=Anchoring(rode_m=36.0),
        holding=Holding(settles_m=1.4),
        troubles=_glitches(),
    )


def late_set() -> Scenario:
    """Five hours; the watch is set half an hour late, and she drags toward the end."""
    return Scenario(
        name="late-set",
        seed=4707,
        story=(
            "The watch is set half an hour after she lay back, so that the anchor is not under "
            "the bow. After four hours the anchor begins to drag at 0.12 m/s."
        ),
        start_utc=_evening(26, 20, 15),
        lasts_s=4.75 * HOUR_S,
        drop=Position(46.49930, -31.21280),
        wind=WindPlan(
            speed_mps=_hours((0, 6.5), (2, 7.0), (3.9, 9.0), (4.05, 14.0), (4.75, 12.0)),
            from_deg=_hours((0, 40), (2, 62), (4, 55), (4.1, 70), (4.75, 74)),
        ),
        tide=TidePlan(range_m=0.9, high_water_s=3.0 * HOUR_S),
        seabed=_SEABED,
        anchoring=Anchoring(rode_m=38.0, late_s=38 * MIN_S),
        holding=Holding(
            settles_m=1.7,
            drag=drag_steadily(
                begins_s=4.05 * HOUR_S, lasts_s=20 * MIN_S, mps=0.12, builds_s=120.0
            ),
        ),
    )


def demo_nights() -> tuple[Scenario, ...]:
    """Every night of the demo, the uneventful ones first."""
    return (
        quiet_night(),
        wind_shift(),
        tide_turn(),
        receiver_glitches(),
        slow_drag(),
        breakout(),
        late_set(),
    )


def steady_breeze(*, seed: int, lasts_s: float) -> Scenario:
    """Any number of hours in one breeze, the anchor holding: for measuring how fast we are."""
    return Scenario(
        name="steady-breeze",
        seed=seed,
        story="A steady breeze. The anchor holds.",
        start_utc=_evening(1, 20, 0),
        lasts_s=lasts_s,
        drop=Position(46.5, -31.2),
        wind=WindPlan(speed_mps=steady(7.0), from_deg=steady(230.0)),
    )
