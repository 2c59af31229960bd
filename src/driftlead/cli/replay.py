"""``driftlead replay``: a recorded night through the same core as aboard."""

import contextlib
import datetime as dt
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

import click

from driftlead.cli.common import length, position, rode_or_depth
from driftlead.core.events_json import event_to_json
from driftlead.core.reply import Event
from driftlead.errors import DriftleadError, UserInputError
from driftlead.geodesy.position import Position
from driftlead.replay.reader import LogReader
from driftlead.replay.runner import Runner
from driftlead.replay.settings import ReplaySettings, parse_moment
from driftlead.replay.summary import Summary
from driftlead.replay.trace import Trace

EXIT_ALARM = 10


def _moment(text: str) -> dt.datetime | dt.time:
    """Read a time (UTC), with or without its date: a type for click."""
    try:
        return parse_moment(text)
    except UserInputError as error:
        raise click.BadParameter(str(error)) from error


@click.command(short_help="Run a recorded night through the same watch.")
@click.argument(
    "logs",
    nargs=-1,
    required=True,
    metavar="LOG...",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
)
@click.option("--rode", type=rode_or_depth, help="Rode out, e.g. 30m, 100ft, 5fm.")
@click.option("--depth", type=rode_or_depth, help="Depth of water at the bow.")
@click.option("--bow-height", type=length, help="Bow roller above the water.")
@click.option("--antenna-aft", type=length, help="From the bow roller aft to the antenna.")
@click.option("--drop", type=position, help="Where the anchor lies, as 46.5012,-31.2034.")
@click.option(
    "--drop-at",
    metavar="TIME",
    type=_moment,
    help="When the anchor touched bottom under the bow (UTC).",
)
@click.option(
    "--set-late-at",
    metavar="TIME",
    type=_moment,
    help="When the watch was set, with the boat already lying back (UTC).",
)
@click.option(
    "--date",
    type=click.DateTime(["%Y-%m-%d"]),
    help="Date on which the log begins, if it never says.",
)
@click.option(
    "--events",
    "events_path",
    type=click.Path(dir_okay=False, allow_dash=True, path_type=Path),
    help="Write every state change and alert as JSON lines; - is standard output.",
)
@click.option(
    "--geojson",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write track, anchor and drag circle as GeoJSON.",
)
@click.option(
    "--picture",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw track, anchor and drag circle as SVG.",
)
@click.option("--quiet", is_flag=True, help="No progress bar and no summary.")
@click.pass_context
def replay(
    ctx: click.Context,
    logs: tuple[Path, ...],
    rode: float | None,
    depth: float | None,
    bow_height: float | None,
    antenna_aft: float | None,
    drop: dict[str, float] | None,
    drop_at: dt.datetime | dt.time | None,
    set_late_at: dt.datetime | dt.time | None,
    date: dt.datetime | None,
    events_path: Path | None,
    geojson: Path | None,
    picture: Path | None,
    quiet: bool,
) -> None:
    """Run recorded nights (LOG..., plain or .gz) through the same watch as aboard.

    A recording made by driftlead carries its own commands (let go, veer, ...) and needs no
    options. A bare NMEA log needs --rode and one of --drop, --drop-at or --set-late-at; given for
    a recording, they take the place of its commands.

    Exit status: 0 if the night stayed quiet, 10 if an alarm was raised, others for errors.
    """
    settings = ReplaySettings(
        rode_m=rode,
        depth_m=depth,
        bow_height_m=bow_height,
        antenna_aft_m=antenna_aft,
        drop=None if drop is None else Position(**drop),
        drop_at=drop_at,
        set_late_at=set_late_at,
        date=None if date is None else date.date(),
    )
    summary = Summary()
    trace = Trace() if geojson is not None or picture is not None else None
    try:
        reader = LogReader.of(logs)
        reader.check_sentences()
        _check_options(settings, reader)
        with _writing(events_path) as out:
            runner = _run(reader, settings, summary, trace, out, progress=not quiet)
    except DriftleadError as error:
        raise click.ClickException(str(error)) from error
    except BrokenPipeError:
        sys.stderr.close()
        ctx.exit(1)
    if trace is not None:
        _draw(trace, geojson, picture)
    if not quiet:
        to_stderr = events_path is not None and str(events_path) == "-"
        for line in summary.report(runner.core, runner.mono_s):
            click.echo(line, err=to_stderr)
    if not summary.watched and not runner.core.on_watch:
        reader.faults.append(
            "No anchor was let go in this recording, so no watch was kept. To keep one, give "
            "--rode and one of --drop, --drop-at or --set-late-at."
        )
    for fault in (*runner.refusals, *reader.faults):
        click.echo(f"Note: {fault}", err=True)
    if runner.refusals or any("breaks off" in fault for fault in reader.faults):
        ctx.exit(1)
    ctx.exit(EXIT_ALARM if summary.alarms else 0)


def _check_options(settings: ReplaySettings, reader: LogReader) -> None:
    given = [settings.drop, settings.drop_at, settings.set_late_at]
    count = sum(way is not None for way in given)
    if count > 1:
        raise UserInputError(
            "More than one of --drop, --drop-at and --set-late-at is given.",
            remedy="Give the one that says how the watch was set.",
        )
    if count == 0 and not reader.recordings:
        raise UserInputError(
            "A bare NMEA log does not say where or when the anchor was let go.",
            remedy="Give one of --drop LAT,LON, --drop-at TIME or --set-late-at TIME, and --rode.",
        )
    if count == 0 and (settings.rode_m is not None or settings.depth_m is not None):
        raise UserInputError(
            "This recording holds its own commands, so --rode and --depth would be ignored.",
            remedy="Leave them out, or set the watch anew with --drop, --drop-at or --set-late-at.",
        )


def _run(
    reader: LogReader,
    settings: ReplaySettings,
    summary: Summary,
    trace: Trace | None,
    out: TextIO | None,
    *,
    progress: bool,
) -> Runner:
    def on_event(event: Event) -> None:
        summary.hear(event)
        if out is not None:
            out.write(event_to_json(event) + "\n")

    runner = Runner(settings, on_event=on_event, trace=trace)
    bar = click.progressbar(
        length=reader.total_bytes,
        label="Replaying",
        file=sys.stderr,
        hidden=not (progress and sys.stderr.isatty()),
    )
    with bar:
        done = 0
        for batch in reader.batches():
            runner.take(batch)
            bar.update(reader.read_bytes - done)
            done = reader.read_bytes
    runner.finish()
    if not any(sum(s.accepted.values()) for s in runner.core.status(runner.mono_s).sources):
        raise UserInputError(
            "There is no NMEA 0183 sentence in it that can be read.",
            remedy="Check that the file is a log of a receiver, and that it has checksums.",
        )
    return runner


@contextlib.contextmanager
def _writing(path: Path | None) -> Iterator[TextIO | None]:
    if path is None:
        yield None
    elif str(path) == "-":
        yield sys.stdout
        sys.stdout.flush()
    else:
        try:
            with path.open("w", encoding="utf-8") as out:
                yield out
        except OSError as error:
            raise UserInputError(
                f"{path} cannot be written: {error.strerror}.",
                remedy="Give a file in a folder that exists and that you may write to.",
            ) from error


def _draw(trace: Trace, geojson: Path | None, picture: Path | None) -> None:
    from driftlead.replay.geojson import trace_to_geojson
    from driftlead.replay.picture import draw_night

    try:
        if geojson is not None:
            geojson.write_text(json.dumps(trace_to_geojson(trace)) + "\n", encoding="utf-8")
        if picture is not None:
            picture.write_text(draw_night(trace), encoding="utf-8")
    except OSError as error:
        raise click.ClickException(
            f"{error.filename} cannot be written: {error.strerror}."
        ) from error
