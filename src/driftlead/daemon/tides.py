"""High and low waters from the configured file, for the watch to look ahead by."""

import datetime as dt
import logging

from attrs import evolve

from driftlead.config.model import Config
from driftlead.config.toml_file import parse_toml
from driftlead.core.settings import CoreSettings
from driftlead.errors import DriftleadError
from driftlead.tide.reading import read_tide_csv, read_tide_toml

_LOGGER = logging.getLogger(__name__)


def with_tide(settings: CoreSettings, config: Config) -> CoreSettings:
    """Put the configured tide table into the settings, so that recordings carry it.

    A file that cannot be read is told and left out: it must not keep a watch from being kept.
    """
    path = config.tide
    if path is None:
        return settings
    outlook = settings.watch.outlook
    zone = dt.timezone(dt.timedelta(seconds=outlook.utc_offset_s))
    try:
        text = path.read_text(encoding="utf-8-sig")
        if path.suffix.casefold() == ".toml":
            table = read_tide_toml(parse_toml(text, path), name=str(path), zone=zone)
        else:
            table = read_tide_csv(text, name=str(path), zone=zone)
        turns = tuple((turn.when.timestamp(), turn.height_m) for turn in table.turns)
        outlook = evolve(outlook, tide=turns)
    except DriftleadError as error:
        _LOGGER.warning(
            "The watch does not look ahead at the tide: %s %s", error.message, error.remedy
        )
        return settings
    except (OSError, ValueError) as error:
        _LOGGER.warning(
            "The watch does not look ahead at the tide: %s: %s. "
            "Give a CSV or TOML file in UTF-8 as tide in [plan], and start the daemon again.",
            path,
            error,
        )
        return settings
    return evolve(settings, watch=evolve(settings.watch, outlook=outlook))
