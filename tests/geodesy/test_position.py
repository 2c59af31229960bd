"""Positions and the wrapping of longitudes."""

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.geodesy.position import Position, wrap_lon_deg


@given(lon_deg=st.floats(-1e6, 1e6))
@example(lon_deg=math.nextafter(-180.0, -math.inf))
@example(lon_deg=180.0)
@example(lon_deg=-180.0)
def test_a_wrapped_longitude_is_in_range_and_the_same_meridian(lon_deg: float) -> None:
    wrapped = wrap_lon_deg(lon_deg)
    assert -180.0 <= wrapped < 180.0
    turns = (wrapped - lon_deg) / 360.0
    assert math.isclose(turns, round(turns), abs_tol=1e-9)


@given(lon_deg=st.floats(-180.0, 180.0, exclude_max=True))
def test_a_longitude_already_in_range_is_not_touched(lon_deg: float) -> None:
    assert wrap_lon_deg(lon_deg) == lon_deg


@pytest.mark.parametrize("lat_deg", [90.0001, -91.0, math.nan, math.inf])
def test_a_latitude_that_is_no_place_is_refused_with_a_remedy(lat_deg: float) -> None:
    with pytest.raises(UserInputError, match=r"Latitude .* -90 to 90"):
        Position(lat_deg, 0.0)


@pytest.mark.parametrize("lon_deg", [360.5, -400.0, math.nan, -math.inf])
def test_a_longitude_that_is_no_place_is_refused_with_a_remedy(lon_deg: float) -> None:
    with pytest.raises(UserInputError, match=r"Longitude .* -180 to 180"):
        Position(0.0, lon_deg)


def test_the_antimeridian_has_one_name() -> None:
    assert Position(10.0, 180.0) == Position(10.0, -180.0)
