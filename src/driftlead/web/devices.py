"""The paired devices: known by a token of which only the digest is kept."""

import asyncio
import contextlib
import datetime as dt
import hashlib
import hmac
import json
import logging
import os
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import cattrs
from attrs import asdict, frozen

from driftlead.errors import DaemonError
from driftlead.journal.sync_folder import sync_folder

_LOGGER = logging.getLogger(__name__)
MOST: Final = 32
_VERSION: Final = 1
_TOKEN_BYTES: Final = 32


@frozen(kw_only=True)
class Device:
    """One device; ``digest`` is the SHA-256 of its token, in hexadecimal.

    ``paired_utc`` is by the computer's clock, which may be wrong aboard.
    """

    id: str
    name: str
    digest: str
    paired_utc: str


class Devices:
    """Kept in ``path``, which only the daemon's own user may read.

    Call every method from the event loop; the disk is waited for in a thread.
    """

    def __init__(self, path: Path, *, utc: Callable[[], dt.datetime]) -> None:
        self._path = path
        self._utc = utc
        self._known: tuple[Device, ...] = ()
        self._writing = asyncio.Lock()

    @property
    def known(self) -> tuple[Device, ...]:
        """All of them, the first paired first."""
        return self._known

    async def load(self) -> None:
        """Read them. A file that cannot be read is told and put aside: all must pair anew."""
        try:
            self._known = await asyncio.to_thread(_read, self._path)
        except FileNotFoundError:
            pass
        except (OSError, ValueError, KeyError, TypeError, cattrs.BaseValidationError) as error:
            _LOGGER.error(  # noqa: TRY400  # what is wrong is said; where it was found is no matter
                "The paired devices in %s cannot be read (%s): all must be paired anew.",
                self._path,
                error or type(error).__name__,
            )
            with contextlib.suppress(OSError):
                self._path.replace(self._path.with_suffix(".damaged"))

    def find(self, token: str) -> Device | None:
        """The device whose token this is."""
        digest = _digest(token)
        found = None
        for device in self._known:
            if hmac.compare_digest(device.digest, digest):
                found = device
        return found

    async def add(self, name: str) -> tuple[Device, str]:
        """Pair one; itself, and its token, which is nowhere else. Raises DaemonError."""
        async with self._writing:
            if len(self._known) >= MOST:
                raise DaemonError(
                    f"{MOST} devices are paired already.",
                    remedy="Unpair one first: driftlead devices --revoke ID.",
                )
            token = secrets.token_urlsafe(_TOKEN_BYTES)
            device = Device(
                id=secrets.token_hex(4),
                name=name,
                digest=_digest(token),
                paired_utc=self._utc().strftime("%Y-%m-%dT%H:%M:%SZ"),
            )
            await self._keep((*self._known, device))
        return device, token

    async def revoke(self, device_id: str) -> Device | None:
        """Unpair one; None if there is none of that id. Raises DaemonError."""
        async with self._writing:
            gone = next((each for each in self._known if each.id == device_id), None)
            if gone is not None:
                left = tuple(each for each in self._known if each is not gone)
                # It is out at once, whatever the disk says.
                self._known = left
                await self._keep(left)
        return gone

    async def _keep(self, devices: tuple[Device, ...]) -> None:
        try:
            await asyncio.to_thread(_write, self._path, devices)
        except OSError as error:
            raise DaemonError(
                f"The paired devices cannot be written to {self._path}: {error.strerror or error}.",
                remedy="Check the disk, and who may write in that folder.",
            ) from error
        self._known = devices


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "surrogatepass")).hexdigest()


def _read(path: Path) -> tuple[Device, ...]:
    data: Any = json.loads(path.read_text(encoding="utf-8"))
    if data["v"] != _VERSION:
        raise ValueError(f"version {data['v']}")
    return tuple(cattrs.structure(each, Device) for each in data["devices"])


def _write(path: Path, devices: tuple[Device, ...]) -> None:
    data = {"v": _VERSION, "devices": [asdict(device) for device in devices]}
    path.parent.mkdir(parents=True, exist_ok=True)
    new = path.with_suffix(".new")
    new.unlink(missing_ok=True)
    handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o600)
    with open(handle, "w", encoding="utf-8") as file:  # noqa: PTH123  # a handle, not a path
        json.dump(data, file, indent=1)
        file.flush()
        os.fsync(file.fileno())
    new.replace(path)
    sync_folder(path.parent)
