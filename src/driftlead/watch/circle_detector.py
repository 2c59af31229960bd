"""The drag circle with a dwell: outside it for long enough, the anchor has moved.

The circle is the handbook one (rode plus the distance from hawse to fix, centred on the anchor;
NAVEDTRA 14221), drawn with the bar-taut reach and widened by what is uncertain. Beyond it by
``floor_m`` the boat is gone so far that a few seconds are proof enough.
"""

import math
from collections import deque
from typing import Final

from driftlead.geodesy.plane import wrap_bearing_deg
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
RECENT_S: Final = 30.0
QUICKENED: Final = 1.25
"""A drift so much faster of late has only just begun: the time before it is no part of its rate."""


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
        self._borne_out = False
        self._track: deque[tuple[float, float, float]] = deque()

    def arm(self, anchor: AnchorInPlane, circle: DragCircle | None, *, whole_rode: bool) -> None:
        """Watch this anchor with this circle (see Detector)."""
        self._anchor = anchor
        self._whole_rode = whole_rode
        self._nominal_m = 0.0 if circle is None else circle.reach_m + circle.antenna_aft_m
        self._certain_m = None if circle is None else self._nominal_m + circle.rode_slack_m
        self._outside_since_s = self._far_since_s = None
        self._track.clear()

    def refine(self, anchor: AnchorInPlane) -> None:
        """Watch the same anchor at a place better known (see Detector)."""
        self._anchor = anchor

    def judge(self, point: TrackPoint, instruments: Instruments) -> Judgement:  # noqa: ARG002
        """Judge one point (see Detector). This detector needs no instruments."""
        anchor = self._anchor
        east_m = point.east_m - anchor.east_m
        north_m = point.north_m - anchor.north_m
        distance_m = math.hypot(east_m, north_m)
        bearing_deg = wrap_bearing_deg(math.degrees(math.atan2(east_m, north_m)))
        time_s = point.time_s
        track = self._track
        if not track or time_s - track[-1][0] >= RATE_STEP_S:
            track.append((time_s, point.east_m, point.north_m))
            while time_s - track[0][0] > RATE_WINDOW_S:
                track.popleft()
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
            # A fix the filter refused neither proves nor disproves: it leaves a dwell running.
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
        far = distance_m > radius_m + settings.floor_m
        verdict, reason = self._outside(time_s, point.fix_state, far=far)
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

    def _outside(self, time_s: float, fix_state: FixState, *, far: bool) -> tuple[Verdict, Reason]:
        settings = self._settings
        if fix_state is FixState.JUMPED:
            if self._outside_since_s is None or not self._borne_out:
                # Nothing but Doppler has carried the track out here; or it began anew out here
                # with a fix that the next one contradicts.
                self._outside_since_s = self._far_since_s = None
                return Verdict.UNSURE, Reason.OUTSIDE_NOT_YET_LONG
        else:
            if self._outside_since_s is None:
                self._outside_since_s = time_s
                self._borne_out = False
            if fix_state is FixState.TAKEN:
                self._borne_out = True
            if not far:
                self._far_since_s = None
            elif self._far_since_s is None:
                self._far_since_s = time_s
        far_since_s, outside_since_s = self._far_since_s, self._outside_since_s
        if far_since_s is not None and time_s - far_since_s >= settings.floor_dwell_s:
            reason = Reason.FAR_OUTSIDE_DRAG_CIRCLE
        elif time_s - outside_since_s >= settings.dwell_s:
            reason = Reason.OUTSIDE_DRAG_CIRCLE
        else:
            return Verdict.UNSURE, Reason.OUTSIDE_NOT_YET_LONG
        if self._whole_rode:
            reason = Reason.OUTSIDE_WHOLE_RODE
        return Verdict.DRAGGING, reason

    def _rate_mps(self) -> float | None:
        """How fast the distance grows over the last minute and a half, or of late if faster."""
        track = self._track
        if not track or track[-1][0] - track[0][0] < MIN_RATE_SPAN_S:
            return None
        anchor = self._anchor
        samples = [
            (time_s, math.hypot(east_m - anchor.east_m, north_m - anchor.north_m))
            for time_s, east_m, north_m in track
        ]
        whole_mps = _slope(samples)
        recent = [sample for sample in samples if samples[-1][0] - sample[0] <= RECENT_S]
        if recent[-1][0] - recent[0][0] < MIN_RATE_SPAN_S:
            return whole_mps
        recent_mps = _slope(recent)
        return recent_mps if abs(recent_mps) > QUICKENED * abs(whole_mps) else whole_mps


def _slope(samples: list[tuple[float, float]]) -> float:
    """Slope by least squares of at least two samples at different times."""
    mean_s = sum(time_s for time_s, _ in samples) / len(samples)
    mean_m = sum(distance_m for _, distance_m in samples) / len(samples)
    spread = sum((time_s - mean_s) ** 2 for time_s, _ in samples)
    return sum((time_s - mean_s) * (distance_m - mean_m) for time_s, distance_m in samples) / spread
