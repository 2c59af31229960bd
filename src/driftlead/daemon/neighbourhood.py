"""What lies round the anchorage, for the drag alarm to name what she drives towards."""

import contextlib
import json
import logging
from collections.abc import Iterator, Mapping
from typing import Any, Final

from attrs import evolve

from driftlead.config.model import Config
from driftlead.config.toml_file import parse_toml
from driftlead.core.settings import CoreSettings
from driftlead.errors import DriftleadError, UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.units import parse_position

_PLACES: Final = ("at", "line", "area")
_LOGGER = logging.getLogger(__name__)


def with_neighbourhood(settings: CoreSettings, config: Config) -> CoreSettings:
    """Put what the configured file says into the settings, so that recordings carry it.

    A file that cannot be read is told and left out: it must not keep a watch from being kept. The
    tables of one in TOML go in as JSON: their bearings are from an anchor that is not down yet.
    """
    path = None if config.web is None else config.web.around
    if path is None:
        return settings
    from driftlead.planning.room_around import (  # noqa: PLC0415  # heavy
        around_from_geojson,
        around_from_toml,
    )

    try:
        text = path.read_text(encoding="utf-8-sig")
        if path.suffix.casefold() == ".toml":
            document = parse_toml(text, path)
            around_from_toml(document, file=str(path), plane=_plane_at(document))
            text = json.dumps(document)
        else:
            document = json.loads(text)
            around_from_geojson(document, file=str(path), plane=_plane_at(document))
    except (DriftleadError, OSError, ValueError, RecursionError) as error:
        _LOGGER.warning("Drag alarms will name no dangers: %s: %s", path, error)
        return settings
    return evolve(settings, watch=evolve(settings.watch, around=text))


def _plane_at(document: Any) -> LocalPlane:
    """A plane where the first place of the file is: where the anchor will be is not known yet."""
    return LocalPlane(next(_places(document), Position(0.0, 0.0)))


def _places(value: Any) -> Iterator[Position]:
    if isinstance(value, Mapping):
        # In the order in which they are written; "bearing_deg" and the like are no places.
        for key, each in value.items():
            if key == "coordinates" or key in _PLACES or isinstance(each, Mapping | list):
                yield from _places(each)
    elif isinstance(value, str):
        with contextlib.suppress(UserInputError):
            yield parse_position(value)
    elif isinstance(value, list):
        if len(value) >= 2 and all(isinstance(each, int | float) for each in value[:2]):
            with contextlib.suppress(UserInputError, OverflowError):
                yield Position(value[1], value[0])
            return
        for each in value:
            yield from _places(each)
