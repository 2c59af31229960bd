"""The other end of the control socket: short and quick to import, for a hand in the dark."""

import json
import socket
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from driftlead.errors import DaemonError

ANSWER_LIMIT_S = 15.0


class NotRunningError(DaemonError):
    """There is no daemon."""


def ask(path: Path, request: Mapping[str, Any], *, limit_s: float = ANSWER_LIMIT_S) -> Any:
    """Send one request (without its ``v``); the answer as a dict. Raises DaemonError."""
    line = json.dumps({"v": 1, **request}, separators=(",", ":")).encode() + b"\n"
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
            connection.settimeout(limit_s)
            connection.connect(str(path))
            connection.sendall(line)
            with connection.makefile("rb") as answers:
                answer = answers.readline()
    except (FileNotFoundError, ConnectionRefusedError) as error:
        raise NotRunningError(
            f"No driftlead daemon is running: nothing listens at {path}.",
            remedy="Start it: sudo systemctl start driftlead, or driftlead watch by hand. Or give"
            " --socket if it listens elsewhere.",
        ) from error
    except PermissionError as error:
        raise DaemonError(
            f"You may not talk to the daemon: no permission for {path}.",
            remedy="Join the group of the socket (ls -l shows it): sudo usermod -aG driftlead"
            " $USER, then log in anew. Or use sudo.",
        ) from error
    except TimeoutError as error:
        raise DaemonError(
            f"The daemon at {path} did not answer within {limit_s:.0f} s.",
            remedy="Look at journalctl -u driftlead; systemd restarts a daemon that is stuck.",
        ) from error
    except OSError as error:
        raise DaemonError(
            f"The daemon at {path} cannot be asked: {error.strerror or error}.",
            remedy="Check --socket and that the daemon is running.",
        ) from error
    return _parsed(answer, path)


def ask_if_running(
    path: Path, request: Mapping[str, Any], *, limit_s: float = ANSWER_LIMIT_S
) -> Any:
    """Ask as ``ask`` does; None where no daemon is running. Raises DaemonError."""
    try:
        return ask(path, request, limit_s=limit_s)
    except NotRunningError:
        return None


def _parsed(answer: bytes, path: Path) -> Any:
    try:
        data = json.loads(answer)
        if isinstance(data, dict) and data["v"] == 1:
            return data
    except (ValueError, KeyError):
        pass
    raise DaemonError(
        f"What listens at {path} did not answer as a driftlead daemon does.",
        remedy="Look whether it was stopped just now, and check --socket.",
    )
