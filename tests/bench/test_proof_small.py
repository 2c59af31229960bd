"""The proof of docs/proof.md in small: its commands on a few short nights, and its arithmetic."""

import argparse
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import binom

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.bench.proof.aboard import go_aboard
from tests.bench.proof.calibrate import sure_rank
from tests.bench.proof.cases import CASES
from tests.bench.proof.climb import Climb, Climbing, OnEnd
from tests.bench.proof.decide import decide
from tests.bench.proof.intervals import quantile
from tests.bench.proof.limits import tuned_limit
from tests.bench.proof.night import KEPT_LOG_ODDS, first_alarm
from tests.bench.proof.oracle import ORACLE_STEP_S, oracle_figures
from tests.bench.proof.record import CaseRecord, NightRecord, Step, load, save
from tests.bench.proof.results import Outcome, Verdict, outcome, read_set
from tests.bench.proof.words import put_in

from driftlead.alerts.alert import Alert
from driftlead.core.core import Core
from driftlead.core.settings import CoreSettings
from driftlead.errors import UserInputError
from driftlead.lines import StampedLine
from driftlead.simulate.draw import draw_night
from driftlead.simulate.night import SkipperInput, simulate_night
from driftlead.simulate.observe import observe
from driftlead.simulate.receiver import ReceiverFigures
from driftlead.watch.decision import AT_50_NIGHTS, OVERWHELMING, Decision
from driftlead.watch.evidence import Knowledge
from driftlead.watch.judgement import Verdict as Says
from driftlead.watch.settings import DetectorSettings, WatchSettings

ROOT = Path(__file__).resolve().parents[2]
HOURS = 3.0
NO_CLIMB = Climb(0.25, (), -math.inf)


def script(name: str, *arguments: str) -> "subprocess.CompletedProcess[str]":
    """Run one of the proof's commands."""
    command = [sys.executable, f"tests/bench/proof/{name}.py", *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


@pytest.mark.bench
def test_the_commands_of_the_page_make_its_tables(shared_real: Path, tmp_path: Path) -> None:
    """One short night of each kind, through run, report and calibrate."""
    few = ("--set", "trial", "--hold", "1", "--drag", "1", "--hours", f"{HOURS:g}")
    part = (*few, "--cache", str(tmp_path), "--version", "small")
    ran = script("run", *part, "--jobs", str(os.cpu_count() or 1))
    assert ran.returncode == 0, ran.stderr
    again = script("run", *part)
    assert "0 to run" in again.stderr, "a run goes on where it was"
    under = script("run", *part, "--real")
    assert under.returncode == 0, under.stderr
    page, picture = tmp_path / "proof.md", tmp_path / "curve.svg"
    page.write_text((ROOT / "docs" / "proof.md").read_text(encoding="utf-8"), encoding="utf-8")
    where = ("--page", str(page), "--picture", str(picture))
    told = script("report", *part, *where)
    assert told.returncode == 0, told.stderr
    text = page.read_text(encoding="utf-8")
    assert "| nights she holds | 1 (seeds 900000 to 900000) |" in text
    # Both are watched a second time as aboard, in eight cases each.
    assert "to the second | 16 of 16 |" in text
    assert all(text.count(f"| {case.title} |") >= 3 for case in CASES)
    assert picture.read_text(encoding="utf-8").startswith("<svg")
    limits = script("calibrate", *part)
    assert limits.returncode == 0, limits.stderr
    assert all(knowledge.value in limits.stdout for knowledge in Knowledge)


@pytest.mark.bench
def test_a_night_as_numbers_raises_the_alarm_that_its_text_raises() -> None:
    """The short cut of the proof, beside the core that reads the same night as NMEA 0183."""
    scenario = draw_night(900500, drags=True, hours=HOURS)
    aboard = go_aboard(scenario, observe(scenario))
    case = next(case for case in CASES if not case.late and case.heading and case.wind)
    alarm = first_alarm(aboard, case)
    assert alarm is not None
    watch = WatchSettings(boat=aboard.boat, tackle=aboard.tackle)
    core = Core(CoreSettings(watch=watch), mono_s=0.0)
    drags = []
    for moment in simulate_night(scenario).moments:
        if isinstance(moment, StampedLine):
            events = core.feed(moment)
        elif isinstance(moment, SkipperInput):
            events = core.command(moment.mono_s, moment.command).events
        else:
            continue
        drags += [each for each in events if isinstance(each, Alert) and each.name == "drag"]
    # The core takes a fix once the next epoch shows it to be whole, and steps the detector from
    # the first fix after the command: a step or two is what may lie between.
    assert drags[0].mono_s == pytest.approx(alarm.t_s, abs=21.0)


def steps_of(log_odds: list[float], beyond_m: list[float]) -> list[Step]:
    """A step every 10 s."""
    return [
        Step(number, 10.0 * number, Knowledge.MARKED, odds, 0.0, beyond, True, 0.1 * number)
        for number, (odds, beyond) in enumerate(zip(log_odds, beyond_m, strict=True), start=1)
    ]


@given(st.lists(st.tuples(st.floats(-8.0, 12.0), st.floats(-30.0, 40.0)), min_size=1, max_size=40))
@settings(deadline=None)
def test_a_decision_on_the_steps_that_are_kept_is_that_on_all_of_them(
    figures: list[tuple[float, float]],
) -> None:
    steps = steps_of([odds for odds, _ in figures], [beyond for _, beyond in figures])
    kept = tuple(s for s in steps if s.log_odds >= KEPT_LOG_ODDS or s.beyond_m > 0.0)
    alarm = decide(CaseRecord(10.0, NO_CLIMB, kept, None), DetectorSettings())
    decision = Decision(DetectorSettings())
    verdicts = [(step.t_s, *decision.take(step.evidence())) for step in steps]
    expected = next(((t, reason) for t, says, reason in verdicts if says is Says.DRAGGING), None)
    assert (None if alarm is None else (alarm.t_s, alarm.reason)) == expected


@given(st.lists(st.floats(-8.0, 12.0), min_size=1, max_size=40))
@settings(deadline=None)
def test_the_climb_of_the_log_odds_passes_a_limit_when_the_decision_would(
    log_odds: list[float],
) -> None:
    """So the operating curve is that of the decision itself."""
    steps = steps_of(log_odds, [-10.0] * len(log_odds))
    climbing = Climbing(0.25, drag_begins_s=None)
    on_end = OnEnd(DetectorSettings().dwell_s, overwhelming=OVERWHELMING)
    for step in steps:
        climbing.hear(on_end.least(step.log_odds, step.t_s), step.t_s, step.dragged_m)
    at = climbing.climb().first_at(AT_50_NIGHTS[Knowledge.MARKED])
    alarm = decide(CaseRecord(10.0, NO_CLIMB, tuple(steps), None), DetectorSettings())
    assert at == (None if alarm is None else (alarm.t_s, alarm.dragged_m))


def covariance(receiver: ReceiverFigures, count: int) -> NDArray[np.float64]:
    """Of the receiver's noise at every step, from the autocorrelations its model is named for."""
    index = np.arange(count)
    lag_s = ORACLE_STEP_S * np.abs(index[:, None] - index)
    quick = lag_s / receiver.quick_s
    return np.asarray(
        receiver.quick_m**2 * (1.0 + quick) * np.exp(-quick)
        + receiver.middling_m**2 * np.exp(-lag_s / receiver.middling_s)
        + receiver.slow_m**2 * np.exp(-lag_s / receiver.slow_s)
        + (0.185**2 / 12.0 + 0.05**2) * np.eye(count)
    )


@pytest.mark.parametrize("speed_mps", [0.0, 0.02, 0.04])
def test_the_oracle_is_the_likelihood_ratio_of_the_whole_night_at_once(speed_mps: float) -> None:
    """Against the same ratio by one large covariance matrix, over every beginning and speed.

    Slow enough a ramp that no innovation is cut at four standard errors.
    """
    receiver = ReceiverFigures(slow_s=900.0)
    count, begins = 240, 200
    cov = covariance(receiver, count)
    random = np.random.default_rng(4)
    noise = np.linalg.cholesky(cov) @ random.standard_normal(count)
    ramp = ORACLE_STEP_S * np.maximum(0.0, np.arange(count) - begins + 1.0)
    samples = noise + speed_mps * ramp
    inverse = np.linalg.inv(cov)
    expected = 0.0
    for start in range(count):
        signal = ORACLE_STEP_S * np.maximum(0.0, np.arange(count) - start + 1.0)
        match, power = signal @ inverse @ samples, signal @ inverse @ signal
        best_mps = min(1.5, max(0.0, match / power))
        expected = max(expected, best_mps * match - 0.5 * best_mps**2 * power)
    figures = oracle_figures(samples.tolist(), receiver, quantum_m=0.185)
    # It takes every ramp for one in a night that has long been going on.
    assert figures[-1] == pytest.approx(expected, rel=0.05, abs=0.1)


def test_a_fix_that_is_passed_over_tells_the_oracle_nothing() -> None:
    figures = oracle_figures([0.5, 0.6, None, None], ReceiverFigures(), quantum_m=0.185)
    assert figures[3] <= figures[1]


@given(st.lists(st.floats(0.0, 100.0), min_size=1, max_size=60), st.sampled_from([0.5, 0.9]))
@settings(max_examples=25, deadline=None)
def test_a_quantile_is_numpys_and_lies_in_its_interval(metres: list[float], part: float) -> None:
    found = quantile(metres, part)
    assert found.value == np.quantile(metres, part, method="inverted_cdf")
    assert found.low <= found.value <= found.high


def test_misses_reach_into_the_quantile_that_they_are_many_enough_for() -> None:
    metres = [10.0] * 17 + [math.inf] * 3
    assert quantile(metres, 0.5).value == 10.0
    assert quantile(metres, 0.9).value == math.inf


@pytest.mark.parametrize("count", [50, 100, 200, 400])
def test_the_sure_rank_is_the_binomials(count: int) -> None:
    rank = sure_rank(count, 0.02, 0.8)
    assert rank == 0 or binom.sf(rank - 1, count, 0.02) >= 0.8
    assert binom.sf(rank, count, 0.02) < 0.8


def night_of(
    seed: int, *, begins_s: float | None = None, farthest_m: float = 0.0, highest: float = 0.0
) -> NightRecord:
    """A night of eight hours in which one rival climbed so high before any drag."""
    climb = Climb(0.5, ((math.floor(highest / 0.5) * 0.5, 100.0, 0.0),), highest)
    mode = None if begins_s is None else "creep"
    return NightRecord(seed, mode, 28_800.0, 0.0, 0.0, begins_s, farthest_m, {}, {"mark": climb})


@pytest.mark.parametrize(
    ("begins_s", "farthest_m", "alarm", "verdict"),
    [
        (None, 0.0, None, Verdict.QUIET),
        (None, 0.0, (500.0, 0.0), Verdict.FALSE),
        (1000.0, 110.0, (999.0, 0.0), Verdict.EARLY),
        (1000.0, 110.0, (1600.0, 12.0), Verdict.FOUND),
        (1000.0, 110.0, (9000.0, 101.0), Verdict.MISSED),
        (1000.0, 60.0, None, Verdict.MISSED),
        (1000.0, 19.0, None, Verdict.SHORT),
        (1000.0, 19.0, (1600.0, 12.0), Verdict.SHORT_FOUND),
    ],
)
def test_a_night_is_judged_by_its_first_alarm(
    begins_s: float | None,
    farthest_m: float,
    alarm: tuple[float, float] | None,
    verdict: Verdict,
) -> None:
    night = night_of(1, begins_s=begins_s, farthest_m=farthest_m)
    judged: Outcome = outcome(night, 100.0, alarm)
    assert judged.verdict is verdict
    assert judged.metres == (12.0 if verdict is Verdict.FOUND else math.inf)
    assert judged.minutes == (10.0 if verdict is Verdict.FOUND else math.inf)
    assert judged.watched_s == (28_700.0 if begins_s is None else 900.0)


@pytest.mark.parametrize(("count", "allowed"), [(49, 0), (100, 2), (149, 2), (151, 3)])
def test_a_tuned_limit_is_the_lowest_that_one_night_in_fifty_reaches(
    count: int, allowed: int
) -> None:
    highest = np.random.default_rng(count).exponential(10.0, count).tolist()
    nights = [night_of(seed, highest=high) for seed, high in enumerate(highest)]
    limit = tuned_limit(nights, "mark")
    reached = sum(night.rivals["mark"].first_at(limit) is not None for night in nights)
    lower = sum(night.rivals["mark"].first_at(limit - 0.5) is not None for night in nights)
    assert reached <= allowed < lower


def test_a_night_comes_back_from_its_file_as_it_was(tmp_path: Path) -> None:
    step = Step(3, 30.5, Knowledge.LATE, -0.1, 2.0, math.inf, False, 0.0)
    case = CaseRecord(None, NO_CLIMB, (step,), True)
    night = NightRecord(7, None, 1.0, 2.0, 3.0, None, 0.0, {"a": case}, {"b": NO_CLIMB})
    save(tmp_path / "new" / "night.json.gz", night)
    assert load(tmp_path / "new" / "night.json.gz") == night


def test_tables_go_between_their_marks_and_nowhere_else() -> None:
    page = "a\n<!-- table:x -->\nold\n<!-- end -->\nb\n<!-- table:y -->\n<!-- end -->\nc"
    once = put_in(page, {"x": "| 1 |", "y": "| 2 |"})
    assert once == (
        "a\n<!-- table:x -->\n| 1 |\n<!-- end -->\nb\n<!-- table:y -->\n| 2 |\n<!-- end -->\nc"
    )
    assert put_in(once, {"x": "| 1 |", "y": "| 2 |"}) == once
    with pytest.raises(ValueError, match="'z'"):
        put_in(page, {"z": "| 3 |"})


def test_nights_that_were_never_run_are_not_reported_on(tmp_path: Path) -> None:
    options = argparse.Namespace(cache=tmp_path, version="0", hours=8.0, hold=None, drag=None)
    with pytest.raises(UserInputError, match="have not been run"):
        read_set(options, "test", whole=True)
