"""What the rules ask of a vessel at anchor."""

import pytest

from driftlead.planning.plan_reminders import reminders


@pytest.mark.parametrize(
    ("length_m", "words"),
    [
        (6.5, "where it is best seen"),
        (9.6, "where it is best seen"),
        (49.9, "where it is best seen"),
        (50.0, "forward and a lower one at the stern"),
        (120.0, "and the decks lit"),
        (None, "where it is best seen"),
    ],
)
def test_lights_and_ball_are_those_of_rule_30(length_m: float | None, words: str) -> None:
    """COLREG 30 (a) to (c): under 50 m one light may do, from 100 m the decks are lit."""
    text = " ".join(reminders(length_m))
    assert words in text
    assert "one ball" in text
    assert "Rule" in text


@pytest.mark.parametrize(("length_m", "exempt"), [(6.9, True), (7.0, False), (None, False)])
def test_under_seven_metres_the_exemption_is_told_with_its_limits(
    length_m: float | None, exempt: bool
) -> None:
    """COLREG 30 (e)."""
    text = " ".join(reminders(length_m))
    assert ("only away from any narrow channel, fairway, anchorage" in text) is exempt


@pytest.mark.parametrize(
    ("length_m", "words"),
    [
        (11.9, "efficient sound signal at least every 2 minutes"),
        (12.0, "bell rapidly for some 5 s every minute"),
        (None, "bell rapidly for some 5 s every minute"),
        (100.0, "then the gong aft"),
    ],
)
def test_sound_in_fog_is_that_of_rule_35(length_m: float | None, words: str) -> None:
    """COLREG 35 (g); for under 12 m from memory."""
    assert words in " ".join(reminders(length_m))
