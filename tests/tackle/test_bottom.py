"""What is said of bottoms."""

import re

from driftlead.tackle.bottom import HOLDING, IS_POOR, Bottom


def test_every_bottom_has_its_word_and_none_pretends_to_a_figure() -> None:
    assert set(HOLDING) == set(Bottom)
    assert not any(re.search(r"\d", text) for text in HOLDING.values())
    assert {Bottom.WEED, Bottom.ROCK} == IS_POOR
