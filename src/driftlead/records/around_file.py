"""The file that says what lies round an anchorage: GeoJSON, or TOML written by hand."""

import json
import tomllib
from pathlib import Path
from typing import Any, NoReturn

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.planning.room import Around
from driftlead.planning.room_around import around_from_geojson, around_from_toml


def load_around(
    path: Path,
    plane: LocalPlane,
    *,
    own_drop: tuple[float, float] = (0.0, 0.0),
    depth_m: float | None = None,
) -> Around:
    """Read it; a name that ends in ``.toml`` is TOML, any other GeoJSON.

    ``own_drop`` is a point of the plane, ``depth_m`` the water of boats that have none of their
    own. Raises UserInputError naming file, feature and key.
    """
    text = _text(path)
    if path.suffix.casefold() == ".toml":
        try:
            document = tomllib.loads(text)
        except (ValueError, RecursionError) as error:
            raise UserInputError(
                f"{path}: this is not TOML: {error}.",
                remedy='Put words, places and lengths in double quotes, such as rode = "40m".',
            ) from error
        return around_from_toml(
            document, file=str(path), plane=plane, own_drop=own_drop, depth_m=depth_m
        )
    return around_from_geojson(_decoded(text, path), file=str(path), plane=plane, depth_m=depth_m)


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UserInputError(
            f"{path}: byte {error.start + 1} is not UTF-8 text.", remedy="Save the file as UTF-8."
        ) from error
    except OSError as error:
        raise UserInputError(
            f"{path} cannot be read: {error.strerror}.",
            remedy="Give a GeoJSON or TOML file that you may read.",
        ) from error


def _decoded(text: str, path: Path) -> Any:
    def no_number(word: str) -> NoReturn:
        raise ValueError(f"{word} is not a number")

    try:
        return json.loads(text, parse_constant=no_number)
    except (ValueError, RecursionError) as error:
        raise UserInputError(
            f"{path}: this is not JSON: {error}.",
            remedy="Give GeoJSON, or TOML in a file whose name ends in .toml.",
        ) from error
