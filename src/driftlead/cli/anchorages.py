"""``driftlead anchorages``: where she lay, on what, in what wind, and how it went."""

import json
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from driftlead.cli.common import config_option, length, position
from driftlead.cli.stay import write_file
from driftlead.errors import JournalError, UserInputError

if TYPE_CHECKING:
    from driftlead.geodesy.position import Position
    from driftlead.records.store import Records, Stored
    from driftlead.units import Printer

_OUT: Final = click.Path(dir_okay=False, path_type=Path)
_JOURNAL: Final = Path("/var/lib/driftlead/journal.db")


@click.command()
@click.option("--near", metavar="LAT,LON", type=position, help="Only those near a place.")
@click.option(
    "--within", "within_m", type=length, default="1nm", show_default=True, help="So near."
)
@click.option(
    "--circle",
    "circle_m",
    type=length,
    default="60m",
    show_default=True,
    help="With --near: warn of a drag within this, a swinging circle.",
)
@click.option("--night", type=int, metavar="NUMBER", help="Only the anchoring of this number.")
@click.option("--call", "call", metavar="NAME", help="With --night: what the place is called.")
@click.option(
    "--read",
    "logs",
    multiple=True,
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Read a recorded night too: it adds track, rode, depth and wind. May be repeated.",
)
@click.option("--gpx", "gpx_path", type=_OUT, help="Write drop points and tracks as GPX.")
@click.option("--geojson", "geojson_path", type=_OUT, help="Write them as GeoJSON.")
@click.option("--report", "report_path", type=_OUT, help="Write one night as a page of HTML.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON, in SI units.")
@click.option(
    "--units",
    "system",
    type=click.Choice(["metric", "feet", "fathoms"]),
    help="Of the printout.  [default: as the configuration says, else metric]",
)
@click.option(
    "--wind-units", type=click.Choice(["knots", "m/s"]), help="The same of winds, else knots."
)
@click.option(
    "--records", "records_path", type=_OUT, help="The file; by default beside the journal."
)
@config_option
def anchorages(
    *,
    near: dict[str, float] | None,
    within_m: float,
    circle_m: float,
    night: int | None,
    call: str | None,
    logs: tuple[Path, ...],
    gpx_path: Path | None,
    geojson_path: Path | None,
    report_path: Path | None,
    as_json: bool,
    system: str | None,
    wind_units: str | None,
    records_path: Path | None,
    config_path: Path,
) -> None:
    """List the anchorings: where, on what rode, in what wind, and whether she held.

    New ones are first read from the journal of the watch, and from recorded nights given with
    --read. With --near a warning comes first if she dragged there before. --report takes the
    anchoring of --night, or else the last one listed. Whoever may only read the records is shown
    them, and nothing is kept.
    """
    from driftlead.geodesy.position import Position
    from driftlead.records.store import Records

    if call is not None and night is None:
        raise UserInputError("--call names one place.", remedy="Say which with --night NUMBER.")
    units = _printer(config_path, system, wind_units)
    journal = _journal_path(config_path)
    with Records.open_or_copy(records_path or journal.with_name("records.db")) as records:
        _read_new(records, journal, logs)
        if night is not None and call is not None:
            records.call(night, call)
        place = None if near is None else Position(**near)
        listed = _listed(records, night, place, within_m)
        if place is not None and not as_json:
            _warn(records, place, circle_m, units)
        newest = records.newest()
        _write(records, listed, gpx_path, geojson_path, report_path, units)
    if as_json:
        from driftlead.records.geojson import anchoring_to_data

        click.echo(json.dumps([anchoring_to_data(each) for each in listed], indent=2))
        return
    from driftlead.records.words import list_lines

    for line in list_lines(listed, units, newest=newest):
        click.echo(line)
    if not listed:
        click.echo("No anchoring is remembered" + (" near there." if near else " yet."))


def _printer(config_path: Path, system: str | None, wind_units: str | None) -> "Printer":
    """As is asked for, else as the configuration has it, if it can be read that far."""
    from driftlead.units import Printer, UnitSystem, WindUnit

    try:
        with config_path.open("rb") as file:
            written = tomllib.load(file)["plan"]
        known = Printer(
            UnitSystem(written.get("units", UnitSystem.METRIC)),
            WindUnit(written.get("wind_units", WindUnit.KNOTS)),
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        known = Printer()
    return Printer(
        known.system if system is None else UnitSystem(system),
        known.wind_unit if wind_units is None else WindUnit(wind_units),
    )


def _journal_path(config_path: Path) -> Path:
    """Only this one value is looked up: a fault elsewhere in the configuration does not matter."""
    try:
        with config_path.open("rb") as file:
            path = Path(tomllib.load(file)["journal"]["path"])
        return config_path.absolute().parent / path
    except (OSError, ValueError, KeyError, TypeError):
        return _JOURNAL


def _read_new(records: "Records", journal: Path, logs: Sequence[Path]) -> None:
    from driftlead.records.from_journal import update_from_journal

    try:
        update_from_journal(records, journal)
    except JournalError as error:
        # What is remembered already can be shown all the same.
        click.echo(f"Note: {error}", err=True)
    if not logs:
        return
    from driftlead.journal.reading import who_may
    from driftlead.records.from_night import anchorings_of_nights

    if records.is_copy:
        click.echo(
            f"Note: The records {records.path} are not yours to write: what is read in now is "
            f"shown and not kept. {who_may(records.path)}",
            err=True,
        )
    found, faults = anchorings_of_nights(logs)
    for anchoring in found:
        records.save(anchoring)
    for fault in faults:
        click.echo(f"Note: {fault}", err=True)
    if not found:
        click.echo("Note: No anchor was let go in what was read.", err=True)


def _listed(
    records: "Records", night: int | None, place: "Position | None", within_m: float
) -> "tuple[Stored, ...]":
    from driftlead.records.near import near

    if night is not None:
        return (records.get(night),)
    everything = records.all()
    if place is None:
        return everything
    return tuple(each.stored for each in near(everything, place, within_m=within_m))


def _warn(records: "Records", place: "Position", circle_m: float, units: "Printer") -> None:
    from driftlead.records.near import dragged_here, warning_text

    for dragged in dragged_here(records.all(), place, circle_m=circle_m):
        click.secho(f"WARNING: {warning_text(dragged, units)}", fg="red", bold=True)


def _write(
    records: "Records",
    listed: "tuple[Stored, ...]",
    gpx_path: Path | None,
    geojson_path: Path | None,
    report_path: Path | None,
    units: "Printer",
) -> None:
    if gpx_path is None and geojson_path is None and report_path is None:
        return
    whole = tuple(records.get(each.number) for each in listed)
    if gpx_path is not None:
        from driftlead.records.gpx import records_to_gpx

        write_file(gpx_path, records_to_gpx(whole, units))
    if geojson_path is not None:
        from driftlead.records.geojson import records_to_geojson

        write_file(geojson_path, json.dumps(records_to_geojson(whole)) + "\n")
    if report_path is not None:
        from driftlead.records.report import report_html

        if not whole:
            raise UserInputError(
                "There is no night to report on.", remedy="Read one with --read LOG."
            )
        last = max(whole, key=lambda each: each.anchoring.began_utc_s)
        over = last.number != records.newest()
        write_file(report_path, report_html(last, units, over=over))
