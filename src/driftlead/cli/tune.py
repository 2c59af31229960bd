"""``driftlead tune``: the watch's settings tried on your own recorded nights."""

import contextlib
import datetime as dt
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from driftlead.cli.common import length, position, rode_or_depth
from driftlead.errors import UserInputError

if TYPE_CHECKING:
    from driftlead.tune.sweep import Progress

_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
_FILE = click.Path(exists=True, dir_okay=False, path_type=Path)
_OUT = click.Path(dir_okay=False, path_type=Path)


def _moment(text: str) -> dt.datetime | dt.time:
    """Read a time (UTC), with or without its date: a type for click."""
    from driftlead.replay.settings import parse_moment

    try:
        return parse_moment(text)
    except UserInputError as error:
        raise click.BadParameter(str(error)) from error


def _accepted(text: str) -> float:
    """Read ``1 in 50``: a type for click."""
    from driftlead.tune.curve import parse_accepted

    try:
        return parse_accepted(text)
    except UserInputError as error:
        raise click.BadParameter(str(error)) from error


@click.group()
def tune() -> None:
    """Try the watch's settings on your own recorded nights.

    Say of each night how it went (mark), see what is known of them (show), and have every setting
    tried on all of them (sweep).
    """


@tune.command()
@click.argument("logs", nargs=-1, required=True, metavar="NIGHT...", type=_FILE)
@click.argument("outcome", type=click.Choice(["held", "dragged"]))
@click.option("--at", metavar="TIME", type=_moment, help="When the drag began (UTC), e.g. 03:12.")
@click.option("--note", help="Whatever you want to remember of it.")
@click.option("--rode", type=rode_or_depth, help="For a bare log: rode out, e.g. 30m, 100ft, 5fm.")
@click.option("--depth", type=rode_or_depth, help="For a bare log: depth of water at the bow.")
@click.option("--bow-height", type=length, help="For a bare log: bow roller above the water.")
@click.option("--antenna-aft", type=length, help="For a bare log: bow roller aft to antenna.")
@click.option("--drop", type=position, help="For a bare log: where the anchor lies.")
@click.option(
    "--drop-at",
    metavar="TIME",
    type=_moment,
    help="For a bare log: when it touched bottom (UTC).",
)
@click.option(
    "--set-late-at",
    metavar="TIME",
    type=_moment,
    help="For a bare log: when the watch was set (UTC).",
)
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="For a log that says no date.")
def mark(logs: tuple[Path, ...], outcome: str, **said: Any) -> None:
    """Say how a night went.

    NIGHT is its log file; of a night in several parts, any of them. A night that dragged needs
    --at. A recording of driftlead's own needs nothing more; a bare log needs --rode and one of
    --drop, --drop-at and --set-late-at, as a replay does. It is kept in marks.toml beside the
    logs, which you may edit.
    """
    from driftlead.geodesy.position import Position
    from driftlead.tune.marks import MARKS_FILE, TEXTS, write_mark
    from driftlead.tune.nights import night_of
    from driftlead.tune.span import check_within

    if outcome == "dragged" and said["at"] is None:
        raise UserInputError(
            "When did the drag begin?", remedy="Give the time (UTC), such as --at 03:12."
        )
    if outcome == "held" and said["at"] is not None:
        raise UserInputError(
            "--at says when a drag began, and a night that held has none.",
            remedy="Leave it out, or say dragged.",
        )
    if said["drop"] is not None:
        said["drop"] = Position(**said["drop"])
    if said["date"] is not None:
        said["date"] = said["date"].date()
    texts = {
        key: value if key == "note" else TEXTS[key](value)
        for key, value in said.items()
        if value is not None
    }
    found = {night.name: (night, path.parent) for path in logs for night in (night_of(path),)}
    nights = {name: folder for name, (_night, folder) in found.items()}
    if outcome == "dragged" and len(nights) > 1:
        raise UserInputError(
            f"{len(nights)} nights cannot have dragged at the same time.",
            remedy="Mark them one by one.",
        )
    if said["at"] is not None:
        for night, _folder in found.values():
            check_within(night, said["at"], said["date"])
    for name, folder in nights.items():
        changes = {"outcome": outcome, **texts}
        if outcome == "held":
            changes["at"] = None
        write_mark(folder, name, changes)
        click.echo(f"{name}: {outcome}. It is in {folder / MARKS_FILE}.")


@tune.command()
@click.argument("folder", type=_FOLDER)
def show(folder: Path) -> None:
    """List the nights in FOLDER and what is known of them."""
    from driftlead.tune.known import known_lines

    for line in known_lines(folder):
        click.echo(line)


@tune.command()
@click.argument("folder", type=_FOLDER)
@click.option(
    "--accept",
    type=_accepted,
    default="1 in 50",
    show_default=True,
    metavar='"1 in N"',
    help="False alarms you accept a night.",
)
@click.option("--settings", "settings_path", type=_FILE, help="The settings to try, as TOML.")
@click.option("--html", "html_path", type=_OUT, help="Write a page with plots as well.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the report.")
@click.option("--workers", type=click.IntRange(1, 1024), help="Processes; else one a core.")
@click.option("--cluster", "address", metavar="ADDRESS", help="A Dask scheduler to work for us.")
@click.option(
    "--cache",
    "cache_path",
    type=click.Path(file_okay=False, path_type=Path),
    envvar="DRIFTLEAD_CACHE",
    show_envvar=True,
    help="Where decoded nights are kept; else in your own cache folder.",
)
@click.option("--quiet", is_flag=True, help="No progress.")
def sweep(
    folder: Path,
    accept: float,
    settings_path: Path | None,
    html_path: Path | None,
    as_json: bool,
    workers: int | None,
    address: str | None,
    cache_path: Path | None,
    quiet: bool,
) -> None:
    """Try settings on all nights in FOLDER, and recommend one.

    Each night is decoded once, which takes a while the first time; after that a sweep of some 200
    settings takes seconds. What is reported: false alarms against metres dragged, the setting for
    the false alarms you accept, and what it would have done each night.
    """
    from driftlead.tune.cache import TraceCache, default_cache_folder
    from driftlead.tune.files import write_whole
    from driftlead.tune.marks import read_marks
    from driftlead.tune.nights import list_nights
    from driftlead.tune.study import study
    from driftlead.tune.study_json import study_to_json
    from driftlead.tune.sweep import sweep as sweep_all
    from driftlead.tune.truth import read_truth
    from driftlead.tune.variations import built_in, read_variations
    from driftlead.tune.words import report
    from driftlead.tune.workers import all_cores, cluster

    nights, marks, truths = list_nights(folder), read_marks(folder), read_truth(folder)
    variations = built_in() if settings_path is None else read_variations(settings_path)
    if html_path is not None:
        from driftlead.tune.page import need_plots

        need_plots()  # before a long sweep, not after it
    with (
        cluster(address) if address else all_cores(workers) as executor,
        _progress(quiet=quiet) as progress,
    ):
        swept = sweep_all(
            nights,
            marks,
            variations,
            cache=TraceCache(cache_path or default_cache_folder()),
            executor=executor,
            progress=progress,
        )
    told = study(swept, variations, marks, truths, accepted=accept)
    if as_json:
        click.echo(study_to_json(told))
    else:
        for line in report(told):
            click.echo(line)
    if html_path is not None:
        from driftlead.tune.page import study_page

        write_whole(html_path, study_page(told).encode())
        click.echo(f"The page is {html_path}.", err=True)


@contextlib.contextmanager
def _progress(*, quiet: bool) -> Iterator["Progress"]:
    """A bar at a terminal; plain lines, not too many, in a file."""
    bars: dict[str, Any] = {}
    stack = contextlib.ExitStack()

    def at_terminal(what: str, done: int, of: int) -> None:
        if what not in bars:
            stack.close()  # a new line for a new bar
            bar = click.progressbar(length=of, label=what, file=sys.stderr)
            bars[what] = stack.enter_context(bar)
        bars[what].update(done - bars[what].pos)

    def as_lines(what: str, done: int, of: int) -> None:
        if what == "Decoding" or done == of:
            click.echo(f"{what}: {done} of {of}", err=True)

    def nothing(_what: str, _done: int, _of: int) -> None:
        return

    with stack:
        yield nothing if quiet else at_terminal if sys.stderr.isatty() else as_lines
