"""What verbs about a stay at anchor share: when it begins, its tides, the boat, files written."""

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from driftlead.cli.common import DEFAULT_CONFIG
from driftlead.errors import UserInputError

if TYPE_CHECKING:
    from driftlead.planning.plan_settings import PlanSettings
    from driftlead.tide.table import TideTable


def zone(text: str) -> dt.timezone:
    """Read ``UTC`` or ``+01:00``: a type for click."""
    from driftlead.tide.reading import parse_zone

    try:
        return parse_zone(text)
    except UserInputError as error:
        raise click.BadParameter(str(error)) from error


def boat_settings(config_path: Path, given: dict[str, Any]) -> "PlanSettings":
    """The boat as the configuration has her, and what is given in its place (None: is not).

    Without a configuration at the usual place there is only what is given: ashore there is none.
    """
    from attrs import evolve

    from driftlead.planning.plan_settings import PlanSettings

    known = {name: value for name, value in given.items() if value is not None}
    if config_path == DEFAULT_CONFIG and not config_path.is_file():
        return PlanSettings(**known)
    from driftlead.config.load import load_plan_settings

    return evolve(load_plan_settings(config_path), **known)


def begins_at(
    date: dt.datetime | None, at: dt.datetime | None, in_zone: dt.timezone
) -> dt.datetime:
    """When a stay begins; today and now by default."""
    now = dt.datetime.now(in_zone).replace(second=0, microsecond=0)
    day = now.date() if date is None else date.date()
    return dt.datetime.combine(day, now.time() if at is None else at.time(), tzinfo=in_zone)


def read_tide(path: Path, in_zone: dt.timezone) -> "TideTable":
    """Read a tide table from a CSV or TOML file. Raises UserInputError or ConfigError."""
    from driftlead.tide.reading import read_tide_csv, read_tide_toml

    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise UserInputError(
            f"{path} cannot be read as text.", remedy="Give a CSV or TOML file in UTF-8."
        ) from error
    if path.suffix.casefold() == ".toml":
        from driftlead.config.toml_file import parse_toml

        return read_tide_toml(parse_toml(text, path), name=str(path), zone=in_zone)
    return read_tide_csv(text, name=str(path), zone=in_zone)


def write_file(path: Path, text: str) -> None:
    """Write a text file. Raises UserInputError saying why it cannot be."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise UserInputError(
            f"{path} cannot be written: {error.strerror}.",
            remedy="Give a file in a folder that exists and that you may write to.",
        ) from error
