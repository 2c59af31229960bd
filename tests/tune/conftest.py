"""What the tests of tuning share: traces made by hand, and one shipped night decoded."""

import json
import math
import shutil
from collections.abc import Callable, Sequence
from concurrent.futures import Executor, Future
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from driftlead.replay.settings import ReplaySettings
from driftlead.tune.trace import ROW, Anchoring, NightTrace, decode
from driftlead.watch.settings import DetectorSettings

NIGHTS = Path(__file__).resolve().parents[2] / "replay_logs"
BEGINS_UTC_S = 1_781_470_800.0
"""2026-06-14 21:00 UTC, when the watches of made traces begin."""
STEP_S = 10.0


def made_trace(
    log_odds: Sequence[float], *, begins: Sequence[int] = (0,), utc: bool = True, **columns: Any
) -> NightTrace:
    """A trace with a step every ten seconds, quiet but for what is said."""
    count = len(log_odds)
    rows = np.zeros(count, ROW)
    rows["time_s"] = STEP_S * np.arange(count)
    rows["utc_s"] = BEGINS_UTC_S + rows["time_s"] if utc else math.nan
    rows["log_odds"] = log_odds
    rows["beyond_m"] = -5.0
    rows["borne_out"] = True
    rows["begins"][list(begins)] = True
    rows["heading_deg"] = math.nan
    for name, values in columns.items():
        rows[name] = values
    anchoring = Anchoring(
        first=0,
        last=count,
        lat_deg=46.5,
        lon_deg=-31.2,
        sigma_m=2.5,
        method="marked",
        reach_m=37.0,
        slack_m=3.0,
        antenna_aft_m=8.0,
    )
    return NightTrace(rows, (anchoring,))


@pytest.fixture(scope="session")
def make_trace() -> Callable[..., NightTrace]:
    """The maker of traces."""
    return made_trace


@pytest.fixture(scope="session")
def breakout() -> NightTrace:
    """The shortest shipped night, decoded."""
    path = NIGHTS / "breakout.log.gz"
    return decode([path], ReplaySettings(), DetectorSettings())


class Here(Executor):
    """An executor that does the work at once, where it is asked to."""

    def __init__(self) -> None:
        self.done: list[str] = []

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self.done.append(fn.__name__)
        try:
            future.set_result(fn(*args, **kwargs))
        except Exception as error:  # noqa: BLE001  # as every executor does
            future.set_exception(error)
        return future


@pytest.fixture
def here() -> Here:
    """Work done in this process."""
    return Here()


@pytest.fixture
def one_night(tmp_path: Path) -> Path:
    """A folder with the shortest shipped night and its truth."""
    folder = tmp_path / "nights"
    folder.mkdir()
    shutil.copy(NIGHTS / "breakout.log.gz", folder)
    truth = json.loads((NIGHTS / "truth.json").read_text())
    (folder / "truth.json").write_text(json.dumps({"breakout": truth["breakout"]}))
    return folder
