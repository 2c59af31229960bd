"""A night of the six sentences most boats send, each with every fix, for benchmarks."""

from collections.abc import Iterator

from attrs import evolve

from driftlead.lines import StampedLine
from driftlead.simulate.night import stream_night
from driftlead.simulate.scenarios import HOUR_S, steady_breeze

_KINDS = ("RMC", "GGA", "GSA", "HDT", "MWV", "DPT")


def six_sentence_night(seed: int, hours: float = 8.0, hz: float = 1.0) -> Iterator[str]:
    """Bare NMEA 0183 without line ends: RMC, GGA, GSA, HDT, MWV and DPT, ``hz`` times a second."""
    interval_s = 1.0 / hz
    scenario = evolve(
        steady_breeze(seed=seed, lasts_s=hours * HOUR_S),
        fix_interval_s=interval_s,
        talk=dict.fromkeys(_KINDS, interval_s),
    )
    return (m.text for m in stream_night(scenario) if isinstance(m, StampedLine))
