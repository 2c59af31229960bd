"""Neighbours and dangers, from the file that the configuration names."""

import asyncio
import json
import logging
from pathlib import Path
from typing import Any, Final

from aiohttp import web

from driftlead.errors import DaemonError, UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.web.deck import Deck

_LOGGER = logging.getLogger(__name__)
_NOTHING: Final[dict[str, Any]] = {"type": "FeatureCollection", "features": []}
_MOST_BYTES: Final = 1024 * 1024


class Surroundings:
    """Handles ``GET /api/v1/surroundings``; the file is read anew when it has changed."""

    def __init__(self, path: Path | None, deck: Deck) -> None:
        self._path = path
        self._deck = deck
        self._reading = asyncio.Lock()
        self._read: tuple[tuple[float, ...], str] | None = None

    async def surroundings(self, _: web.Request) -> web.Response:
        """All of it as GeoJSON."""
        place = self._place()
        if self._path is None or place is None:
            return web.json_response(_NOTHING)
        async with self._reading:
            try:
                text = await asyncio.to_thread(self._text, self._path, place)
            except UserInputError as error:
                _LOGGER.warning("%s", error)
                raise DaemonError(error.message, remedy=error.remedy) from error
        return web.Response(text=text, content_type="application/json")

    def _place(self) -> Position | None:
        """What bearings and distances are counted from, as the watch counts them: our drop point.

        Before there is one it is where she is, to some ten metres: that changes all the time.
        """
        glance = self._deck.glance()
        here = glance.status.position
        if glance.drop is not None or here is None:
            return glance.drop
        return Position(round(here.lat_deg, 4), round(here.lon_deg, 4))

    def _text(self, path: Path, place: Position) -> str:
        try:
            stat = path.stat()
        except OSError as error:
            raise UserInputError(
                f"{path} cannot be read: {error.strerror}.", remedy="Check [web] around."
            ) from error
        if stat.st_size > _MOST_BYTES:
            raise UserInputError(f"{path} is larger than 1 MB.", remedy="Leave some of it out.")
        version = (float(stat.st_mtime_ns), float(stat.st_size), place.lat_deg, place.lon_deg)
        if self._read is None or self._read[0] != version:
            self._read = (version, _document(path, place))
        return self._read[1]


def _document(path: Path, place: Position) -> str:
    # Geometry is a large import, and only those who have such a file need it.
    from driftlead.planning.room_around import around_document  # noqa: PLC0415
    from driftlead.records.around_file import load_around  # noqa: PLC0415

    plane = LocalPlane(place)
    return json.dumps(around_document(load_around(path, plane), plane))
