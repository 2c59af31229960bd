"""A whole night: deterministic, physical, and told as it was."""

import math
from collections import Counter
from itertools import pairwise

import pynmea2
import pytest
from attrs import evolve
from geographiclib.geodesic import Geodesic

from driftlead.core.inputs import LetGo, Veer, Weigh
from driftlead.lines import StampedLine
from driftlead.simulate.anchor import Holding, drag_steadily
from driftlead.simulate.night import Night, simulate_night, stream_night
from driftlead.simulate.receiver import ReceiverFigures, Silence
from driftlead.simulate.scenario import USUAL_TALK, Anchoring, Scenario
from driftlead.simulate.scenarios import steady_breeze
from driftlead.simulate.truth import TruthSample, depth_at_m
from driftlead.tackle.reach import bar_taut_reach_m

KNOT = 1852.0 / 3600.0
EXACT = ReceiverFigures(
    quick_m=0.0, middling_m=0.0, slow_m=0.0, velocity_mps=0.0, course_above_mps=0.0
)


def hour(*, seed: int = 8) -> Scenario:
    """An hour that has everything in it: approach, laying back, a drag, weighing."""
    return evolve(
        steady_breeze(seed=seed, lasts_s=3600.0),
        anchoring=Anchoring(weigh_s=3480.0),
        holding=Holding(settles_m=2.0, drag=drag_steadily(begins_s=2400.0, lasts_s=600.0, mps=0.1)),
        talk=dict.fromkeys((*USUAL_TALK, "GLL", "VTG"), 1.0),
    )


@pytest.fixture(scope="module")
def night() -> Night:
    """That hour with an ordinary receiver."""
    return simulate_night(hour())


@pytest.fixture(scope="module")
def exact_night() -> Night:
    """The same hour with a receiver that does not err."""
    return simulate_night(evolve(hour(), receiver=EXACT))


def test_the_same_scenario_gives_the_same_night(night: Night) -> None:
    """Streamed or kept, to the last character; another seed gives another."""
    assert tuple(stream_night(hour())) == night.moments
    other = next(line for line in stream_night(hour(seed=9)) if isinstance(line, StampedLine))
    assert other != next(night.lines)


def test_what_the_receiver_does_leaves_the_boat_alone(night: Night, exact_night: Night) -> None:
    """Each part draws its own chances: the same boat under another receiver."""
    assert list(night.truth) == list(exact_night.truth)


def test_an_anchor_comes_no_faster_than_the_boat_drifts() -> None:
    """A breakout planned at 0.8 m/s in a breeze: bow and anchor go on together, the rode taut."""
    drag = drag_steadily(begins_s=1200.0, lasts_s=300.0, mps=0.8, builds_s=30.0)
    breeze = steady_breeze(seed=3, lasts_s=1560.0)
    scenario = evolve(breeze, holding=Holding(settles_m=0.0, drag=drag))
    riding = [truth for truth in simulate_night(scenario).truth if truth.t_s >= 1100.0]
    lies_m = [math.dist(truth.bow_en_m, truth.anchor_en_m or (0.0, 0.0)) for truth in riding]
    assert riding[-1].dragged_m > 60.0
    assert min(lies_m) > 0.85 * lies_m[0]


def test_the_bow_is_never_farther_from_the_anchor_than_the_rode_reaches(night: Night) -> None:
    """Bar-taut reach over the depth at the anchor, every second of the night."""
    riding = [truth for truth in night.truth if truth.anchor_en_m is not None]
    assert len(riding) > 3000
    for truth in riding:
        assert truth.anchor_en_m is not None
        assert truth.rode_m is not None
        depth_m = depth_at_m(night.scenario, truth.t_s, truth.anchor_en_m)
        limit_m = bar_taut_reach_m(truth.rode_m, depth_m + night.scenario.boat.bow_height_m)
        assert math.dist(truth.bow_en_m, truth.anchor_en_m) <= limit_m + 1e-6


def test_speeds_are_continuous_and_are_the_change_of_place(night: Night) -> None:
    """Nothing jumps; the true velocity is the derivative of the true position."""
    for before, after in pairwise(night.truth):
        mean = [
            (a + b) / 2.0 for a, b in zip(before.antenna_v_mps, after.antenna_v_mps, strict=True)
        ]
        moved = [b - a for a, b in zip(before.antenna_en_m, after.antenna_en_m, strict=True)]
        assert moved == pytest.approx(mean, abs=0.06)
        assert math.dist(before.antenna_v_mps, after.antenna_v_mps) < 0.35


def test_the_anchor_goes_down_under_the_bow_and_comes_up_at_weigh(night: Night) -> None:
    """At let go bow and anchor are at the drop point."""
    down = [truth for truth in night.truth if truth.anchor_en_m is not None]
    assert (down[0].t_s, down[-1].t_s) == (240.0, 3479.0)
    assert down[0].bow_en_m == pytest.approx((0.0, 0.0), abs=1e-9)
    assert down[0].anchor_en_m == (0.0, 0.0)


def test_the_truth_tells_settling_from_dragging(night: Night) -> None:
    """Before the drag it has settled by two metres and dragged by none."""
    assert night.settled_m == pytest.approx(2.0, abs=0.1)
    assert night.drag is not None
    assert (night.drag.begins_s, night.drag.ends_s) == (2400.0, 3000.0)
    assert night.drag.distance_m == pytest.approx(54.0, rel=0.03)
    wind_deg = night.scenario.wind.from_deg.at(2400.0)
    assert math.cos(math.radians(night.drag.bearing_deg - wind_deg - 180.0)) > 0.9
    samples = {truth.t_s: truth for truth in night.truth}
    assert samples[2400.0].dragged_m == 0.0
    settled = samples[2400.0].anchor_en_m
    assert settled is not None
    assert 1.5 < math.hypot(*settled) < 2.5
    assert samples[3000.0].dragged_m == pytest.approx(night.drag.distance_m, abs=0.1)


def test_a_drag_stops_where_she_weighs() -> None:
    """An anchor aweigh drags no more."""
    short = evolve(
        hour(),
        lasts_s=2700.0,
        anchoring=Anchoring(weigh_s=2600.0),
        talk={},
    )
    drag = simulate_night(short).drag
    assert drag is not None
    assert drag.ends_s == 2600.0
    assert drag.distance_m < 20.0


def test_the_skipper_lets_go_veers_and_weighs(night: Night) -> None:
    """With the depth at let go and the rode once it is out; in their place among the lines."""
    commands = [(given.mono_s, given.command) for given in night.inputs]
    assert commands == [
        (240.0, LetGo(depth_m=6.5)),
        (342.0, Veer(rode_m=38.0)),
        (3480.0, Weigh()),
    ]
    times = [m.t_s if isinstance(m, TruthSample) else m.mono_s for m in night.moments]
    assert times == sorted(times)


def test_a_watch_set_late_has_one_command_and_says_so() -> None:
    """It carries the rode and the depth, and that the boat already lies back."""
    late = evolve(hour(), lasts_s=1800.0, anchoring=Anchoring(late_s=1500.0), talk={})
    (given,) = simulate_night(late).inputs
    assert given.mono_s == 1500.0
    assert given.command == LetGo(rode_m=38.0, depth_m=6.5, late=True)


def test_every_line_is_a_valid_sentence_of_its_kind(night: Night) -> None:
    """Each is decoded by pynmea2 with its checksum; each kind as often as asked for."""
    kinds: Counter[str] = Counter()
    for line in night.lines:
        message = pynmea2.parse(line.text, check=True)
        kinds[message.sentence_type] += 1
        assert line.source == ("gps" if message.talker == "GP" else "instruments")
    assert kinds == dict.fromkeys((*USUAL_TALK, "GLL", "VTG"), 3601)


def test_the_lines_say_what_is_true(exact_night: Night) -> None:
    """With an exact receiver every figure comes back, positions by an independent geodesic."""
    scenario = exact_night.scenario
    truth = {sample.t_s: sample for sample in exact_night.truth}
    for line in list(exact_night.lines)[::11]:
        message = pynmea2.parse(line.text, check=True)
        true = truth[math.floor(line.mono_s)]
        match message.sentence_type:
            case "RMC" | "GGA" | "GLL":
                way = Geodesic.WGS84.Inverse(
                    scenario.drop.lat_deg,
                    scenario.drop.lon_deg,
                    message.latitude,
                    message.longitude,
                )
                toward = math.radians(way["azi1"])
                seen = (way["s12"] * math.sin(toward), way["s12"] * math.cos(toward))
                assert seen == pytest.approx(true.antenna_en_m, abs=0.1)  # 0.0001' is 0.19 m
            case "HDT":
                off_deg = float(message.heading) - true.heading_deg - 1.5
                assert abs((off_deg + 180.0) % 360.0 - 180.0) < 5.0
            case "MWD":
                assert float(message.wind_speed_meters) == pytest.approx(
                    true.wind.speed_mps, abs=0.06
                )
            case "DPT":
                depth_m = float(message.depth) + float(message.offset)
                assert depth_m == pytest.approx(true.depth_m, abs=0.3)
            case "MWV":
                # At the bow's speed of half a knot and less, apparent and true wind are near.
                from_deg = float(message.wind_angle) + true.heading_deg + 1.5
                off_deg = (from_deg - true.wind.from_deg + 180.0) % 360.0 - 180.0
                assert abs(off_deg) < 25.0
        if message.sentence_type == "RMC":
            assert message.spd_over_grnd * KNOT == pytest.approx(
                math.hypot(*true.antenna_v_mps), abs=0.003
            )
            seconds = (message.datetime - scenario.start_utc).total_seconds()
            assert seconds == math.floor(line.mono_s)


def test_a_silent_receiver_says_nothing_and_the_others_go_on() -> None:
    """Only the source that fails is missing."""
    scenario = evolve(hour(), lasts_s=120.0, troubles=(Silence(begins_s=30.0, lasts_s=60.0),))
    heard = Counter(
        (line.source, 30.0 <= line.mono_s < 90.0)
        for line in stream_night(scenario)
        if isinstance(line, StampedLine)
    )
    assert heard["gps", True] == 0
    assert heard["gps", False] == 61 * 6
    assert heard["instruments", True] == 60 * 4


@pytest.mark.parametrize("hz", [0.5, 5.0])
def test_a_receiver_may_be_slower_or_faster(hz: float) -> None:
    """Every fix interval has its sentences and its truth; the boat is about the same boat."""
    scenario = evolve(
        hour(), lasts_s=600.0, fix_interval_s=1.0 / hz, talk={"RMC": 1.0 / hz, "HDT": 10.0}
    )
    seen = simulate_night(scenario)
    texts = Counter(line.text[3:6] for line in seen.lines)
    assert texts == {"RMC": 600 * hz + 1, "HDT": 61}
    stamps = [line.mono_s for line in seen.lines]
    assert stamps == sorted(stamps)
    assert all(stamp == round(stamp, 6) for stamp in stamps)
    last = list(seen.truth)[-1]
    assert last.t_s == pytest.approx(600.0)
    assert 25.0 < math.hypot(*last.bow_en_m) < 38.0


def test_a_sentence_nobody_aboard_says_is_refused() -> None:
    """A slip in a scenario does not pass as silence."""
    with pytest.raises(ValueError, match="XYZ"):
        simulate_night(evolve(hour(), talk={"RMC": 1.0, "XYZ": 1.0}))
