"""The watch's settings: the boat, her tackle, and the limits, each with its unit in its name."""

from itertools import pairwise
from typing import Any

from attrs import field, frozen
from attrs.validators import ge, le


@frozen(kw_only=True)
class BoatSettings:
    """The boat's own measures in metres.

    ``antenna_aft_m`` is the distance from the bow roller aft to the GNSS antenna.
    """

    bow_height_m: float = 1.0
    antenna_aft_m: float = 0.0
    length_m: float = 10.0


@frozen(kw_only=True)
class TackleSettings:
    """What is in the chain locker.

    ``rode_aboard_m`` is all the rode there is: before the skipper says how much is out, the boat
    cannot be farther from the anchor than this. None: not known. ``rode_slack`` is how
    much longer the rode may really be than the skipper counts, stretch included, as a fraction:
    0.08 for chain, 0.2 for rope.
    """

    rode_aboard_m: float | None = None
    rode_slack: float = 0.08


@frozen(kw_only=True)
class DetectorSettings:
    """When the detector speaks.

    ``false_alarm_nights``: the skipper accepts one false drag alarm in so many nights; more
    nights, later alarms. ``dwell_s``: for how long the evidence must stand, unless it is
    overwhelming; ``floor_m``: beyond the drag circle by this much, ``floor_dwell_s`` is enough,
    whatever the evidence (breakouts).
    ``sigmas``: how many standard errors of fix and anchor that circle is widened by.
    ``fix_sigma_m``: the receiver's slow error per axis at HDOP 1.
    """

    false_alarm_nights: float = 50.0
    dwell_s: float = 10.0
    floor_m: float = 25.0
    floor_dwell_s: float = 8.0
    sigmas: float = 2.0
    fix_sigma_m: float = 2.5


@frozen(kw_only=True)
class LimitSettings:
    """How long each kind of blindness may last before it is a warning, then an alarm (seconds).

    Limits stretch to three times the receiver's own interval where that is longer.
    """

    stale_warning_s: float = 30.0
    stale_alarm_s: float = 180.0
    lost_warning_s: float = 60.0
    lost_alarm_s: float = 300.0
    poor_caution_s: float = 60.0
    poor_warning_s: float = 600.0
    frozen_caution_s: float = 180.0
    frozen_warning_s: float = 900.0
    poor_hdop: float = 5.0
    rode_unknown_s: float = 300.0


def _in_order(_self: Any, _attribute: Any, turns: tuple[tuple[float, float], ...]) -> None:
    if not all(0.0 <= utc_s < _LATEST_S and abs(m) < _HIGHEST_M for utc_s, m in turns):
        raise ValueError("tide: a time or height that cannot be")
    if not all(before[0] < after[0] for before, after in pairwise(turns)):
        raise ValueError("tide: not in order of time")


_LATEST_S = 2.0**33  # in the year 2242
_HIGHEST_M = 100.0


@frozen(kw_only=True)
class OutlookSettings:
    """What the plan reckoned with, for the watch to look ahead by; None or empty: not known.

    ``wind_mps`` is the mean wind planned for. ``tide`` is high and low waters in order: Unix
    seconds of UTC and metres above chart datum. ``clearance_m`` is the water wanted under the keel;
    ``least_scope`` the rode over depth and bow height below which she is warned. ``utc_offset_s``
    is the ship's zone, in which times are told.
    """

    wind_mps: float | None = None
    tide: tuple[tuple[float, float], ...] = field(default=(), validator=_in_order)
    draught_m: float | None = None
    clearance_m: float = 0.5
    least_scope: float = 3.0
    utc_offset_s: float = field(default=0.0, validator=[ge(-50_400.0), le(50_400.0)])


@frozen(kw_only=True)
class WatchSettings:
    """Everything the watch needs to know.

    ``around`` is the text of what lies round the anchorage (see docs/swinging-room.md): GeoJSON, or
    the tables ``boat`` and ``danger`` as one JSON object; empty: nothing is known of it.
    """

    boat: BoatSettings = field(factory=BoatSettings)
    tackle: TackleSettings = field(factory=TackleSettings)
    detector: DetectorSettings = field(factory=DetectorSettings)
    limits: LimitSettings = field(factory=LimitSettings)
    around: str = ""
    outlook: OutlookSettings = field(factory=OutlookSettings)
