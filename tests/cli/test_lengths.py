"""The lengths of a command line: rode and water on the one hand, all else on the other."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from driftlead.cli.let_go import let_go
from driftlead.cli.plan import plan
from driftlead.cli.veer import veer


@pytest.mark.parametrize("options", [["--depth", "6mm"], ["--rode", "30mm"]])
def test_let_go_takes_no_millimetres(options: list[str], tmp_path: Path) -> None:
    """It is refused before any daemon is asked."""
    result = CliRunner().invoke(let_go, [*options, "--socket", str(tmp_path / "none.sock")])
    assert result.exit_code == 2
    assert "not one for rode or water" in result.output


@pytest.mark.parametrize("words", [["30mm"], ["30m", "--depth", "6mm"]])
def test_veer_takes_no_millimetres(words: list[str], tmp_path: Path) -> None:
    """It is refused before any daemon is asked."""
    result = CliRunner().invoke(veer, [*words, "--socket", str(tmp_path / "none.sock")])
    assert result.exit_code == 2
    assert "not one for rode or water" in result.output


def test_the_wire_of_a_chain_is_given_in_millimetres_and_the_water_is_not() -> None:
    """In one command."""
    result = CliRunner().invoke(plan, ["--chain-size", "8mm", "--depth", "6mm"])
    assert result.exit_code == 2
    assert "--depth" in result.output
    assert "--chain-size" not in result.output.split("Error:")[1]
