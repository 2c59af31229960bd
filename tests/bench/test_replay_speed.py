"""Replay of a whole night beside a bare ``pynmea2.parse`` loop over the same file."""

import datetime as dt
import gc
import statistics
import time
from collections.abc import Callable
from pathlib import Path

import pynmea2
import pytest

from driftlead.core.reply import Event
from driftlead.replay.reader import LogReader
from driftlead.replay.runner import Runner
from driftlead.replay.settings import ReplaySettings
from driftlead.simulate.six_sentences import six_sentence_night

pytestmark = pytest.mark.bench
ROUNDS = 7
LIMIT = 2.5


@pytest.fixture(scope="module")
def night(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eight hours at 1 Hz: RMC, GGA, GSA, HDT, MWV and DPT each second."""
    path = tmp_path_factory.mktemp("bench") / "night.nmea"
    path.write_text("".join(f"{line}\r\n" for line in six_sentence_night(seed=20260601)))
    return path


def bare_loop(path: Path) -> None:
    """What the ratio is measured against: the parser alone."""
    with path.open(encoding="ascii") as lines:
        for line in lines:
            pynmea2.parse(line)


def time_of_let_go(path: Path) -> dt.datetime:
    """Ten minutes into the night she lies to her anchor."""
    with path.open(encoding="ascii") as lines:
        for message in map(pynmea2.parse, lines):
            if message.sentence_type == "RMC":
                begins = dt.datetime.combine(message.datestamp, message.timestamp)
                return begins.replace(tzinfo=dt.UTC) + dt.timedelta(minutes=10)
    pytest.fail("the night has no time")


def whole_replay(path: Path, set_at: dt.datetime) -> list[Event]:
    """The replay as the command runs it, the anchor marked, up to its events."""
    events: list[Event] = []
    settings = ReplaySettings(
        rode_m=70.0, depth_m=6.5, bow_height_m=1.2, antenna_aft_m=8.0, drop_at=set_at
    )
    runner = Runner(settings, on_event=events.append)
    for batch in LogReader.of([path]).batches():
        runner.take(batch)
    runner.finish()
    return events


def spent_s(work: Callable[[], object]) -> float:
    """Processor seconds of one go."""
    gc.collect()
    begun = time.process_time()
    work()
    return time.process_time() - begun


def side_by_side_s(
    one: Callable[[], object], other: Callable[[], object], rounds: int = ROUNDS
) -> list[tuple[float, float]]:
    """Processor seconds of each, taken in turns so that a busy machine slows both alike."""
    return [(spent_s(one), spent_s(other)) for _ in range(rounds)]


def test_replay_costs_at_most_two_and_a_half_times_parsing(night: Path) -> None:
    """The ratio is taken within one run, so the machine's speed cancels out.

    It is the median of the rounds'. The quickest go of each would be of different moments, and the
    shorter work finds a quick moment more easily.
    """
    set_at = time_of_let_go(night)
    assert whole_replay(night, set_at)
    rounds = side_by_side_s(lambda: bare_loop(night), lambda: whole_replay(night, set_at))
    ratio = statistics.median(replay_s / bare_s for bare_s, replay_s in rounds)
    bare_s, replay_s = (min(each) for each in zip(*rounds, strict=True))
    lines = len(night.read_bytes().splitlines())
    print(
        f"\n{lines} lines: bare pynmea2.parse {bare_s:.2f} s, {bare_s / lines * 1e6:.1f} us a line;"
        f" replay {replay_s:.2f} s ({replay_s / lines * 1e6:.1f} us a line), ratio {ratio:.2f}"
    )
    assert ratio <= LIMIT
