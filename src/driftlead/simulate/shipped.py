"""Write the nights that come with driftlead: ``python -m driftlead.simulate.shipped DIR``.

The same text comes out on every machine.
"""

import json
from collections.abc import Iterator
from pathlib import Path

import click

from driftlead.simulate.night import Night, simulate_night
from driftlead.simulate.night_files import bare_text, packed, recording_text, truth_json
from driftlead.simulate.scenarios import demo_nights

BARE_NIGHTS = frozenset({"quiet-night", "slow-drag"})
"""Nights that are also shipped as bare NMEA 0183, as other loggers keep it."""


def shipped_texts(night: Night) -> Iterator[tuple[str, str]]:
    """Each file a night is shipped as: its name, and its text before compression."""
    name = night.scenario.name
    yield f"{name}.log.gz", recording_text(night)
    if name in BARE_NIGHTS:
        yield f"{name}.nmea.gz", bare_text(night)


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


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
def main(folder: Path) -> None:
    """Write the nights that come with driftlead into FOLDER."""
    for path in write_nights(folder):
        click.echo(f"{path} ({path.stat().st_size // 1000} kB)")


if __name__ == "__main__":
    main()
