"""The drag circle with a dwell: outside it for long enough, the anchor has moved.

The circle is the handbook one (rode plus the distance from hawse to fix, centred on the anchor;
NAVEDTRA 14221), drawn with the bar-taut reach and widened by what is uncertain. Beyond it by
``floor_m`` the boat is gone so far that a few seconds are proof enough.
"""

import math
from collections import deque
from typing import Final

from driftlead.tackle.drag_circle import DragCircle
from driftlead.track.point import FixState, TrackPoint
from driftlead.watch.detector import AnchorInPlane
from driftlead.watch.instruments import Instruments
from driftlead.watch.judgement import Judgement, Reason, Verdict
from driftlead.watch.settings import DetectorSettings

RATE_WINDOW_S: Final = 90.0
"""Over how long the drift's rate is fitted: about one yaw, so that sheering averages out."""
RATE_STEP_S: Final = 3.0
MIN_RATE_SPAN_S: Final = 15.0


class CircleDetector:
    """A Detector: filtered position against the drag circle."""

    def __init__(self, settings: DetectorSettings) -> None:
        self._settings = settings
        self._anchor = AnchorInPlane(0.0, 0.0, 0.0)
        self._nominal_m = 0.0
        self._certain_m: float | None = None
        self._whole_rode = False
        self._outside_since_s: float | None = None
        self._far_since_s: float | None = None
        self._distances: deque[tuple[float, float]] = deque()

    def arm(self, anchor: AnchorInPlane, circle: DragCircle | None, *, whole_rode: bool) -> None:
        """Watch this anchor with this circle (see Detector)."""
        self._anchor = anchor
        self._whole_rode = whole_rode
        self._nominal_m = 0.0 if circle is None else circle.reach_m + circle.antenna_aft_m
        self._certain_m = None if circle is None else self._nominal_m + circle.rode_slack_m
        self._outside_since_s = self._far_since_s = None
        self._distances.clear()

    def judge(self, point: TrackPoint, instruments: Instruments) -> Judgement:  # noqa: ARG002
        """Judge one point (see Detector). This detector needs no instruments."""
        anchor = self._anchor
        east_m = point.east_m - anchor.east_m
        north_m = point.north_m - anchor.north_m
        distance_m = math.hypot(east_m, north_m)
        bearing_deg = math.degrees(math.atan2(east_m, north_m)) % 360.0
        time_s = point.time_s
        distances = self._distances
        if not distances or time_s - distances[-1][0] >= RATE_STEP_S:
            distances.append((time_s, distance_m))
            while time_s - distances[0][0] > RATE_WINDOW_S:
                distances.popleft()
        certain_m = self._certain_m
        if certain_m is None:
            return Judgement(
                Verdict.UNSURE,
                Reason.RODE_UNKNOWN,
                distance_m,
                bearing_deg,
                None,
                0.0,
                None,
                -10.0,
            )
        settings = self._settings
        sigma_m = math.sqrt(anchor.sigma_m * anchor.sigma_m + point.sigma_m * point.sigma_m)
        radius_m = certain_m + settings.sigmas * sigma_m
        outside_sigmas = (distance_m - certain_m) / sigma_m
        if distance_m <= radius_m:
            # A fix the filter refused neither proves nor disproves: it leaves the dwell running.
            if point.fix_state is not FixState.JUMPED:
                self._outside_since_s = self._far_since_s = None
            return Judgement(
                Verdict.HOLDING,
                Reason.INSIDE_DRAG_CIRCLE,
                distance_m,
                bearing_deg,
                radius_m,
                0.0,
                None,
                outside_sigmas,
            )
        verdict, reason = self._outside(time_s, far=distance_m > radius_m + settings.floor_m)
        return Judgement(
            verdict,
            reason,
            distance_m,
            bearing_deg,
            radius_m,
            distance_m - self._nominal_m,
            self._rate_mps(),
            outside_sigmas,
        )

    def _outside(self, time_s: float, *, far: bool) -> tuple[Verdict, Reason]:
        settings = self._settings
        if self._outside_since_s is None:
            self._outside_since_s = time_s
        if not far:
            self._far_since_s = None
        elif self._far_since_s is None:
            self._far_since_s = time_s
        if self._far_since_s is not None and time_s - self._far_since_s >= settings.floor_dwell_s:
            reason = Reason.FAR_OUTSIDE_DRAG_CIRCLE
        elif time_s - self._outside_since_s >= settings.dwell_s:
            reason = Reason.OUTSIDE_DRAG_CIRCLE
        else:
            return Verdict.UNSURE, Reason.OUTSIDE_NOT_YET_LONG
        if self._whole_rode:
            reason = Reason.OUTSIDE_WHOLE_RODE
        return Verdict.DRAGGING, reason

    def _rate_mps(self) -> float | None:
        """Slope of the distance over the last minute and a half, by least squares."""
        samples = self._distances
        count = len(samples)
        if count < 3 or samples[-1][0] - samples[0][0] < MIN_RATE_SPAN_S:
            return None
        mean_s = sum(time_s for time_s, _ in samples) / count
        mean_m = sum(distance_m for _, distance_m in samples) / count
        spread = sum((time_s - mean_s) ** 2 for time_s, _ in samples)
        return (
            sum((time_s - mean_s) * (distance_m - mean_m) for time_s, distance_m in samples)
            / spread
        )
