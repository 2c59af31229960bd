"""The stay as the skipper tells it."""

import datetime as dt
from typing import Any

import pytest

from driftlead.errors import UserInputError
from driftlead.planning.plan_stay import Stay, plan_stay
from driftlead.tide.table import TideTable, Turn

EVENING = dt.datetime(2026, 6, 14, 20, 0, tzinfo=dt.UTC)
TIDE = TideTable(
    (
        Turn(when=EVENING, height_m=4.0),
        Turn(when=EVENING + dt.timedelta(hours=6), height_m=1.0),
    )
)


def stay(**changed: Any) -> Stay:
    """The usual stay but for what is given."""
    usual: dict[str, Any] = {
        "begins": EVENING,
        "for_s": 6 * 3600.0,
        "depth_m": 6.0,
        "charted_m": None,
        "tide": None,
        "wind_mps": 10.0,
    }
    return plan_stay(**{**usual, **changed})


def test_gusts_not_forecast_are_four_tenths_above_the_wind() -> None:
    """Common practice: forecasts give the mean and warn of gusts up to 40 % above it."""
    assert stay().gust_mps == pytest.approx(14.0)
    assert stay(gust_mps=11.0).gust_mps == 11.0


def test_a_sounding_counts_before_the_chart_and_the_difference_is_kept() -> None:
    """Chart 2.5 m and tide 4 m are 6.5 m; she sounded 6."""
    both = stay(charted_m=2.5, tide=TIDE)
    assert both.water.depth_m(EVENING) == pytest.approx(6.0)
    assert both.sounded_over_chart_m == pytest.approx(-0.5)
    assert stay(tide=TIDE).sounded_over_chart_m is None
    charted = stay(charted_m=2.5, depth_m=None, tide=TIDE)
    assert charted.water.depth_m(EVENING) == pytest.approx(6.5)


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"depth_m": None}, "The depth is not known"),
        ({"depth_m": None, "charted_m": 2.0}, "A charted depth alone"),
        ({"depth_m": 0.0}, "no water to anchor in"),
        ({"for_s": 0.0}, "longer than nothing"),
        ({"for_s": 15 * 86400.0}, "no longer than 14 days"),
        ({"wind_mps": 200.0}, "No such wind"),
        ({"gust_mps": 9.0}, "Gusts cannot be weaker"),
        ({"scope": 1.0}, "A scope of 1 is no rule"),
        ({"scope": 50.0}, "A scope of 50 is no rule"),
        ({"scope": float("nan")}, "A scope of nan is no rule"),
    ],
)
def test_what_cannot_be_is_refused_with_a_remedy(changed: dict[str, Any], says: str) -> None:
    with pytest.raises(UserInputError) as caught:
        stay(**changed)
    assert says in caught.value.message
    assert caught.value.remedy
