"""Which nights tune, which nights judge. Nobody looked at the judging ones while tuning.

Holding and dragging nights have seeds of their own, so that all nights are independent of each
other: the same seed with and without a drag would be the same boat, wind and receiver.

The figures of the bank of hypotheses were first chosen on seeds 5000 to 5059 and 6000 to 6039, by
hand, and again on those that tune. The test nights were run once, when figures and limits stood,
and nothing was turned after. Seeds 20000 to 20199, 22000 to 22199 and 24000 to 24199, and 30000 to
30199, 32000 to 32199 and 34000 to 34199 were the test nights of earlier detectors; what was seen
there led to this one, so they judge no more.
"""

from typing import Final

TUNE_HOLD: Final = range(6000, 6300)
TUNE_DRAG: Final = range(6500, 6700)
TEST_HOLD: Final = range(26000, 26200)
TEST_DRAG: Final = range(36000, 36200)
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
