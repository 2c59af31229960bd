"""A sweep of two hundred settings over twenty nights, decoded before: how long it takes."""

import time
from pathlib import Path

import pytest

from driftlead.replay.settings import ReplaySettings
from driftlead.tune.cache import TraceCache
from driftlead.tune.nights import Night
from driftlead.tune.study import study
from driftlead.tune.sweep import sweep
from driftlead.tune.trace import decode
from driftlead.tune.truth import Truth
from driftlead.tune.variations import built_in
from driftlead.tune.workers import all_cores
from driftlead.watch.settings import DetectorSettings

pytestmark = pytest.mark.bench
SHIPPED = Path(__file__).resolve().parents[2] / "replay_logs"
NIGHTS = 20
LIMIT_S = 60.0


def test_a_sweep_over_twenty_nights_takes_less_than_a_minute(tmp_path: Path) -> None:
    """On two cores, after the first decode, the report included. The longest night, twenty times.

    The night is the one no setting stops early, so every step of it is decided on.
    """
    plain = DetectorSettings()
    begun = time.perf_counter()
    trace = decode([SHIPPED / "quiet-night.log.gz"], ReplaySettings(), plain)
    decode_s = time.perf_counter() - begun
    cache = TraceCache(tmp_path / "cache")
    nights = []
    for number in range(NIGHTS):
        path = tmp_path / f"n{number:02d}.log"
        path.write_text(f"{number}\n")
        cache.save(cache.key([path], ReplaySettings(), plain), trace)
        nights.append(Night(path.name, (path,)))
    variations = built_in()
    begun = time.perf_counter()
    with all_cores(2) as executor:
        swept = sweep(nights, {}, variations, cache=cache, executor=executor)
    truths = {f"n{number:02d}": Truth(None) for number in range(NIGHTS)}
    told = study(swept, variations, {}, truths, accepted=0.02)
    spent_s = time.perf_counter() - begun
    print(
        f"\n{len(variations)} settings on {NIGHTS} nights of {len(trace.rows)} steps: "
        f"{spent_s:.1f} s on two cores; decoding one of the nights took {decode_s:.1f} s"
    )
    assert swept.decoded == 0
    assert told.points[0].false.of == NIGHTS
    assert spent_s <= LIMIT_S
