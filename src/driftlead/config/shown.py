"""How keys and values of the file are shown in messages: as TOML, short, on one line."""

import difflib
import json
import re
from collections.abc import Collection
from typing import Any

_LONGEST = 60


def shown(value: Any) -> str:
    """Write a value as the file has it; a long one is cut short, a table or array is outlined."""
    match value:
        case bool():
            return "true" if value else "false"
        case str():
            return _quoted(value)
        case int() if value.bit_length() > 64:
            return _cut(hex(value))  # decimal is refused by Python beyond some thousand digits
        case dict() | list():
            brackets = "{}" if isinstance(value, dict) else "[]"
            return "...".join(brackets) if value else brackets
        case _:
            return str(value)  # a number, or a date or time, which str writes as TOML does


def shown_key(key: str) -> str:
    """Write a key bare where TOML lets it stand bare."""
    return _cut(key) if re.fullmatch(r"[A-Za-z0-9_-]+", key) else _quoted(key)


def nearest(word: str, known: Collection[str]) -> str:
    """Ask whether a known word like this one was meant; empty if there is none like it."""
    close = difflib.get_close_matches(word[:_LONGEST], known, n=1)
    return f"Did you mean {close[0]}?" if close else ""


def _quoted(text: str) -> str:
    plain = json.dumps(text, ensure_ascii=False)
    return _cut(plain if plain.isprintable() else json.dumps(text))


def _cut(text: str) -> str:
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."
