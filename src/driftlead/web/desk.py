"""Pairing: who this device is, letting one in by PIN, and putting one out."""

import logging
from collections.abc import Callable
from typing import Any, Final

from aiohttp import web

from driftlead import __version__
from driftlead.web.attempts import Attempts
from driftlead.web.body import bad, json_object, only_keys, text_of
from driftlead.web.devices import Device, Devices
from driftlead.web.guard import COOKIE, Guard, csrf_of
from driftlead.web.pin import Pin
from driftlead.web.problem import ProblemError

_LOGGER = logging.getLogger(__name__)
_KEPT_S: Final = 400 * 86_400
"""The longest a browser keeps a cookie (RFC 6265bis)."""
_LONGEST_NAME: Final = 40
_LONGEST_PIN: Final = 32


class Desk:
    """Handles session, pair and devices. ``clock`` gives monotonic seconds.

    ``put_out`` ends what a device that is unpaired still listens to.
    """

    def __init__(
        self,
        devices: Devices,
        guard: Guard,
        *,
        clock: Callable[[], float],
        put_out: Callable[[str], None],
    ) -> None:
        self._devices = devices
        self._guard = guard
        self._put_out = put_out
        self._attempts = Attempts(clock)
        self._pin = Pin(clock)

    def open_pin(self) -> str:
        """Make a PIN, for the boat's own terminal only."""
        return self._pin.open()

    async def revoke(self, device_id: str) -> Device | None:
        """Unpair a device; None if there is none of that id. Raises DaemonError."""
        try:
            return await self._devices.revoke(device_id)
        finally:
            self._put_out(device_id)

    async def session(self, request: web.Request) -> web.Response:
        """Who this is, and what it may."""
        device = self._guard.device(request)
        csrf = None if device is None else self._guard.csrf(request)
        return web.json_response(self._session(device, csrf))

    async def pair(self, request: web.Request) -> web.Response:
        """Let a device in that has the PIN."""
        data = await json_object(request)
        only_keys(data, ("pin", "name"))
        pin = text_of(data, "pin", most=_LONGEST_PIN)
        name = text_of(data, "name", most=_LONGEST_NAME).strip()
        address = request.remote or ""
        wait_s = self._attempts.wait_s(address)
        if wait_s > 0.0:
            raise ProblemError(
                429,
                "too_many_attempts",
                "Too many wrong PINs.",
                f"Wait {wait_s / 60.0:.0f} minutes, then make a new PIN: driftlead pair.",
                retry_after_s=wait_s,
            )
        if not self._pin.take(pin):
            self._attempts.failed(address)
            _LOGGER.warning("A wrong PIN was given, from %s.", address)
            raise ProblemError(
                401,
                "wrong_pin",
                "The PIN is wrong, or was used, or has run out.",
                "Make a new one on the boat's computer: driftlead pair.",
            )
        device, token = await self._devices.add(name)
        _LOGGER.info("Paired %r (%s), from %s.", device.name, device.id, address)
        response = web.json_response(self._session(device, csrf_of(token)))
        response.set_cookie(
            COOKIE,
            token,
            max_age=_KEPT_S,
            path="/",
            httponly=True,
            samesite="Strict",
            # Over plain http a browser would not keep one that is marked so.
            secure=request.secure,
        )
        return response

    async def devices(self, request: web.Request) -> web.Response:
        """All that are paired."""
        return self._all(request)

    async def unpair(self, request: web.Request) -> web.Response:
        """Put one out."""
        if request.query:
            raise bad("Nothing can be asked of that.", "Give the id alone.")
        gone = await self.revoke(request.match_info["id"])
        if gone is None:
            raise ProblemError(404, "unknown", "No such device is paired.", "See GET devices.")
        _LOGGER.info("Unpaired %r (%s).", gone.name, gone.id)
        return self._all(request)

    def _all(self, request: web.Request) -> web.Response:
        own = self._guard.device(request)
        return web.json_response(
            {"devices": [_shown(device, own=own) for device in self._devices.known]}
        )

    def _session(self, device: Device | None, csrf: str | None) -> dict[str, Any]:
        return {
            "paired": device is not None,
            "device": None if device is None else _shown(device, own=device),
            "csrf": csrf,
            "reading_needs_pairing": self._guard.reading_needs_pairing,
            "can_read": device is not None or not self._guard.reading_needs_pairing,
            "version": __version__,
        }


def _shown(device: Device, *, own: Device | None) -> dict[str, Any]:
    return {
        "id": device.id,
        "name": device.name,
        "paired_utc": device.paired_utc,
        "current": own is not None and own.id == device.id,
    }
