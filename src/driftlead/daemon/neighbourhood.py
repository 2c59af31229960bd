"""What lies round the anchorage, for the drag alarm to name what she drives towards."""

import contextlib
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from attrs import evolve

from driftlead.config.model import Config
from driftlead.config.toml_file import parse_toml
from driftlead.core.settings import CoreSettings
from driftlead.daemon.named_file import named_by
from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.units import parse_position

KEY: Final = "[web] around"
_REMEDY: Final = (
    "Give a GeoJSON or TOML file in UTF-8 that the daemon's user may read, or take around out of"
    " [web]."
)
_PLACES: Final = ("at", "line", "area")


def with_neighbourhood(settings: CoreSettings, config: Config) -> CoreSettings:
    """Put what the configured file says into the settings, so that recordings carry it.

    The tables of one in TOML go in as JSON: their bearings are from an anchor that is not down yet.
    Raises UserInputError naming the key, the file and what to do.
    """
    path = None if config.web is None else config.web.around
    if path is None:
        return settings
    from driftlead.planning.room_around import (  # noqa: PLC0415  # heavy
        around_from_geojson,
        around_from_toml,
    )

    with named_by(KEY, path, remedy=_REMEDY):
        text = path.read_text(encoding="utf-8-sig")
        if path.suffix.casefold() == ".toml":
            document = parse_toml(text, path)
            around_from_toml(document, file=str(path), plane=_plane_at(document))
            text = json.dumps(document)
        else:
            document = _decoded(text, path)
            around_from_geojson(document, file=str(path), plane=_plane_at(document))
    return evolve(settings, watch=evolve(settings.watch, around=text))


def _decoded(text: str, path: Path) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise UserInputError(
            f"{path}: This is not JSON: {error}.",
            remedy="Give GeoJSON, or TOML in a file whose name ends in .toml.",
        ) from error


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
