"""A night as files: a recording, bare NMEA 0183, and the truth.

The compressed bytes are the same wherever zlib packs the same way, for the gzip header holds no
time and no name.
"""

import datetime as dt
import gzip
import io
import math
from collections.abc import Iterator
from typing import Any

from driftlead.core.inputs_json import command_to_json
from driftlead.core.settings import CoreSettings
from driftlead.core.settings_json import settings_to_json
from driftlead.lines import StampedLine
from driftlead.recording.format import HEADER, format_input, format_line
from driftlead.simulate.night import Night, SkipperInput
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.scenarios import EARLIEST_DATE, RODE_ABOARD_M
from driftlead.simulate.talk import GPS, INSTRUMENTS
from driftlead.watch.settings import BoatSettings, TackleSettings, WatchSettings


def settings_of(scenario: Scenario) -> CoreSettings:
    """Give the settings with which this boat's own driftlead would run."""
    boat = scenario.boat
    # What a rode of rope stretches by is part of what the skipper must reckon with.
    slack = TackleSettings().rode_slack + boat.stretch
    rode_aboard_m = max(RODE_ABOARD_M, math.ceil(scenario.anchoring.rode_m / 10.0) * 10.0)
    return CoreSettings(
        watch=WatchSettings(
            boat=BoatSettings(
                bow_height_m=boat.bow_height_m,
                antenna_aft_m=boat.antenna_aft_m,
                length_m=boat.length_m,
            ),
            tackle=TackleSettings(rode_aboard_m=rode_aboard_m, rode_slack=slack),
        ),
        source_order=(GPS, INSTRUMENTS),
        earliest_date=EARLIEST_DATE,
    )


def recording_lines(night: Night) -> Iterator[str]:
    """Write a night as a recording of format 1, without line ends."""
    scenario = night.scenario
    yield HEADER
    yield f"# {scenario.name}: {scenario.story}"
    yield f"# Synthetic, seed {scenario.seed}: {scenario.setting}"
    for sentence in truth_sentences(night):
        yield f"# Truth: {sentence}"
    settings = settings_to_json(settings_of(scenario))
    yield format_input(0.0, "part", {"run": scenario.name, "part": 1, "settings": settings})
    for moment in night.moments:
        if isinstance(moment, StampedLine):
            yield format_line(moment)
        elif isinstance(moment, SkipperInput):
            yield format_input(moment.mono_s, "command", command_to_json(moment.command))


def truth_sentences(night: Night) -> Iterator[str]:
    """Say what is true of a night, for people."""
    scenario = night.scenario
    drop = scenario.drop
    let_go_s = scenario.anchoring.let_go_s
    rode = "rode" if scenario.boat.stretch > 0.0 else "chain"
    yield (
        f"let go at {_utc(scenario, let_go_s)} ({let_go_s:.0f} s) "
        f"at {drop.lat_deg:.5f}, {drop.lon_deg:.5f}; {scenario.anchoring.rode_m:.0f} m of {rode}."
    )
    drag = night.drag
    if drag is None:
        yield f"the anchor holds; it settles {night.settled_m:.1f} m as it digs in."
        return
    yield (
        f"the drag begins at {_utc(scenario, drag.begins_s)} ({drag.begins_s:.0f} s), "
        f"ends at {_utc(scenario, drag.ends_s)} and comes to {drag.distance_m:.0f} m "
        f"toward {drag.bearing_deg:03.0f} degrees true."
    )


def truth_json(night: Night) -> dict[str, Any]:
    """Say what is true of a night, for programs: times in UTC, metres, degrees true."""
    scenario = night.scenario
    drag = night.drag
    return {
        "story": scenario.story,
        "starts_utc": _utc(scenario, 0.0),
        "lasts_s": scenario.lasts_s,
        "let_go_utc": _utc(scenario, scenario.anchoring.let_go_s),
        "drop": {"lat_deg": scenario.drop.lat_deg, "lon_deg": scenario.drop.lon_deg},
        "rode_m": round(scenario.anchoring.rode_m, 2),
        "settled_m": round(night.settled_m, 1),
        "held": drag is None,
        "drag": None
        if drag is None
        else {
            "begins_utc": _utc(scenario, drag.begins_s),
            "begins_s": round(drag.begins_s, 3),
            "ends_utc": _utc(scenario, drag.ends_s),
            "ends_s": round(drag.ends_s, 3),
            "distance_m": round(drag.distance_m, 1),
            "bearing_deg": round(drag.bearing_deg, 1),
        },
    }


def full_truth_json(night: Night) -> dict[str, Any]:
    """Say what is true of a night, and what it was made from."""
    scenario = night.scenario
    anchoring, drag = scenario.anchoring, scenario.holding.drag
    return {
        "synthetic": True,
        "seed": scenario.seed,
        **truth_json(night),
        "mode": None if drag is None or drag.mode is None else drag.mode.value,
        "rode_said_m": anchoring.said_m,
        "watch_set_late": anchoring.late_s is not None,
        "antenna_aft_m": round(scenario.boat.antenna_aft_m, 2),
        "bow_height_m": round(scenario.boat.bow_height_m, 2),
        "fix_interval_s": scenario.fix_interval_s,
    }


def recording_text(night: Night) -> str:
    """Write a night as a whole recording."""
    return "".join(f"{line}\n" for line in recording_lines(night))


def bare_text(night: Night) -> str:
    """Write what the sources said as bare NMEA 0183."""
    return "".join(f"{line.text}\r\n" for line in night.lines)


def packed(text: str) -> bytes:
    """Compress ASCII text so that equal text gives equal bytes."""
    held = io.BytesIO()
    # gzip.compress leaves one byte of the header to the Python version; GzipFile does not.
    with gzip.GzipFile(filename="", mode="wb", fileobj=held, compresslevel=9, mtime=0) as file:
        file.write(text.encode("ascii"))
    return held.getvalue()


def _utc(scenario: Scenario, t_s: float) -> str:
    moment = scenario.start_utc + dt.timedelta(seconds=round(t_s))
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"
