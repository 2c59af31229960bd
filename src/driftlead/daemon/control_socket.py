"""Making the socket the command line talks to."""

import errno
import grp
import os
import socket
import stat
from pathlib import Path

from driftlead.config.model import ControlSettings
from driftlead.errors import DaemonError

_BACKLOG = 32
_CONNECT_LIMIT_S = 1.0


def make_control_socket(settings: ControlSettings) -> socket.socket:
    """Listen at ``settings.socket``, in place of what a dead daemon left there.

    Raises DaemonError when a living daemon listens there, or when it cannot be made.
    """
    path = settings.socket
    _refuse_if_taken(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # Made under another name and moved into place, so that it is never there with wrong rights.
        new = path.with_name(f"{path.name}.new")
        new.unlink(missing_ok=True)
        listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
        try:
            listening.bind(str(new))
            new.chmod(settings.mode)
            if settings.group is not None:
                os.chown(new, -1, _group_id(settings.group))
            listening.listen(_BACKLOG)
            listening.setblocking(False)
            new.replace(path)
        except BaseException:
            listening.close()
            raise
    except OSError as error:
        raise DaemonError(
            f"The control socket {path} cannot be made: {error.strerror or error}.",
            remedy="Check [control] socket and group, and who may write in that folder; a path"
            " may have some 100 characters.",
        ) from error
    return listening


def remove_control_socket(path: Path, listening: socket.socket) -> None:
    """Close it, and delete the path unless another daemon has put its own there."""
    listening.close()
    try:
        _refuse_if_taken(path)
        path.unlink(missing_ok=True)
    except (DaemonError, OSError):
        return


def _refuse_if_taken(path: Path) -> None:
    try:
        if not stat.S_ISSOCK(path.stat().st_mode):
            raise DaemonError(
                f"{path} is there already and is not a socket.",
                remedy="Set [control] socket to a path of its own, or move that file away.",
            )
    except OSError:
        return
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
        probe.settimeout(_CONNECT_LIMIT_S)
        try:
            probe.connect(str(path))
        except OSError as error:
            if error.errno in (errno.ECONNREFUSED, errno.ENOENT):
                return
            if error.errno in (errno.EACCES, errno.EPERM):
                raise DaemonError(
                    f"The control socket {path} belongs to somebody else.",
                    remedy="Stop the daemon that runs as another user, or set another path.",
                ) from error
    raise DaemonError(
        f"A driftlead daemon is running already: it listens at {path}.",
        remedy="Use that one (driftlead status), or stop it first (systemctl stop driftlead).",
    )


def _group_id(name: str) -> int:
    try:
        return grp.getgrnam(name).gr_gid
    except KeyError:
        raise DaemonError(
            f"[control] group: there is no group {name!r} on this machine.",
            remedy=f"Make it (sudo groupadd {name}) or name another.",
        ) from None
