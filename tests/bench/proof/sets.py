"""Which nights tune, which nights judge. Nobody looked at the judging ones while tuning.

Holding and dragging nights have seeds of their own, so that all nights are independent of each
other: the same seed with and without a drag would be the same boat, wind and receiver.

The figures of the bank of hypotheses were first chosen on seeds 5000 to 5059 and 6000 to 6039, by
hand, and again on those that tune. The test nights were run once, when figures and limits stood,
and nothing was turned after. The first 200 seeds from 20000, 22000, 24000, 26000 and 28000 on
(hold), and from 30000, 32000, 34000, 36000 and 38000 on (drag), were the test nights of earlier
detectors; what was seen there led to this one, so they judge no more.
"""

from typing import Final

TUNE_HOLD: Final = range(6000, 6300)
TUNE_DRAG: Final = range(6500, 6700)
TEST_HOLD: Final = range(40000, 40200)
TEST_DRAG: Final = range(50000, 50200)
TRIAL_HOLD: Final = range(900000, 900100)
TRIAL_DRAG: Final = range(900500, 900600)
"""To try the program itself out with; no figure comes from them."""

SETS: Final = {
    "tune": (TUNE_HOLD, TUNE_DRAG),
    "test": (TEST_HOLD, TEST_DRAG),
    "trial": (TRIAL_HOLD, TRIAL_DRAG),
}
TUNED_ON: Final = {"tune": "tune", "test": "tune", "trial": "trial"}
"""On which nights the limits of the rivals are set."""
WIND_NIGHTS: Final = 50
"""Only the first so many of a set, of each kind, are watched with a wind sensor as well: it changes
little, and the time is better spent on other nights."""
_SET_BEGINS: Final = 500


def with_wind(seed: int) -> bool:
    """Whether this night is among them; every set begins at a multiple of 500."""
    return seed % _SET_BEGINS < WIND_NIGHTS
