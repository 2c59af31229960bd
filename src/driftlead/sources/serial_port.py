"""Lines from a serial port (Linux), opened again when the receiver was unplugged."""

from contextlib import suppress
from typing import Final, NoReturn

import serial

from driftlead.nmea.framing import LineFramer
from driftlead.sources.backoff import Backoff
from driftlead.sources.base import Clock, Emit, OnHealth, Sleep
from driftlead.sources.outlet import Outlet
from driftlead.sources.readable import wait_readable
from driftlead.sources.reopen import SourceLostError, keep_open
from driftlead.sources.serial_open import SerialPortError, open_serial
from driftlead.sources.settings import SerialSettings

_CHUNK_BYTES: Final = 4096
"""What the kernel keeps of a terminal's input."""


class SerialSource:
    """Reads one serial port; a device that is absent or unplugged is waited for."""

    def __init__(
        self,
        settings: SerialSettings,
        *,
        emit: Emit,
        clock: Clock,
        on_health: OnHealth,
        sleep: Sleep,
    ) -> None:
        self.name = settings.name
        self._device = settings.device
        self._baud = settings.baud
        self._outlet = Outlet(settings.name, emit=emit, clock=clock, on_health=on_health)
        self._backoff = Backoff(sleep)

    async def run(self) -> None:
        """Read until cancelled."""
        await keep_open(self._session, outlet=self._outlet, backoff=self._backoff)

    async def _session(self) -> NoReturn:
        port = self._open()
        try:
            self._outlet.opened(f"Reading {self._device} at {self._baud} baud.")
            # Each session has a framer of its own: half a sentence from before the loss must not
            # be joined to half of one from after it.
            framer = LineFramer()
            while True:
                await wait_readable(port.fileno())
                data = self._read(port)
                self._outlet.lines(framer.feed(data))
                if data:
                    self._backoff.reset()
        finally:
            # Closing what was pulled out may fail once more, with nothing left to lose.
            with suppress(OSError):
                port.close()

    def _open(self) -> serial.Serial:
        try:
            return open_serial(
                self._device,
                self._baud,
                plugged="receiver",
                in_use="Close that program (sudo fuser -v on the device shows it), or let it pass"
                " its lines on by UDP or TCP.",
            )
        except SerialPortError as error:
            raise SourceLostError(error.message, remedy=error.remedy) from error

    def _read(self, port: serial.Serial) -> bytes:
        try:
            data: bytes = port.read(_CHUNK_BYTES)
        except OSError as error:
            raise SourceLostError(
                f"{self._device} was unplugged or has failed.",
                remedy="Plug the receiver in again; it is then read without a restart.",
            ) from error
        return data
