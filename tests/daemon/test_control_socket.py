"""Making the control socket."""

import socket
import stat
from pathlib import Path

import pytest

from driftlead.config.model import ControlSettings
from driftlead.daemon.control_socket import make_control_socket, remove_control_socket
from driftlead.errors import DaemonError


def test_it_is_made_with_its_folder_and_its_mode(folder: Path) -> None:
    """Only those the mode names may talk to the daemon."""
    settings = ControlSettings(socket=folder / "run" / "control.sock", mode=0o600)
    with make_control_socket(settings):
        mode = settings.socket.stat().st_mode
    assert stat.S_ISSOCK(mode)
    assert stat.S_IMODE(mode) == 0o600


def test_what_a_dead_daemon_left_is_replaced(folder: Path) -> None:
    """After a power cut nobody has to clean up."""
    settings = ControlSettings(socket=folder / "control.sock")
    make_control_socket(settings).close()
    with make_control_socket(settings), socket.socket(socket.AF_UNIX) as client:
        client.connect(str(settings.socket))


def test_a_living_daemon_is_left_alone(folder: Path) -> None:
    """The second one says so and what to do."""
    settings = ControlSettings(socket=folder / "control.sock")
    with make_control_socket(settings), pytest.raises(DaemonError, match="running already") as why:
        make_control_socket(settings)
    assert "stop" in why.value.remedy


def test_a_file_that_is_no_socket_is_left_alone(folder: Path) -> None:
    """A slip in the path must not cost the owner a file."""
    path = folder / "logbook"
    path.write_text("precious")
    with pytest.raises(DaemonError, match="not a socket"):
        make_control_socket(ControlSettings(socket=path))
    assert path.read_text() == "precious"


@pytest.mark.parametrize("name", ["x" * 120, "file/control.sock"])
def test_a_path_that_cannot_be_is_refused_with_a_remedy(folder: Path, name: str) -> None:
    """Too long for the system, or in something that is no folder."""
    (folder / "file").write_text("")
    with pytest.raises(DaemonError, match="cannot be made") as why:
        make_control_socket(ControlSettings(socket=folder / name))
    assert why.value.remedy


def test_an_unknown_group_is_refused_with_a_remedy(folder: Path) -> None:
    """And nothing is left behind that looks like a daemon."""
    settings = ControlSettings(socket=folder / "control.sock", group="no-such-group-here")
    with pytest.raises(DaemonError, match="no-such-group-here") as why:
        make_control_socket(settings)
    assert "groupadd" in why.value.remedy
    assert not settings.socket.exists()


def test_removing_leaves_another_daemons_socket(folder: Path) -> None:
    """One that was started in our place meanwhile."""
    settings = ControlSettings(socket=folder / "control.sock")
    first = make_control_socket(settings)
    settings.socket.unlink()
    with make_control_socket(settings):
        remove_control_socket(settings.socket, first)
        assert settings.socket.exists()
    remove_control_socket(settings.socket, first)
    assert not settings.socket.exists()
