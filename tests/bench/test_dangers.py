"""What it costs to ask for the danger ahead."""

import math
import random
import time

import pytest
import shapely

from driftlead.planning.danger_ahead import DangerKind
from driftlead.planning.dangers import Danger, Dangers

CALLS = 500
LIMIT_S = 0.001


@pytest.mark.bench
def test_the_danger_ahead_is_known_within_a_millisecond() -> None:
    """With a coast of two thousand corners and twenty rocks, on the mean of many calls."""
    places = random.Random(1)
    coast = [(5.0 * n - 5000.0, 200.0 + 30.0 * math.sin(n / 7.0)) for n in range(2000)]
    rocks = [shapely.Point(places.uniform(-500, 500), places.uniform(-500, 100)) for _ in range(20)]
    dangers = Dangers(
        [
            Danger(name="coast", kind=DangerKind.SHORE, shape=shapely.LineString(coast)),
            *(
                Danger(name=f"rock {n}", kind=DangerKind.ROCK, shape=rock.buffer(20.0))
                for n, rock in enumerate(rocks)
            ),
        ],
        hull_m=10.0,
    )
    began_s = time.perf_counter()
    for _ in range(CALLS):
        dangers.ahead(places.uniform(-50, 50), places.uniform(-50, 50), places.uniform(0, 360), 0.1)
    each_s = (time.perf_counter() - began_s) / CALLS
    print(f"danger ahead: {each_s * 1e3:.2f} ms a call; limit {LIMIT_S * 1e3:.0f} ms")
    assert each_s < LIMIT_S
