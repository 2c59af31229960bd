"""What the verbs share: where the daemon is, lengths, and how an answer is shown."""

import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from driftlead.errors import DaemonError, UserInputError

DEFAULT_CONFIG: Final = Path("/etc/driftlead/driftlead.toml")
DEFAULT_SOCKET: Final = Path("/run/driftlead/control.sock")
_PATH: Final = click.Path(path_type=Path, dir_okay=False)
_F = TypeVar("_F", bound=Callable[..., Any])
_T = TypeVar("_T")

config_option: Final = click.option(
    "--config",
    "config_path",
    type=_PATH,
    envvar="DRIFTLEAD_CONFIG",
    default=DEFAULT_CONFIG,
    show_default=True,
    show_envvar=True,
    help="The configuration file.",
)


def daemon_options(function: _F) -> _F:
    """Add the options by which a verb finds the daemon."""
    socket_option = click.option(
        "--socket",
        "socket_path",
        type=_PATH,
        envvar="DRIFTLEAD_SOCKET",
        show_envvar=True,
        help="Where the daemon listens; by default as the configuration says.",
    )
    return config_option(socket_option(function))


def find_socket(config_path: Path, socket_path: Path | None) -> Path:
    """Choose the daemon's socket: the one given, else the configuration's, else the usual one.

    Only this one value is looked up, so that answering an alarm never waits for a whole
    configuration, nor fails by a fault in another part of it. Raises UserInputError when a file
    other than the usual one was named and is not there: a slip of the pen would ask some other
    daemon.
    """
    if socket_path is not None:
        return socket_path
    try:
        with config_path.open("rb") as file:
            path = Path(tomllib.load(file)["control"]["socket"])
        return config_path.absolute().parent / path
    except FileNotFoundError as error:
        if config_path == DEFAULT_CONFIG:
            return DEFAULT_SOCKET
        raise UserInputError(
            f"{config_path}: There is no such file.",
            remedy="Correct --config or DRIFTLEAD_CONFIG, or say by --socket where the daemon"
            " listens.",
        ) from error
    except (OSError, ValueError, KeyError, TypeError):
        return DEFAULT_SOCKET


def command(config_path: Path, socket_path: Path | None, request: Mapping[str, Any]) -> None:
    """Give the daemon a command and show its answer. Raises DaemonError unless all is well."""
    from driftlead.daemon.control_client import ask

    answer = ask(find_socket(config_path, socket_path), request)
    if not answer["ok"]:
        raise DaemonError(answer["text"], remedy=answer["remedy"])
    click.echo(answer["text"])


def length(text: str) -> float:
    """Read ``30m``, ``100ft``, ``5fm`` into metres: a type for click."""
    from driftlead.units import parse_length_m

    return _read(parse_length_m, text)


def rode_or_depth(text: str) -> float:
    """Read the same, but refuse millimetres, in which nobody counts rode or water."""
    from driftlead.units import parse_rode_or_depth_m

    return _read(parse_rode_or_depth_m, text)


def above_zero(text: str) -> float:
    """Read a length of rode or of water that there is: a type for click."""
    from driftlead.units import parse_rode_or_depth_m

    is_below = text.strip().startswith(("-", "\N{MINUS SIGN}"))
    length_m = 0.0 if is_below else _read(parse_rode_or_depth_m, text)
    if length_m <= 0.0:
        raise click.BadParameter(f"{text.strip()!r}: a length must be above zero.")
    return length_m


def duration(text: str) -> float:
    """Read ``30s``, ``5min``, ``2h`` into seconds: a type for click."""
    from driftlead.units import parse_duration_s

    return _read(parse_duration_s, text)


def position(text: str) -> dict[str, float]:
    """Read ``46.5123,-31.2345``, or degrees with minutes: a type for click."""
    from driftlead.units import parse_position

    place = _read(parse_position, text)
    return {"lat_deg": place.lat_deg, "lon_deg": place.lon_deg}


def _read(parse: Callable[[str], _T], text: str) -> _T:
    try:
        return parse(text)
    except UserInputError as error:
        raise click.BadParameter(str(error)) from error
