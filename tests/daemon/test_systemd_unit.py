"""The unit for systemd, looked at by systemd's own tools."""

import re
import shutil
import subprocess
from pathlib import Path

import pytest

UNIT = Path(__file__).resolve().parents[2] / "systemd" / "driftlead.service"
MOST_EXPOSED = 2.0


@pytest.fixture
def analysed(tmp_path: Path) -> Path:
    """Give the unit with a program that exists everywhere, where it can be analysed."""
    if shutil.which("systemd-analyze") is None:
        pytest.skip("systemd-analyze is not on this machine")
    text = re.sub(r"(?m)^ExecStart=\S+.*$", "ExecStart=/bin/true", UNIT.read_text())
    copy = tmp_path / UNIT.name
    copy.write_text(text)
    return copy


def analyse(*arguments: str) -> subprocess.CompletedProcess[str]:
    """Run systemd-analyze, which needs no running systemd for this."""
    return subprocess.run(
        [shutil.which("systemd-analyze") or "", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )


def test_systemd_finds_no_fault_in_the_unit(analysed: Path) -> None:
    """Not even a warning."""
    verified = analyse("verify", "--man=no", str(analysed))
    about_it = [line for line in verified.stderr.splitlines() if UNIT.name in line]
    assert (verified.returncode, about_it) == (0, [])


def test_systemd_calls_the_unit_well_confined(analysed: Path) -> None:
    """The exposure level, of 10, that systemd-analyze security works out."""
    judged = analyse("security", "--offline=true", "--no-pager", str(analysed))
    if "offline" in judged.stderr:
        pytest.skip("this systemd-analyze cannot judge a unit offline (before version 250)")
    level = re.search(r"Overall exposure level for \S+: ([0-9.]+)", judged.stdout)
    assert level is not None, judged.stdout + judged.stderr
    assert float(level[1]) <= MOST_EXPOSED


def test_the_unit_restarts_for_ever_and_is_watched() -> None:
    """What the promise rests on that a watch comes back by itself."""
    lines = UNIT.read_text().splitlines()
    assert {
        *("Type=notify", "WatchdogSec=30", "Restart=always", "RestartSec=1"),
        *("StartLimitIntervalSec=0", "User=driftlead", "StateDirectory=driftlead"),
        *("RuntimeDirectory=driftlead", "RuntimeDirectoryPreserve=restart"),
    } <= set(lines)
