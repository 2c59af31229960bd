"""Opening a serial port (Linux), and why it could not be, for whoever reads or writes one."""

import errno
import termios

import serial

from driftlead.errors import DriftleadError
from driftlead.sources.reason import os_reason


class SerialPortError(DriftleadError):
    """A serial port could not be opened; the opener tells it as a fault of its own."""


def open_serial(device: str, baud: int, *, plugged: str, in_use: str) -> serial.Serial:
    """Open a port for ourselves alone, without waiting in reads.

    ``plugged`` names what is plugged in there, ``in_use`` is the remedy where another has it.
    Raises SerialPortError.
    """
    try:
        return serial.Serial(device, baud, timeout=0, exclusive=True)
    except OSError as error:
        raise _told(device, error, plugged, in_use) from error
    except termios.error as error:
        # pyserial lets some of these through, and they are no OSError.
        raise _told(device, OSError(*error.args), plugged, in_use) from error


def _told(device: str, error: OSError, plugged: str, in_use: str) -> SerialPortError:
    if error.errno in (errno.ENOENT, errno.ENODEV, errno.ENXIO):
        return SerialPortError(
            f"{device} is not there.",
            remedy=f"Plug the {plugged} in, or set device to a path that"
            " ls /dev/serial/by-id shows.",
        )
    if error.errno in (errno.EACCES, errno.EPERM):
        return SerialPortError(
            f"There is no permission to use {device}.",
            remedy="Add the user driftlead runs as to the group dialout"
            " (sudo usermod -aG dialout USER) and start it again.",
        )
    if error.errno in (errno.EBUSY, errno.EAGAIN):
        return SerialPortError(f"{device} is in use by another program.", remedy=in_use)
    return SerialPortError(
        f"{device} cannot be opened as a serial port ({os_reason(error)}).",
        remedy="Check that device is the path of a serial port.",
    )
