"""The error of a real receiver goes over a simulated boat as it is."""

import gzip
import math
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.simulate.night import simulate_night
from driftlead.simulate.observe import observe
from driftlead.simulate.real_error import RealError, error_from_rows, read_real_error
from driftlead.simulate.scenarios import steady_breeze

HEAD = "gpst,lat_deg,lon_deg"
ROWS = (
    HEAD,
    "2026-01-01T00:00:00.000,46.500000,-31.200000",
    "2026-01-01T00:00:30.000,46.500010,-31.200000",
    "2026-01-01T00:01:00.000,46.500020,-31.200010",
    "2026-01-01T00:01:30.000,46.500000,-31.200000",
    "2026-01-01T00:02:30.000,46.499990,-31.200000",
)
METRES = st.floats(-20.0, 20.0)


@st.composite
def series(draw: st.DrawFn) -> RealError:
    """Any series, unevenly stepped."""
    steps_s = draw(st.lists(st.floats(1.0, 100.0), min_size=4, max_size=12))
    times_s = np.cumsum(steps_s).tolist()
    return RealError(tuple((t_s, draw(METRES), draw(METRES)) for t_s in times_s))


@given(error=series())
def test_it_goes_through_every_point_and_back_again_without_a_seam(error: RealError) -> None:
    first_s = error.points[0][0]
    for t_s, *place in error.points:
        at_s = t_s - first_s
        for again_s in (at_s, 2.0 * error.span_s - at_s, 2.0 * error.span_s + at_s):
            assert error.at(again_s) == pytest.approx(place, abs=1e-6)


@given(error=series(), at=st.floats(0.0, 4.0))
def test_it_runs_smoothly_between_them(error: RealError, at: float) -> None:
    """No jump; a tenth of a second later it is next to where it was."""
    at_s = at * error.span_s
    # Slopes are of central differences: no more than 40 m in a second, times 3 for a cubic.
    assert math.dist(error.at(at_s), error.at(at_s + 1e-6)) < 1e-3


def test_positions_become_errors_about_their_median() -> None:
    """A hundred-thousandth of a degree of latitude is 1.11 m, of longitude here 0.767 m."""
    error = error_from_rows(ROWS, name="made up")
    assert error.span_s == 150.0
    assert error.at(0.0) == pytest.approx((0.0, 0.0), abs=0.01)
    assert error.at(30.0) == pytest.approx((0.0, 1.11), abs=0.01)
    assert error.at(60.0) == pytest.approx((-0.767, 2.22), abs=0.01)
    assert error.at(150.0) == pytest.approx((0.0, -1.11), abs=0.01)
    assert error.starting_at(30.0).at(30.0) == error.at(60.0)
    assert evolve(error, scale=2.0).at(30.0) == pytest.approx((0.0, 2.22), abs=0.02)


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (("gpst,lat", *ROWS[1:]), "no column 'lat_deg'"),
        ((), "no column 'gpst'"),
        (ROWS[:3], "only 2 positions"),
        ((*ROWS, "2026-01-01T00:03:00.000,46.5"), "line 7"),
        ((*ROWS, "yesterday,46.5,-31.2"), "line 7"),
        ((*ROWS, "2026-01-01T00:03:00.000,146.5,-31.2"), "line 7"),
        ((*ROWS, ROWS[2]), "not in order of time"),
    ],
)
def test_what_cannot_be_read_is_told_with_its_place(rows: tuple[str, ...], words: str) -> None:
    with pytest.raises(UserInputError, match=words) as caught:
        error_from_rows(rows, name="made up")
    assert "made up" in caught.value.message
    assert caught.value.remedy


def test_a_series_needs_points_in_order() -> None:
    with pytest.raises(ValueError, match="four points"):
        RealError(((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (1.0, 0.0, 0.0), (2.0, 0.0, 0.0)))


def test_files_are_read_plain_or_packed(tmp_path: Path) -> None:
    text = "\n".join(ROWS) + "\n"
    plain, gz = tmp_path / "a.csv", tmp_path / "a.csv.gz"
    plain.write_text(text)
    gz.write_bytes(gzip.compress(text.encode()))
    assert read_real_error(plain).points == read_real_error(gz).points
    gz.write_bytes(gzip.compress(text.encode())[:-20])
    for broken in (gz, tmp_path / "missing.csv"):
        with pytest.raises(UserInputError, match="cannot be read"):
            read_real_error(broken)


def test_the_boat_swings_as_ever_under_it() -> None:
    """Antenna plus error, to half a step of the coordinates, and the same as text."""
    error = error_from_rows(ROWS, name="made up")
    scenario = steady_breeze(seed=4, lasts_s=400.0)
    seen, plain = observe(scenario, error=error), observe(scenario)
    assert np.array_equal(seen.antenna_east_m, plain.antenna_east_m)
    for row, t_s in enumerate(seen.t_s):
        off_m = (
            seen.east_m[row] - seen.antenna_east_m[row],
            seen.north_m[row] - seen.antenna_north_m[row],
        )
        assert off_m == pytest.approx(error.at(t_s), abs=0.5 * seen.quantum_m + 0.002)
    told = next(
        line.text for line in simulate_night(scenario, error=error).lines if "RMC" in line.text
    )
    bare = next(line.text for line in simulate_night(scenario).lines if "RMC" in line.text)
    assert told != bare


# The figures were computed from the same recordings by another program, when they were collected.
@pytest.mark.real
@pytest.mark.parametrize(
    ("name", "r50_m", "r95_m", "roots_m"),
    [
        ("still-24h-esbc-2020177.csv.gz", 0.57, 1.58, (0.14, 0.24, 0.44, 0.51)),
        ("still-24h-nya1-2024124.csv.gz", 0.95, 1.88, (0.23, 0.37, 0.62, 0.65)),
        ("still-24h-ajac-2024209.csv.gz", 1.51, 3.16, (0.16, 0.49, 0.97, 1.21)),
    ],
)
def test_a_real_day_keeps_its_statistics(
    shared_real: Path, name: str, r50_m: float, r95_m: float, roots_m: tuple[float, ...]
) -> None:
    """Radii about the median, and the root of the semivariance at 30 s, 5, 30 and 60 min."""
    error = read_real_error(shared_real / name)
    places = np.array([error.at(at_s) for at_s in np.arange(0.0, error.span_s, 30.0)])
    radii = np.hypot(places[:, 0], places[:, 1])
    assert np.percentile(radii, 50) == pytest.approx(r50_m, rel=0.02)
    assert np.percentile(radii, 95) == pytest.approx(r95_m, rel=0.02)
    for lag, root_m in zip((1, 10, 60, 120), roots_m, strict=True):
        steps = places[lag:] - places[:-lag]
        assert math.sqrt(0.5 * float(np.mean(steps**2))) == pytest.approx(root_m, rel=0.1)


@pytest.mark.real
def test_between_its_points_a_real_day_does_not_swing_out(shared_real: Path) -> None:
    """Second by second it stays within the range of the 30 s points around it, to a half metre."""
    error = read_real_error(shared_real / "still-24h-nya1-2024124.csv.gz")
    first_s = error.points[0][0]
    for (t0, e0, n0), (t1, e1, n1) in list(pairwise(error.points))[::20]:
        east, north = error.at(0.5 * (t0 + t1) - first_s)
        assert min(e0, e1) - 0.5 < east < max(e0, e1) + 0.5
        assert min(n0, n1) - 0.5 < north < max(n0, n1) + 0.5
