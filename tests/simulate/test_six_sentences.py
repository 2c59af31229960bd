"""The night of six sentences for benchmarks."""

from collections import Counter

import pynmea2
import pytest

from driftlead.simulate.six_sentences import six_sentence_night


@pytest.mark.parametrize("hz", [1.0, 10.0])
def test_each_fix_comes_with_all_six_sentences(hz: float) -> None:
    """RMC, GGA, GSA, HDT, MWV and DPT, all valid, ``hz`` times a second."""
    lines = list(six_sentence_night(seed=1, hours=0.1, hz=hz))
    kinds = Counter(pynmea2.parse(line, check=True).sentence_type for line in lines)
    assert kinds == dict.fromkeys(("RMC", "GGA", "GSA", "HDT", "MWV", "DPT"), 360 * hz + 1)


def test_the_night_repeats_from_its_seed() -> None:
    """Equal seeds, equal lines."""
    assert list(six_sentence_night(3, hours=0.02)) == list(six_sentence_night(3, hours=0.02))
    assert list(six_sentence_night(3, hours=0.02)) != list(six_sentence_night(4, hours=0.02))
