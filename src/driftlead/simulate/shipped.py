"""Write the nights that come with driftlead: ``python -m driftlead.simulate.shipped DIR``.

The same text comes out on every machine. The compressed bytes are the same wherever zlib packs
the same way, for the gzip header holds no time and no name.
"""

import datetime as dt
import gzip
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from driftlead.core.inputs_json import command_to_json
from driftlead.core.settings import CoreSettings
from driftlead.core.settings_json import settings_to_json
from driftlead.lines import StampedLine
from driftlead.recording.format import HEADER, format_input, format_line
from driftlead.simulate.night import Night, SkipperInput, simulate_night
from driftlead.simulate.scenario import Scenario
from driftlead.simulate.scenarios import EARLIEST_DATE, RODE_ABOARD_M, demo_nights
from driftlead.simulate.talk import GPS, INSTRUMENTS
from driftlead.watch.settings import BoatSettings, TackleSettings, WatchSettings

BARE_NIGHTS = frozenset({"quiet-night", "slow-drag"})
"""Nights that are also shipped as bare NMEA 0183, as other loggers keep it."""


def settings_of(scenario: Scenario) -> CoreSettings:
    """Give the settings with which this boat's own driftlead would run."""
    boat = scenario.boat
    return CoreSettings(
        watch=WatchSettings(
            boat=BoatSettings(
                bow_height_m=boat.bow_height_m,
                antenna_aft_m=boat.antenna_aft_m,
                length_m=boat.length_m,
            ),
            tackle=TackleSettings(rode_aboard_m=RODE_ABOARD_M),
        ),
        source_order=(GPS, INSTRUMENTS),
        earliest_date=EARLIEST_DATE,
    )


def recording_lines(night: Night) -> Iterator[str]:
    """Write a night as a recording of format 1, without line ends."""
    scenario = night.scenario
    yield HEADER
    yield f"# {scenario.name}: {scenario.story}"
    yield f"# Synthetic, seed {scenario.seed}: the sloop Corvid in Pellow Sound, which is nowhere."
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
    yield (
        f"let go at {_utc(scenario, let_go_s)} ({let_go_s:.0f} s) "
        f"at {drop.lat_deg:.5f}, {drop.lon_deg:.5f}; {scenario.anchoring.rode_m:.0f} m of chain."
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
        "rode_m": scenario.anchoring.rode_m,
        "settled_m": round(night.settled_m, 1),
        "held": drag is None,
        "drag": None
        if drag is None
        else {
            "begins_utc": _utc(scenario, drag.begins_s),
            "begins_s": drag.begins_s,
            "ends_utc": _utc(scenario, drag.ends_s),
            "ends_s": drag.ends_s,
            "distance_m": round(drag.distance_m, 1),
            "bearing_deg": round(drag.bearing_deg, 1),
        },
    }


def shipped_texts(night: Night) -> Iterator[tuple[str, str]]:
    """Each file a night is shipped as: its name, and its text before compression."""
    name = night.scenario.name
    yield f"{name}.log.gz", "".join(f"{line}\n" for line in recording_lines(night))
    if name in BARE_NIGHTS:
        yield f"{name}.nmea.gz", "".join(f"{line.text}\r\n" for line in night.lines)


def packed(text: str) -> bytes:
    """Compress ASCII text so that equal text gives equal bytes."""
    held = io.BytesIO()
    # gzip.compress leaves one byte of the header to the Python version; GzipFile does not.
    with gzip.GzipFile(filename="", mode="wb", fileobj=held, compresslevel=9, mtime=0) as file:
        file.write(text.encode("ascii"))
    return held.getvalue()


def write_nights(folder: Path) -> Iterator[Path]:
    """Write every night and ``truth.json``; yields each file once it is there."""
    truth = {}
    for scenario in demo_nights():
        night = simulate_night(scenario)
        truth[scenario.name] = truth_json(night)
        for name, text in shipped_texts(night):
            path = folder / name
            path.write_bytes(packed(text))
            yield path
    path = folder / "truth.json"
    path.write_text(json.dumps(truth, indent=2) + "\n", encoding="ascii")
    yield path


def _utc(scenario: Scenario, t_s: float) -> str:
    moment = scenario.start_utc + dt.timedelta(seconds=round(t_s))
    return f"{moment:%Y-%m-%dT%H:%M:%SZ}"


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
def main(folder: Path) -> None:
    """Write the nights that come with driftlead into FOLDER."""
    for path in write_nights(folder):
        click.echo(f"{path} ({path.stat().st_size // 1000} kB)")


if __name__ == "__main__":
    main()
