"""Reading what a client sends: bodies and queries, both held to limits."""

import asyncio
import json
import math
from collections.abc import Mapping
from typing import Any, Final, NoReturn

from aiohttp import web

from driftlead.web.problem import ProblemError

MOST_BYTES: Final = 16 * 1024
LIMIT_S = 10.0


async def json_object(request: web.Request) -> dict[str, Any]:
    """Read the body as a JSON object. Raises ProblemError."""
    if request.content_type != "application/json":
        raise ProblemError(
            415, "not_json", "The body is not JSON.", "Send Content-Type: application/json."
        )
    try:
        async with asyncio.timeout(LIMIT_S):
            body = await request.read()
    except TimeoutError:
        raise ProblemError(408, "too_slow", "The body did not come.", "Send it anew.") from None
    try:
        data = json.loads(body, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise ProblemError(
            400, "bad_request", "The body is not JSON.", "Send one JSON object."
        ) from None
    if not isinstance(data, dict):
        raise ProblemError(
            400, "bad_request", "The body is not a JSON object.", "Send one JSON object."
        )
    return data


def only_keys(data: Mapping[str, Any], known: tuple[str, ...]) -> None:
    """Refuse keys that mean nothing here: one misspelt is not to be passed over."""
    for key in data:
        if key not in known:
            raise bad(f"{key[:40]!r} means nothing here.", f"Known here: {', '.join(known)}.")


def text_of(data: Mapping[str, Any], key: str, *, most: int) -> str:
    """A text of at least one printable character and ``most`` at the most."""
    value = data.get(key)
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise bad(f"{key} is not a text.", f'Give "{key}" as printable text.')
    if len(value) > most:
        raise bad(f"{key} is too long.", f"Give {most} characters at the most.")
    return value


def number_of(
    data: Mapping[str, Any], key: str, low: float, high: float, *, default: float | None = None
) -> float:
    """A number from ``low`` to ``high``; ``default``, if there is one, where it is not given."""
    value = data.get(key)
    if value is None and default is not None:
        return default
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise bad(f"{key} is not a number that can be.", f"Give one from {low:g} to {high:g}.")
    return float(value)


def query_number(
    request: web.Request, key: str, low: float, high: float, *, default: float
) -> float:
    """A number of the query, from ``low`` to ``high``."""
    text = request.query.get(key)
    if text is None:
        return default
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise bad(f"{key} is not a number that can be.", f"Give one from {low:g} to {high:g}.")
    return value


def bad(text: str, remedy: str) -> ProblemError:
    """Refuse a request for what it holds."""
    return ProblemError(400, "bad_request", text, remedy)


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")
