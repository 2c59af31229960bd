"""Lengths that no rode has."""

import pytest
from click.testing import CliRunner

from driftlead.cli.main import main


@pytest.mark.parametrize("arguments", [["0m"], ["-5m"], ["--", "-5m"], ["30m", "--depth", "0m"]])
def test_a_length_is_above_zero(arguments: list[str]) -> None:
    """Told in the words of whoever typed it."""
    result = CliRunner().invoke(main, ["veer", *arguments])
    assert result.exit_code == 2
    assert "a length must be above zero" in result.output
    assert "rode_m" not in result.output
