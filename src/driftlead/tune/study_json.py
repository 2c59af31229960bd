"""A study as JSON for scripts, format 1. Distances in metres, times in seconds or UTC."""

import datetime as dt
import json
import math
from typing import Any, Final

from attrs import asdict

from driftlead.tune.curve import Point, Share, operating_curve
from driftlead.tune.study import NightReport, Study
from driftlead.tune.variations import Variation, as_toml

FORMAT: Final = 1


def study_to_json(study: Study) -> str:
    """Write a study as JSON, a key a line."""
    chosen = study.chosen
    data = {
        "v": FORMAT,
        "accepted": study.accepted,
        "recommended": None if chosen is None else _setting(study, chosen),
        "tried_on_others": None if study.others is None else _point(study.others),
        "curve": [_setting(study, index) for index in operating_curve(study.points)],
        "settings": [_setting(study, index) for index in range(len(study.points))],
        "nights": [_night(night) for night in study.nights],
        "left_out": dict(study.left_out),
    }
    return json.dumps(_clean(data), indent=2, allow_nan=False)


def _setting(study: Study, index: int) -> dict[str, Any]:
    variation: Variation = study.variations[index]
    return {
        "name": variation.name,
        "detector": asdict(variation.settings),
        "toml": as_toml(variation.settings),
        **_point(study.points[index]),
    }


def _point(point: Point) -> dict[str, Any]:
    return {
        "false": _share(point.false),
        "missed": _share(point.missed),
        "median_m": point.median_m,
        "worst_m": point.worst_m,
        "median_min": point.median_min,
        "worst_min": point.worst_min,
    }


def _share(share: Share) -> dict[str, Any]:
    return {"count": share.count, "of": share.of, "low": share.low, "high": share.high}


def _night(night: NightReport) -> dict[str, Any]:
    went, judged, alarm, anchor = night.went, night.judged, night.alarm, night.anchor
    return {
        "name": night.name,
        "begins": _utc(night.begins_utc_s),
        "watched_s": night.watched_s,
        "held": None if went is None else went.held,
        "drag_begins": None if went is None else _utc(went.begins_utc_s),
        "said_by": None if went is None else went.by,
        "verdict": None if judged is None else judged.verdict.value,
        "alarm": None if alarm is None else _utc(alarm.utc_s),
        "reason": None if alarm is None else alarm.reason,
        "late_s": None if judged is None else judged.late_s,
        "dragged_m": None if judged is None else judged.dragged_m,
        "anchor": None if anchor is None else {**asdict(anchor), "agrees": anchor.agrees},
        "notes": list(night.notes),
    }


def _utc(utc_s: float | None) -> str | None:
    if utc_s is None or not math.isfinite(utc_s):
        return None
    return f"{dt.datetime.fromtimestamp(utc_s, dt.UTC):%Y-%m-%dT%H:%M:%SZ}"


def _clean(value: Any) -> Any:
    """JSON has no infinity and no not-a-number."""
    if isinstance(value, dict):
        return {key: _clean(each) for key, each in value.items()}
    if isinstance(value, list):
        return [_clean(each) for each in value]
    if isinstance(value, float):
        return round(value, 6) if math.isfinite(value) else None
    return value
