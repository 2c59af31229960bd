"""The page's own files, read once: nothing that is not among them can be asked for."""

import hashlib
import mimetypes
from pathlib import Path
from typing import Final

from aiohttp import web
from attrs import frozen

from driftlead.web.problem import ProblemError

FOLDER: Final = Path(__file__).parent / "static"
_INDEX: Final = "index.html"
_KINDS: Final = {
    ".js": "text/javascript",
    ".mjs": "text/javascript",
    ".webmanifest": "application/manifest+json",
}


@frozen
class StaticFile:
    """One file as it is sent."""

    body: bytes
    content_type: str
    etag: str


class StaticFiles:
    """Handles every path outside the API. Raises OSError if the folder cannot be read."""

    def __init__(self, folder: Path = FOLDER) -> None:
        self._files: dict[str, StaticFile] = {}
        if folder.is_dir():
            for path in sorted(folder.rglob("*")):
                if path.is_file():
                    self._files[path.relative_to(folder).as_posix()] = _read(path)

    async def file(self, request: web.Request) -> web.Response:
        """One of them, or the page itself."""
        found = self._files.get(request.match_info["path"] or _INDEX)
        if found is None:
            raise ProblemError(404, "unknown", "There is no such page here.", "Begin at /.")
        headers = {"ETag": f'"{found.etag}"', "Cache-Control": "no-cache"}
        if any(tag.value == found.etag for tag in request.if_none_match or ()):
            return web.Response(status=304, headers=headers)
        text = found.content_type.startswith("text/")
        return web.Response(
            body=found.body,
            content_type=found.content_type,
            charset="utf-8" if text else None,
            headers=headers,
        )


def _read(path: Path) -> StaticFile:
    body = path.read_bytes()
    kind = _KINDS.get(path.suffix) or mimetypes.guess_type(path.name)[0]
    return StaticFile(body, kind or "application/octet-stream", hashlib.sha256(body).hexdigest())
