"""How long ``driftlead plan`` takes, from the shell's prompt to its answer."""

import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.bench
ROOT = Path(__file__).resolve().parents[2]
ROUNDS = 7
LIMIT_S = 0.5
COMMAND = [
    *(sys.executable, "-m", "driftlead.cli.main", "plan"),
    *("--config", "systemd/driftlead.example.toml", "--tide", "docs/planning-tides.csv"),
    *("--depth", "6m", "--charted", "2m", "--wind", "16kn", "--gusts", "32kn"),
    *("--date", "2026-06-14", "--at", "20:00", "--position", "46.5,-31.2", "--bottom", "sand"),
]


def taken_s(command: list[str]) -> float:
    """Seconds of one go on the clock on the wall."""
    begun = time.perf_counter()
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    return time.perf_counter() - begun


def test_a_plan_with_tides_and_sunset_is_there_within_half_a_second() -> None:
    """The quickest of several, and beside it a bare interpreter in the same run."""
    bare = [sys.executable, "-c", "pass"]
    times = [(taken_s(bare), taken_s(COMMAND)) for _ in range(ROUNDS)]
    bare_s, plan_s = (min(each) for each in zip(*times, strict=True))
    print(f"\nplan {plan_s * 1e3:.0f} ms, of which a bare interpreter {bare_s * 1e3:.0f} ms")
    assert plan_s < LIMIT_S
