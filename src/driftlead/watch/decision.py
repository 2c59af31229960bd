"""When to wake the crew: the evidence against what they accept in false alarms.

The cheap half of the detector. It sees only ``Evidence``, so that a recorded night can be decided
again under other settings without working the evidence out anew.
"""

import math
from typing import Final

from driftlead.watch.evidence import Evidence, Knowledge
from driftlead.watch.judgement import Reason, Verdict
from driftlead.watch.settings import DetectorSettings

WIDEST_NIGHTS: Final = 1e6
AT_50_NIGHTS: Final = {
    Knowledge.MARKED_WITH_HEADING: 3.0,
    Knowledge.MARKED: 4.5,
    Knowledge.LATE_WITH_HEADING: 4.5,
    Knowledge.LATE: 4.0,
}
"""Log-odds that at most 1 simulated night in 50 reaches, for the dwell on end, though the anchor
holds: of the 136 that tuned them one at most did (docs/proof.md)."""
PER_DECADE: Final = 5.0
"""How much the log-odds must rise for ten times fewer false alarms (of the same nights)."""
OVERWHELMING: Final = 2.0
"""So far beyond the limit the evidence need not stand for the dwell, in which a breakout makes
metres."""
UNSURE_LOG_ODDS: Final = 0.0
"""More likely than not."""


class Decision:
    """Evidence in, verdicts out; called in order of time."""

    def __init__(self, settings: DetectorSettings) -> None:
        self._settings = settings
        decades = math.log10(min(settings.false_alarm_nights, WIDEST_NIGHTS) / 50.0)
        self._limits = {
            knowledge: at_50 + PER_DECADE * decades for knowledge, at_50 in AT_50_NIGHTS.items()
        }
        self.begin()

    def begin(self) -> None:
        """Begin anew: another watch, or another anchor."""
        self._over_since_s: float | None = None
        self._far_since_s: float | None = None

    def take(self, evidence: Evidence) -> tuple[Verdict, Reason]:
        """Decide at one step of the evidence."""
        settings = self._settings
        time_s = evidence.time_s
        # What dead reckoning alone has carried out there neither proves nor disproves.
        far = evidence.borne_out and evidence.beyond_m > settings.floor_m
        if not far:
            self._far_since_s = None
        elif self._far_since_s is None:
            self._far_since_s = time_s
        if self._far_since_s is not None and time_s - self._far_since_s >= settings.floor_dwell_s:
            return Verdict.DRAGGING, Reason.FAR_OUTSIDE_DRAG_CIRCLE
        limit = self._limits[evidence.knowledge]
        if evidence.log_odds < limit:
            self._over_since_s = None
            if evidence.log_odds >= min(UNSURE_LOG_ODDS, limit):
                return Verdict.UNSURE, Reason.SWING_CHANGED
            if far:
                return Verdict.UNSURE, Reason.NOT_YET_LONG
            return Verdict.HOLDING, Reason.AS_THE_RODE_ALLOWS
        if self._over_since_s is None:
            self._over_since_s = time_s
        # A dwell without end leaves everything to the floor.
        overwhelming = evidence.log_odds >= limit + OVERWHELMING and settings.dwell_s < math.inf
        if overwhelming or time_s - self._over_since_s >= settings.dwell_s:
            return Verdict.DRAGGING, Reason.ANCHOR_MOVED
        return Verdict.UNSURE, Reason.NOT_YET_LONG
