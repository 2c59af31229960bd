"""The check without a daemon."""

import logging
import warnings
from pathlib import Path

import pytest
from click.testing import CliRunner

from driftlead.cli.check import _as_the_daemon_has_it
from driftlead.cli.main import main

CONFIG = """
[plan]
tide = "tides.csv"
[control]
socket = "control.sock"
[journal]
path = "journal.db"
[recording]
directory = "nights"
[[source]]
name = "gps"
kind = "log"
path = "none.log"
[[notifier]]
kind = "log"
[[notifier]]
kind = "gpio"
pinn = 4
"""


def test_files_and_notifiers_are_judged_and_each_is_told_once(tmp_path: Path) -> None:
    """The log takes what the daemon's own takes."""
    file = tmp_path / "driftlead.toml"
    file.write_text(CONFIG)
    shown = CliRunner().invoke(main, ["check", "--config", str(file), "--listen", "10ms"])
    assert shown.exit_code == 1
    assert (
        f"FAIL  configuration: {file}: [[notifier]] #2: option 'pin' is required." in shown.output
    )
    assert "FAIL  notifier gpio" not in shown.output
    assert f"FAIL  file tide: [plan] tide: {tmp_path / 'tides.csv'} cannot be read" in shown.output
    assert "takes: alarm, warning, caution." in shown.output


def test_pin_libraries_that_are_passed_over_are_not_told() -> None:
    """And the log is as it was afterwards."""
    log = logging.getLogger("driftlead")
    before = log.level
    with _as_the_daemon_has_it():
        assert log.isEnabledFor(logging.INFO)
        warnings.warn("Falling back from lgpio", stacklevel=1)
    assert log.level == before
    with pytest.warns(UserWarning, match="again"):
        warnings.warn("It is told again", stacklevel=1)
