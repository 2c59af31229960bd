"""Numbers without text are those the text gives."""

import math
from collections import defaultdict

import numpy as np
import pynmea2
import pytest
from attrs import evolve

from driftlead.core.inputs import LetGo, Veer
from driftlead.geodesy.plane import LocalPlane
from driftlead.simulate.anchor import DragMode, Holding, drag_steadily
from driftlead.simulate.draw import draw_night
from driftlead.simulate.night import Night, simulate_night
from driftlead.simulate.observe import ObservedNight, observe
from driftlead.simulate.receiver import Held, Multipath, Silence, StartUp, Void
from driftlead.simulate.scenario import Scenario, set_late

KNOT = 1852.0 / 3600.0


def scenario() -> Scenario:
    """An hour in which everything happens, with every sentence at every fix."""
    night = draw_night(71, drags=True, mode=DragMode.STEADY, hours=1.0, interval_s=2.0)
    return evolve(
        night,
        talk=dict.fromkeys(("RMC", "GGA", "HDT", "MWD", "DPT"), 2.0),
        holding=Holding(drag=drag_steadily(begins_s=1500.0, lasts_s=900.0, mps=0.1)),
        receiver=evolve(night.receiver, holds_below_mps=0.1, holds_within_m=3.0),
        troubles=(
            StartUp(begins_s=-60.0, offset_m=15.0, bearing_deg=30.0),
            Multipath(begins_s=1000.0, lasts_s=50.0, offset_m=40.0, bearing_deg=200.0, hdop=4.2),
            Silence(begins_s=1200.0, lasts_s=40.0),
            Void(begins_s=1300.0, lasts_s=40.0),
            Held(begins_s=1400.0, lasts_s=60.0),
        ),
    )


@pytest.fixture(scope="module")
def told() -> Night:
    """That hour as text."""
    return simulate_night(scenario())


@pytest.fixture(scope="module")
def seen() -> ObservedNight:
    """That hour as numbers."""
    return observe(scenario())


@pytest.fixture(scope="module")
def sentences(told: Night) -> dict[str, list[pynmea2.NMEASentence]]:
    """What was said, by kind, read by an independent library."""
    said = defaultdict(list)
    for line in told.lines:
        sentence = pynmea2.parse(line.text, check=True)
        said[sentence.sentence_type].append(sentence)
    return said


def test_there_is_a_row_for_every_moment_the_receiver_spoke(
    seen: ObservedNight, sentences: dict[str, list[pynmea2.NMEASentence]]
) -> None:
    """And none for its silence: 20 fixes fewer than the 1801 of the hour."""
    assert len(seen.t_s) == len(sentences["RMC"]) == 1781
    assert not np.any((seen.t_s >= 1200.0) & (seen.t_s < 1240.0))
    assert [bool(valid) for valid in seen.valid] == [rmc.status == "A" for rmc in sentences["RMC"]]
    assert np.sum(~seen.valid) == 20
    assert np.all(np.isnan(seen.east_m) == ~seen.valid)


def test_the_fixes_are_those_of_the_sentences(
    seen: ObservedNight, sentences: dict[str, list[pynmea2.NMEASentence]]
) -> None:
    """Position to the millimetre, speed and course to the last digit that is said."""
    plane = LocalPlane(scenario().drop)
    for row, (rmc, gga) in enumerate(zip(sentences["RMC"], sentences["GGA"], strict=True)):
        assert seen.hdop[row] == pytest.approx(float(gga.horizontal_dil))
        assert seen.satellites[row] == int(gga.num_sats)
        if not seen.valid[row]:
            continue
        place = plane.to_plane(rmc.latitude, rmc.longitude)
        assert (seen.east_m[row], seen.north_m[row]) == pytest.approx(place, abs=1e-3)
        assert seen.sog_mps[row] == pytest.approx(float(rmc.spd_over_grnd) * KNOT, abs=1e-9)
        course = math.nan if rmc.true_course is None else float(rmc.true_course)
        assert seen.cog_deg[row] == pytest.approx(course, nan_ok=True)


def test_the_instruments_are_those_of_the_sentences(
    told: Night, seen: ObservedNight, sentences: dict[str, list[pynmea2.NMEASentence]]
) -> None:
    """At the moments the receiver spoke; the compass speaks through its silence."""
    at_row = {round(t_s / 2.0): row for row, t_s in enumerate(seen.t_s)}
    assert len(list(told.truth)) == len(sentences["HDT"])
    said = zip(sentences["HDT"], sentences["MWD"], sentences["DPT"], strict=True)
    for tick, (hdt, mwd, dpt) in enumerate(said):
        row = at_row.get(tick)
        if row is None:
            continue
        assert seen.heading_deg[row] == pytest.approx(float(hdt.heading))
        assert seen.wind_from_deg[row] == pytest.approx(float(mwd.direction_true))
        assert seen.wind_mps[row] == pytest.approx(float(mwd.wind_speed_meters))
        assert seen.depth_m[row] == pytest.approx(float(dpt.depth) + float(dpt.offset))


def test_the_truth_is_the_same_truth(told: Night, seen: ObservedNight) -> None:
    """Places, rode and drag of the same boat."""
    truth = {sample.t_s: sample for sample in told.truth}
    for row, t_s in enumerate(seen.t_s):
        sample = truth[float(t_s)]
        assert (seen.bow_east_m[row], seen.bow_north_m[row]) == sample.bow_en_m
        assert (seen.antenna_east_m[row], seen.antenna_north_m[row]) == sample.antenna_en_m
        assert seen.dragged_m[row] == sample.dragged_m
        if sample.anchor_en_m is None:
            assert math.isnan(seen.anchor_east_m[row])
            assert math.isnan(seen.rode_m[row])
        else:
            assert (seen.anchor_east_m[row], seen.anchor_north_m[row]) == sample.anchor_en_m
            assert seen.rode_m[row] == sample.rode_m
    assert told.drag is not None
    assert seen.dragged_m[-1] == told.drag.distance_m
    assert seen.drag_begins_s == told.drag.begins_s == 1500.0


def test_what_the_skipper_says_is_what_the_commands_say(told: Night, seen: ObservedNight) -> None:
    """When and how much."""
    let_go, veer = told.inputs
    assert isinstance(let_go.command, LetGo)
    assert isinstance(veer.command, Veer)
    assert (seen.let_go_s, seen.depth_said_m) == (let_go.mono_s, let_go.command.depth_m)
    assert (seen.veered_s, seen.rode_said_m) == (veer.mono_s, veer.command.rode_m)
    assert np.nanmax(seen.rode_m) == told.scenario.anchoring.rode_m > seen.rode_said_m


def test_set_late_only_the_commands_change(seen: ObservedNight) -> None:
    """One command at the late time, and it says the rode as the skipper takes it."""
    late = simulate_night(evolve(set_late(scenario()), lasts_s=3600.0, talk={}))
    (command,) = late.inputs
    assert command.mono_s == seen.late_s
    assert isinstance(command.command, LetGo)
    assert command.command.late
    assert command.command.rode_m == seen.rode_said_m


def test_positions_lie_on_the_grid_of_the_coordinates() -> None:
    """Thousandths of a minute: steps of 1.852 m to the north."""
    night = evolve(scenario(), minute_decimals=3, lasts_s=600.0)
    seen = observe(night)
    assert seen.quantum_m == pytest.approx(1.852)
    first_m = seen.north_m[seen.valid][0]
    steps = (seen.north_m[seen.valid] - first_m) / 1.852
    # A minute of latitude is 1843 to 1862 m (WGS84, equator to pole), not always 1852.
    assert np.allclose(steps, np.round(steps), atol=0.006 * np.max(np.abs(steps)) + 1e-3)
    assert len(np.unique(np.round(steps))) > 5


def test_a_rode_said_right_and_no_late_time_need_not_be_given() -> None:
    """A night without these figures is observed all the same."""
    plain = evolve(
        scenario(),
        lasts_s=300.0,
        anchoring=evolve(scenario().anchoring, rode_said_m=None, late_instead_s=None),
        holding=Holding(),
    )
    seen = observe(plain)
    assert seen.late_s is None
    assert seen.rode_said_m == plain.anchoring.rode_m
    assert (seen.drag_begins_s, seen.mode) == (None, None)
