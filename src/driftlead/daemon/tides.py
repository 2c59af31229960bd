"""High and low waters from the configured file, for the watch to look ahead by."""

import datetime as dt

from attrs import evolve

from driftlead.config.model import Config
from driftlead.config.toml_file import parse_toml
from driftlead.core.settings import CoreSettings
from driftlead.daemon.named_file import named_by
from driftlead.tide.reading import read_tide_csv, read_tide_toml

KEY = "[plan] tide"
_REMEDY = (
    "Give a CSV or TOML file in UTF-8 that the daemon's user may read, or take tide out of [plan]."
)


def with_tide(settings: CoreSettings, config: Config) -> CoreSettings:
    """Put the configured tide table into the settings, so that recordings carry it.

    Raises UserInputError naming the key, the file and what to do.
    """
    path = config.tide
    if path is None:
        return settings
    outlook = settings.watch.outlook
    zone = dt.timezone(dt.timedelta(seconds=outlook.utc_offset_s))
    with named_by(KEY, path, remedy=_REMEDY):
        text = path.read_text(encoding="utf-8-sig")
        if path.suffix.casefold() == ".toml":
            table = read_tide_toml(parse_toml(text, path), name=str(path), zone=zone)
        else:
            table = read_tide_csv(text, name=str(path), zone=zone)
        turns = tuple((turn.when.timestamp(), turn.height_m) for turn in table.turns)
    outlook = evolve(outlook, tide=turns)
    return evolve(settings, watch=evolve(settings.watch, outlook=outlook))
