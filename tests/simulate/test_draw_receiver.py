"""Chance receivers are as good and as bad as those that were recorded."""

import math
from collections.abc import Callable
from statistics import median

import pytest

from driftlead.simulate.draw_receiver import draw_receiver, draw_troubles
from driftlead.simulate.noise import stream
from driftlead.simulate.receiver import (
    Held,
    Multipath,
    ReceiverFigures,
    Silence,
    StartUp,
    Trouble,
    Void,
)

NIGHT_S = 8 * 3600.0
RECEIVERS = [draw_receiver(stream(seed, "test receivers")) for seed in range(1000)]
NIGHTS = [
    draw_troubles(stream(seed, "test troubles"), lasts_s=NIGHT_S, let_go_s=300.0)
    for seed in range(1000)
]


def root_semivariance_m(figures: ReceiverFigures, lag_s: float) -> float:
    """Of one axis, from the autocorrelations of the three parts: sigma^2 (1 - rho)."""
    quick = lag_s / figures.quick_s
    return math.sqrt(
        figures.quick_m**2 * (1.0 - (1.0 + quick) * math.exp(-quick))
        + figures.middling_m**2 * (1.0 - math.exp(-lag_s / figures.middling_s))
        + figures.slow_m**2 * (1.0 - math.exp(-lag_s / figures.slow_s))
    )


def share(count: Callable[[ReceiverFigures], bool]) -> float:
    return sum(map(count, RECEIVERS)) / len(RECEIVERS)


@pytest.mark.parametrize(
    ("lag_s", "least_m", "most_m"),
    [(1.0, 0.04, 0.14), (10.0, 0.24, 0.69), (60.0, 0.6, 1.2), (300.0, 0.9, 1.7)],
)
def test_they_wander_as_consumer_receivers_at_rest_were_seen_to(
    lag_s: float, least_m: float, most_m: float
) -> None:
    """The middle one within the range of the recordings, four of five near it, ends beyond it."""
    drawn = sorted(root_semivariance_m(figures, lag_s) for figures in RECEIVERS)
    assert least_m < median(drawn) < most_m
    assert drawn[100] > 0.7 * least_m
    assert drawn[900] < 1.15 * most_m
    assert drawn[-1] / drawn[0] > 2.0


def test_the_radius_of_95_in_100_is_within_what_gps_promises() -> None:
    """GPS SPS Performance Standard 2020: 8 m as an average; single modern receivers 1 to 3 m rms.

    Two axes of sigma each: r95 = sigma sqrt(-2 ln 0.05).
    """
    factor = math.sqrt(-2.0 * math.log(0.05))
    drawn = [factor * math.hypot(f.quick_m, f.middling_m, f.slow_m) for f in RECEIVERS]
    assert 2.0 < min(drawn) < 3.0
    assert 6.0 < max(drawn) < 8.0


def test_some_hold_their_position_out_of_habit() -> None:
    """15 %: within four standard errors of a thousand."""
    assert share(lambda figures: figures.holds_below_mps > 0.0) == pytest.approx(0.15, abs=0.045)
    for figures in RECEIVERS:
        assert (figures.holds_within_m > 0.0) == (figures.holds_below_mps > 0.0)
        assert figures.holds_within_m == 0.0 or 3.0 <= figures.holds_within_m <= 10.0


def test_three_nights_in_ten_go_well_and_fifteen_in_a_hundred_badly() -> None:
    """Within four standard errors; a bad one has four troubles an hour and more."""
    counts = [len(troubles) for troubles in NIGHTS]
    # A night of some troubles, 0.15 to 1.5 an hour, may by chance have none.
    assert sum(count == 0 for count in counts) / 1000 == pytest.approx(0.35, abs=0.07)
    assert sum(count > 24 for count in counts) / 1000 == pytest.approx(0.15, abs=0.05)


def test_troubles_are_within_the_night_and_of_the_size_they_were_seen_with() -> None:
    """Jumps of 5 to 300 m for 5 to 120 s; a start-up error of 19 m at most, six minutes long."""
    for trouble in (trouble for troubles in NIGHTS for trouble in troubles):
        assert trouble.lasts_s > 0.0
        match trouble:
            case Multipath():
                assert 5.0 <= trouble.offset_m <= 300.0
                assert 5.0 <= trouble.lasts_s <= 120.0
                assert trouble.hdop is None or 2.3 <= trouble.hdop <= 20.0
            case StartUp():
                assert 3.0 <= trouble.offset_m <= 19.0
                assert -300.0 <= trouble.begins_s <= 300.0
            case _:
                assert trouble.lasts_s <= 300.0
        if not isinstance(trouble, StartUp):
            assert 0.0 <= trouble.begins_s < NIGHT_S


def test_jumps_have_the_tail_of_the_recorded_ones() -> None:
    """A consumer chip outdoors, five hours: of 74 over 10 m, 15 were over 30 and 3 over 100 m.

    Binomial standard errors of those counts are 0.047 and 0.023.
    """
    jumps = [t.offset_m for troubles in NIGHTS for t in troubles if isinstance(t, Multipath)]
    over_10 = sum(jump_m > 10.0 for jump_m in jumps)
    assert over_10 > 1000
    assert sum(jump_m > 30.0 for jump_m in jumps) / over_10 == pytest.approx(15 / 74, abs=0.094)
    assert sum(jump_m > 100.0 for jump_m in jumps) / over_10 == pytest.approx(3 / 74, abs=0.046)


@pytest.mark.parametrize("kind", [Multipath, Held, Void, Silence, StartUp])
def test_every_kind_of_trouble_is_drawn(kind: type[Trouble]) -> None:
    assert sum(isinstance(t, kind) for troubles in NIGHTS for t in troubles) > 100
