"""Where the daemon is."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from driftlead.cli.common import DEFAULT_CONFIG, DEFAULT_SOCKET, find_socket
from driftlead.cli.main import main


@pytest.mark.parametrize("verb", ["pair", "status", "acknowledge", "drill"])
def test_a_configuration_that_is_named_and_is_not_there_is_told(verb: str, tmp_path: Path) -> None:
    """Rather than that no daemon listens at the usual place."""
    file = tmp_path / "nope.toml"
    result = CliRunner().invoke(main, [verb, "--config", str(file)])
    assert result.exit_code == 2
    assert f"{file}: There is no such file." in result.output
    assert "DRILL" not in result.output


def test_the_usual_one_may_be_missing_and_a_socket_needs_none(tmp_path: Path) -> None:
    if not DEFAULT_CONFIG.exists():
        assert find_socket(DEFAULT_CONFIG, None) == DEFAULT_SOCKET
    assert find_socket(tmp_path / "nope.toml", tmp_path / "c.sock") == tmp_path / "c.sock"
