"""Where the anchor really is, from metres and a bearing."""

from typing import Any

import pytest
from click.testing import CliRunner
from geographiclib.geodesic import Geodesic

from driftlead.cli.correct_mark import place_from
from driftlead.cli.main import main
from driftlead.errors import DaemonError

STATUS: dict[str, Any] = {
    "on_watch": True,
    "anchor": {"lat": 46.5, "lon": -31.2, "sigma_m": 5.0, "method": "marked"},
    "position": {"lat": 46.5003, "lon": -31.2},
    "bow": {"lat": 46.5002, "lon": -31.2},
    "antenna_aft_m": 8.0,
    "fix_age_s": 1.0,
}


def geodesic(lat_deg: float, bearing_deg: float, metres: float) -> tuple[float, float]:
    """The place by GeographicLib."""
    there = Geodesic.WGS84.Direct(lat_deg, -31.2, bearing_deg, metres)
    return there["lat2"], there["lon2"]


def place(status: dict[str, Any], *, from_boat: bool) -> tuple[float, float]:
    """12 m towards 230."""
    found = place_from(status, 12.0, 230.0, from_boat=from_boat)
    return found["lat_deg"], found["lon_deg"]


def test_it_is_from_the_mark_or_from_the_bow() -> None:
    mark, bow = geodesic(46.5, 230.0, 12.0), geodesic(46.5002, 230.0, 12.0)
    assert place(STATUS, from_boat=False) == pytest.approx(mark, abs=1e-8)
    assert place(STATUS, from_boat=True) == pytest.approx(bow, abs=1e-8)


def test_without_a_heading_she_points_at_her_anchor() -> None:
    """So it is the antenna's 8 m farther, the same way."""
    found = place(STATUS | {"bow": None}, from_boat=True)
    assert found == pytest.approx(geodesic(46.5003, 230.0, 20.0), abs=1e-8)


@pytest.mark.parametrize(
    ("known", "from_boat", "says"),
    [
        ({"on_watch": False}, False, "No anchor is down"),
        ({"anchor": None}, True, "No anchor is down"),
        ({"position": None}, True, "no fresh fix"),
        ({"fix_age_s": None}, True, "no fresh fix"),
        ({"fix_age_s": 11.0}, True, "no fresh fix"),
    ],
)
def test_what_cannot_be_worked_out_is_refused_with_a_remedy(
    known: dict[str, Any], from_boat: bool, says: str
) -> None:
    with pytest.raises(DaemonError, match=says) as refused:
        place(STATUS | known, from_boat=from_boat)
    assert refused.value.message.startswith("Refused: ")
    assert refused.value.remedy


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "Give --lat and --lon, or --by and --bearing"),
        (["--lat", "46.5"], "does not say where"),
        (["--lat", "46.5", "--lon", "-31.2", "--by", "3m", "--bearing", "20"], "give one"),
        (["--lat", "46.5", "--by", "3m"], "give one"),
        (["--by", "3m"], "does not say where"),
        (["--by", "3", "--bearing", "20"], "unit"),
        (["--by", "2nm", "--bearing", "20"], "3704 m off"),
        (["--lat", "46.5", "--lon", "-31.2", "--from-boat"], "--by and --bearing"),
        (["--lat", "nowhere", "--lon", "-31.2"], "position"),
        (["--by", "3m", "--bearing", "361"], "361"),
        (["--metres", "3", "--bearing", "20"], "No such option"),
    ],
)
def test_half_a_place_or_two_is_refused(arguments: list[str], says: str) -> None:
    result = CliRunner().invoke(main, ["correct-mark", *arguments])
    assert result.exit_code == 2
    assert says in result.output
