"""Readings of head, wind and depth: the latest one, as long as it is fresh."""

from typing import Any

import pytest

from driftlead.nmea.observations import (
    DepthReport,
    HeadingReport,
    North,
    WaterSpeedReport,
    WindReference,
    WindReport,
)
from driftlead.watch.instruments import (
    DEPTH_FRESH_S,
    HEADING_FRESH_S,
    HEADING_SIGMA_DEG,
    UNCORRECTED_SIGMA_DEG,
    WIND_FRESH_S,
    Instruments,
)


def near(value: float) -> Any:
    """A number that is this one but for rounding."""
    return pytest.approx(value)


def true_head(heading_deg: float) -> HeadingReport:
    return HeadingReport("HC", heading_deg, North.TRUE)


def magnetic_head(heading_deg: float, variation_deg: float | None = None) -> HeadingReport:
    return HeadingReport("HC", heading_deg, North.MAGNETIC, variation_deg)


def wind(direction_deg: float, reference: WindReference, speed_mps: float = 5.0) -> WindReport:
    return WindReport("WI", speed_mps, direction_deg, reference)


def test_nothing_is_known_at_first() -> None:
    instruments = Instruments()
    assert instruments.heading(0.0) is None
    assert instruments.wind_from(0.0) is None
    assert instruments.depth_m(0.0) is None


# -- head --------------------------------------------------------------------------------------


def test_a_true_head_is_given_as_it_came_while_it_is_fresh() -> None:
    instruments = Instruments()
    instruments.hear_heading(10.0, true_head(271.5))
    assert instruments.heading(10.0) == (271.5, HEADING_SIGMA_DEG)
    assert instruments.heading(10.0 + HEADING_FRESH_S) == (271.5, HEADING_SIGMA_DEG)
    assert instruments.heading(10.1 + HEADING_FRESH_S) is None


@pytest.mark.parametrize(
    ("magnetic_deg", "variation_deg", "true_deg"),
    [
        (98.4, -12.6, 85.8),  # the published HDG of the decoder's tests: variation west, true best
        (5.0, -12.0, 353.0),
        (355.0, 12.0, 7.0),
        (100.0, 0.0, 100.0),
    ],
)
def test_a_magnetic_head_is_corrected_by_the_variation(
    magnetic_deg: float, variation_deg: float, true_deg: float
) -> None:
    """Variation east, compass least: true is magnetic plus easterly variation."""
    instruments = Instruments()
    instruments.hear_heading(0.0, magnetic_head(magnetic_deg, variation_deg))
    given = instruments.heading(0.0)
    assert given is not None
    assert given[0] == near(true_deg)
    assert given[1] == HEADING_SIGMA_DEG


def test_variation_comes_from_the_receiver_too_and_lasts() -> None:
    instruments = Instruments()
    instruments.hear_variation(-7.0)
    instruments.hear_heading(5000.0, magnetic_head(100.0))
    assert instruments.heading(5000.0) == (near(93.0), HEADING_SIGMA_DEG)


def test_without_variation_a_magnetic_head_is_only_worth_so_much() -> None:
    instruments = Instruments()
    instruments.hear_heading(0.0, magnetic_head(100.0))
    assert instruments.heading(0.0) == (100.0, UNCORRECTED_SIGMA_DEG)
    assert UNCORRECTED_SIGMA_DEG > HEADING_SIGMA_DEG


def test_a_fresh_true_head_is_kept_before_a_magnetic_one() -> None:
    instruments = Instruments()
    instruments.hear_heading(0.0, true_head(90.0))
    instruments.hear_heading(4.0, magnetic_head(100.0, -7.0))
    assert instruments.heading(4.0) == (90.0, HEADING_SIGMA_DEG)
    # It tells the variation all the same, and takes over when the true one falls silent.
    instruments.hear_heading(5.5, magnetic_head(100.0))
    assert instruments.heading(5.5) == (near(93.0), HEADING_SIGMA_DEG)


def test_a_true_head_takes_over_from_a_magnetic_one_at_once() -> None:
    instruments = Instruments()
    instruments.hear_heading(0.0, magnetic_head(100.0))
    instruments.hear_heading(0.1, true_head(90.0))
    assert instruments.heading(0.1) == (90.0, HEADING_SIGMA_DEG)


def test_a_later_head_of_the_same_kind_replaces_the_earlier() -> None:
    instruments = Instruments()
    for kind in (true_head, magnetic_head):
        instruments.hear_heading(100.0, kind(90.0))
        instruments.hear_heading(101.0, kind(95.0))
        given = instruments.heading(101.0)
        assert given is not None
        assert given[0] == 95.0
        instruments = Instruments()


def test_the_log_tells_the_head_where_it_has_one() -> None:
    instruments = Instruments()
    instruments.hear_water_speed(0.0, WaterSpeedReport("VW", 2.0, None))
    assert instruments.heading(0.0) is None
    instruments.hear_water_speed(1.0, WaterSpeedReport("VW", 2.0, true_head(245.1)))
    assert instruments.heading(1.0) == (245.1, HEADING_SIGMA_DEG)
    instruments.hear_water_speed(2.0, WaterSpeedReport("VW", 2.0, None))
    assert instruments.heading(2.0) == (245.1, HEADING_SIGMA_DEG)


# -- wind --------------------------------------------------------------------------------------


def test_wind_over_the_ground_needs_no_head() -> None:
    instruments = Instruments()
    instruments.hear_wind(0.0, wind(225.0, WindReference.TRUE_NORTH))
    assert instruments.wind_from(0.0) == (225.0, 5.0)
    assert instruments.wind_from(WIND_FRESH_S) == (225.0, 5.0)
    assert instruments.wind_from(WIND_FRESH_S + 0.1) is None


def test_wind_from_magnetic_north_is_corrected_where_the_variation_is_known() -> None:
    instruments = Instruments()
    instruments.hear_wind(0.0, wind(355.0, WindReference.MAGNETIC_NORTH))
    assert instruments.wind_from(0.0) == (355.0, 5.0)
    instruments.hear_variation(12.0)
    assert instruments.wind_from(0.0) == (near(7.0), 5.0)


@pytest.mark.parametrize("reference", [WindReference.APPARENT, WindReference.THEORETICAL])
def test_wind_off_the_bow_is_turned_by_the_head(reference: WindReference) -> None:
    instruments = Instruments()
    instruments.hear_wind(0.0, wind(30.0, reference, 7.5))
    assert instruments.wind_from(0.0) is None
    instruments.hear_heading(1.0, true_head(350.0))
    assert instruments.wind_from(1.0) == (near(20.0), 7.5)
    # The wind is still fresh, the head no longer.
    assert instruments.wind_from(1.1 + HEADING_FRESH_S) is None


def test_wind_off_the_bow_goes_by_a_corrected_head() -> None:
    instruments = Instruments()
    instruments.hear_heading(0.0, magnetic_head(350.0, 12.0))
    instruments.hear_wind(0.0, wind(330.0, WindReference.APPARENT))
    assert instruments.wind_from(0.0) == (near(332.0), 5.0)


# -- depth -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("offset_m", "depth_m"),
    [
        (None, 6.0),
        (0.0, 6.0),
        (0.5, 6.5),  # to the waterline: there is so much more water
        (-1.4, 6.0),  # to the keel: clearance, not depth
    ],
)
def test_depth_is_counted_from_the_waterline(offset_m: float | None, depth_m: float) -> None:
    """The sign of the offset in DPT (from memory of IEC 61162-1)."""
    instruments = Instruments()
    instruments.hear_depth(0.0, DepthReport("SD", 6.0, offset_m))
    assert instruments.depth_m(0.0) == depth_m
    assert instruments.depth_m(DEPTH_FRESH_S) == depth_m
    assert instruments.depth_m(DEPTH_FRESH_S + 0.1) is None


def test_the_latest_sounding_counts() -> None:
    instruments = Instruments()
    instruments.hear_depth(0.0, DepthReport("SD", 6.0))
    instruments.hear_depth(1.0, DepthReport("SD", 6.2))
    assert instruments.depth_m(1.0) == 6.2


def test_a_vane_tells_the_winds_speed_though_no_head_gives_its_direction() -> None:
    """Relative to the bow, 5 m/s; where it comes from nobody knows."""
    instruments = Instruments()
    instruments.hear_wind(100.0, wind(40.0, WindReference.APPARENT))
    assert instruments.wind_from(100.0) is None
    assert instruments.wind_mps(100.0) == 5.0
    assert instruments.wind_mps(100.0 + WIND_FRESH_S + 1.0) is None
