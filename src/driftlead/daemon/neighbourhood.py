"""What lies round the anchorage, for the drag alarm to name what she drives towards."""

import json
import logging

from attrs import evolve

from driftlead.config.model import Config
from driftlead.core.settings import CoreSettings
from driftlead.errors import DriftleadError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position

_LOGGER = logging.getLogger(__name__)


def with_neighbourhood(settings: CoreSettings, config: Config) -> CoreSettings:
    """Put the text of the configured GeoJSON into the settings, so that recordings carry it.

    A file that cannot be read is told and left out: it must not keep a watch from being kept. So
    is one in TOML, whose places may be bearings from an anchor that is not down yet.
    """
    path = None if config.web is None else config.web.around
    if path is None:
        return settings
    if path.suffix.casefold() == ".toml":
        _LOGGER.info(
            "%s is TOML: the page shows it; drag alarms name dangers of GeoJSON only", path
        )
        return settings
    from driftlead.planning.room_around import around_from_geojson  # noqa: PLC0415  # heavy

    try:
        text = path.read_text(encoding="utf-8-sig")
        around_from_geojson(json.loads(text), file=str(path), plane=LocalPlane(Position(0.0, 0.0)))
    except (DriftleadError, OSError, ValueError) as error:
        _LOGGER.warning("Drag alarms will name no dangers: %s: %s", path, error)
        return settings
    return evolve(settings, watch=evolve(settings.watch, around=text))
