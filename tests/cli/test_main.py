"""The command line as a whole."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from driftlead import __version__
from driftlead.cli.common import DEFAULT_SOCKET, find_socket
from driftlead.cli.main import VERBS, main


def test_the_help_names_every_verb_and_the_look_out() -> None:
    """It says what it is and what it is not."""
    shown = CliRunner().invoke(main, ["--help"])
    assert shown.exit_code == 0
    assert all(f"\n  {verb} " in shown.output for verb in VERBS)
    assert "never replaces a look-out (COLREG Rule 5)" in " ".join(shown.output.split())


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_has_its_own_help(verb: str) -> None:
    """And loads."""
    shown = CliRunner().invoke(main, [verb, "--help"])
    assert shown.exit_code == 0, shown.output


def test_the_version_is_told() -> None:
    """As the package has it."""
    assert CliRunner().invoke(main, ["--version"]).output == f"driftlead {__version__}\n"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["veer", "30"], "30 has no unit. Write 30m, 100ft or 5fm."),
        (["veer", "30M"], "may mean metres or nautical miles"),
        (["let-go", "--rode", "deep"], "deep is not a length"),
        (["let-go", "--drop", "46,31"], "decimal"),
        (["record", "out.log", "--for", "5m"], "may mean minutes or metres"),
        (["haul"], "No such command"),
    ],
)
def test_what_is_typed_wrongly_is_told_with_its_remedy(arguments: list[str], words: str) -> None:
    """Before anything else is done, with exit code 2."""
    shown = CliRunner().invoke(main, arguments)
    assert shown.exit_code == 2
    assert words in shown.stderr


@pytest.mark.parametrize("verb", ["acknowledge", "weigh", "status", "let-go"])
def test_without_a_daemon_the_remedy_is_told(verb: str, tmp_path: Path) -> None:
    """To the standard error, with exit code 1."""
    shown = CliRunner().invoke(main, [verb, "--socket", str(tmp_path / "none.sock")])
    assert shown.exit_code == 1
    assert shown.stdout == ""
    assert "systemctl start driftlead" in shown.stderr


def test_the_socket_is_the_one_given_else_the_configurations_else_the_usual(
    tmp_path: Path,
) -> None:
    """A fault elsewhere in the configuration does not matter to whoever wants silence."""
    config = tmp_path / "driftlead.toml"
    config.write_text('[control]\nsocket = "run/control.sock"\n[nonsense]\nx = 1\n')
    assert find_socket(config, None) == tmp_path / "run" / "control.sock"
    assert find_socket(config, Path("/given.sock")) == Path("/given.sock")
    for text in ("not toml [", "[control]\nsocket = 3\n", "control = 3\n", ""):
        config.write_text(text)
        assert find_socket(config, None) == DEFAULT_SOCKET
