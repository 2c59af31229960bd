"""Long geodesics against published values, a second implementation and a published test set."""

import csv
import math
import subprocess
import sys
from pathlib import Path

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.geodesy.geodesic import GeodesicLine, direct, inverse
from driftlead.geodesy.position import Position

MM = 1e-3
latitudes = st.floats(-90.0, 90.0)
longitudes = st.floats(-180.0, 180.0)


def _dms(degrees: int, minutes: int, seconds: float) -> float:
    return degrees + minutes / 60.0 + seconds / 3600.0


def _turn_deg(a: float, b: float) -> float:
    return abs((a - b + 180.0) % 360.0 - 180.0)


def test_flinders_peak_to_buninyong() -> None:
    """Geoscience Australia's worked example on GRS80, as its open geodepy library tests it.

    WGS84 differs from GRS80 here by 2e-6 of an arc second.
    """
    line = inverse(
        Position(-_dms(37, 57, 3.72030), _dms(144, 25, 29.52440)),
        Position(-_dms(37, 39, 10.15610), _dms(143, 55, 35.38390)),
    )
    assert line.distance_m == pytest.approx(54972.271, abs=0.5 * MM)
    assert line.bearing_deg == pytest.approx(_dms(306, 52, 5.37), abs=0.005 / 3600 + 1e-7)
    assert line.back_bearing_deg == pytest.approx(_dms(127, 10, 25.07), abs=0.005 / 3600 + 1e-7)


def test_wellington_to_salamanca_nearly_half_round_the_world() -> None:
    """The example in the documentation of geographiclib's geodesic module."""
    line = inverse(Position(-41.32, 174.81), Position(40.96, -5.50))
    assert line.distance_m == pytest.approx(19959679.26735382, abs=MM)
    assert line.bearing_deg == pytest.approx(161.06766998615882, abs=1e-9)
    assert line.back_bearing_deg == pytest.approx(18.825195123248392 + 180.0, abs=1e-9)


def test_the_first_of_karneys_test_cases() -> None:
    """The first row of geographiclib's own table of test cases."""
    line = inverse(Position(35.60777, -139.44815), Position(-11.17491, -69.95921))
    assert line.distance_m == pytest.approx(8935244.5604818305, abs=MM)
    assert line.bearing_deg == pytest.approx(111.098748429560326, abs=1e-9)


@pytest.mark.real
def test_twenty_published_cases_agree_to_a_millimetre_both_ways(shared_real: Path) -> None:
    """Karney's WGS84 test set: twenty lines of 2 000 to 17 000 km."""
    with (shared_real / "geodesic-wgs84-cases.csv").open(newline="") as file:
        rows = [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]
    assert len(rows) == 20
    for row in rows:
        a = Position(row["lat1"], row["lon1"])
        b = Position(row["lat2"], row["lon2"])
        line = inverse(a, b)
        assert line.distance_m == pytest.approx(row["s12_m"], abs=MM)
        assert _turn_deg(line.bearing_deg, row["azi1"]) < 1e-9
        assert _turn_deg(line.back_bearing_deg, row["azi2"] + 180.0) < 1e-9
        reached = direct(a, row["azi1"], row["s12_m"])
        assert inverse(reached, b).distance_m < MM


@given(latitudes, longitudes, latitudes, longitudes)
def test_a_second_implementation_agrees_over_the_whole_globe(
    lat1: float, lon1: float, lat2: float, lon2: float
) -> None:
    """Oracle: geographiclib, pure Python."""
    a, b = Position(lat1, lon1), Position(lat2, lon2)
    line = inverse(a, b)
    truth = Geodesic.WGS84.Inverse(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg)
    assert line.distance_m == pytest.approx(truth["s12"], abs=MM)
    assert 0.0 <= line.bearing_deg < 360.0
    assert 0.0 <= line.back_bearing_deg < 360.0


@given(
    lat_deg=latitudes,
    lon_deg=longitudes,
    bearing_deg=st.floats(-360.0, 720.0),
    distance_m=st.floats(0.0, 19e6),
)
def test_laying_off_ends_where_a_second_implementation_ends(
    lat_deg: float, lon_deg: float, bearing_deg: float, distance_m: float
) -> None:
    """Oracle: geographiclib, pure Python."""
    start = Position(lat_deg, lon_deg)
    reached = direct(start, bearing_deg, distance_m)
    truth = Geodesic.WGS84.Direct(start.lat_deg, start.lon_deg, bearing_deg, distance_m)
    gap = Geodesic.WGS84.Inverse(truth["lat2"], truth["lon2"], reached.lat_deg, reached.lon_deg)
    assert gap["s12"] < MM


@given(st.floats(-80.0, 80.0), longitudes, st.floats(0.0, 360.0), st.floats(0.01, 20e3))
def test_going_out_and_back_by_the_back_bearing_ends_at_the_start(
    lat_deg: float, lon_deg: float, bearing_deg: float, distance_m: float
) -> None:
    start = Position(lat_deg, lon_deg)
    away = direct(start, bearing_deg, distance_m)
    line = inverse(start, away)
    back = direct(away, line.back_bearing_deg, line.distance_m)
    assert inverse(start, back).distance_m < 1e-5


def test_a_line_of_no_length_has_the_bearing_we_gave_it() -> None:
    place = Position(46.5, -31.2)
    assert inverse(place, place) == GeodesicLine(0.0, 0.0, 180.0)


@pytest.mark.parametrize("bearing_deg", [math.nan, math.inf])
def test_a_bearing_that_is_no_number_is_refused(bearing_deg: float) -> None:
    with pytest.raises(UserInputError, match="not a direction"):
        direct(Position(0.0, 0.0), bearing_deg, 1.0)


@pytest.mark.parametrize("distance_m", [-1.0, math.nan, math.inf])
def test_a_distance_that_cannot_be_laid_off_is_refused(distance_m: float) -> None:
    with pytest.raises(UserInputError, match="cannot be laid off"):
        direct(Position(0.0, 0.0), 0.0, distance_m)


def test_importing_the_package_loads_neither_proj_nor_shapely() -> None:
    """A watch that draws nothing and measures no long line should not pay for either."""
    code = (
        f"import sys; sys.path[:] = {sys.path!r}\n"
        "import driftlead.geodesy.geodesic, driftlead.geodesy.plane, driftlead.geodesy.regions\n"
        "print(sorted({'pyproj', 'shapely', 'numpy'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert done.stdout.strip() == "[]"
