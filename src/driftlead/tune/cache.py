"""Traces kept on disk, so that a night is decoded once.

An entry is found by a hash of everything it depends on: the bytes of the logs, how they are
replayed, the settings the evidence depends on, and the program text that works the evidence out.
Nothing is ever wrong in it, only missing: an entry that cannot be read counts as missing.
"""

import hashlib
import io
import json
import os
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Final

import cattrs
import numpy as np
from attrs import asdict

import driftlead
from driftlead.core.settings_json import settings_to_json
from driftlead.errors import UserInputError
from driftlead.replay.settings import ReplaySettings
from driftlead.tune.files import write_whole
from driftlead.tune.trace import Anchoring, NightTrace, model_of
from driftlead.watch.settings import DetectorSettings

FORMAT: Final = 1
_EVIDENCE_CODE: Final = (
    *("core", "watch", "track", "nmea", "geodesy", "tackle", "recording", "replay"),
    *("statistics", "lines.py", "tune/trace.py"),
)
"""The packages and modules that have a say in the evidence."""


def default_cache_folder(environment: Mapping[str, str] = os.environ) -> Path:
    """Where traces are kept unless told otherwise (the XDG base directory for caches)."""
    base = environment.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
    return Path(base) / "driftlead" / "tune"


_DIGEST: Final = "sha256"
_DIGEST_BYTES: Final = 32


class TraceCache:
    """A folder of traces; it may be deleted at any time."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def key(
        self, paths: Sequence[Path], settings: ReplaySettings, detector: DetectorSettings
    ) -> str:
        """Name the entry of a night decoded in this way. Raises UserInputError, naming the file."""
        parts = {
            "format": FORMAT,
            "code": code_version(),
            "logs": [_file_hash(path) for path in paths],
            "replay": asdict(settings, filter=lambda each, _: each.name != "core"),
            "core": settings_to_json(settings.core),
            "detector": asdict(model_of(detector)),
        }
        text = json.dumps(parts, sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()[:32]

    def load(self, key: str) -> NightTrace | None:
        """Give an entry; None if there is none that can be read."""
        try:
            stored = self._path(key).read_bytes()
        except OSError:
            return None
        digest, body = stored[:_DIGEST_BYTES], stored[_DIGEST_BYTES:]
        # With the digest right, the rest is as it was written, and need not be distrusted.
        if hashlib.new(_DIGEST, body).digest() != digest:
            return None
        with np.load(io.BytesIO(body), allow_pickle=False) as arrays:
            rows, about = arrays["rows"], json.loads(str(arrays["about"]))
        if about["key"] != key:
            return None
        anchorings = cattrs.structure(about["anchorings"], tuple[Anchoring, ...])
        return NightTrace(rows, anchorings, tuple(about["notes"]))

    def save(self, key: str, trace: NightTrace) -> None:
        """Keep an entry. Raises UserInputError if the folder cannot be written to."""
        about = {
            "key": key,
            "anchorings": [asdict(each) for each in trace.anchorings],
            "notes": list(trace.notes),
        }
        held = io.BytesIO()
        np.savez_compressed(held, rows=trace.rows, about=np.array(json.dumps(about)))
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise UserInputError(
                f"The folder {self.folder} cannot be made: {error.strerror}.",
                remedy="Give another one for decoded nights: --cache FOLDER.",
            ) from error
        body = held.getvalue()
        write_whole(self._path(key), hashlib.new(_DIGEST, body).digest() + body)

    def _path(self, key: str) -> Path:
        return self.folder / f"{key}.trace"


@cache
def code_version() -> str:
    """A hash of the program text that works the evidence out."""
    root = Path(driftlead.__file__).parent
    digest = hashlib.sha256()
    for name in _EVIDENCE_CODE:
        place = root / name
        for path in [place] if place.is_file() else sorted(place.rglob("*.py")):
            digest.update(path.relative_to(root).as_posix().encode() + b"\0")
            digest.update(path.read_bytes() + b"\0")
    return digest.hexdigest()


def _file_hash(path: Path) -> str:
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise UserInputError(
            f"{path} cannot be read: {error.strerror}.",
            remedy="Check that the file is there and that you may read it.",
        ) from error
