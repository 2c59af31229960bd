"""A night's evidence and what is decided on it, against the watch itself."""

import gzip
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from attrs import evolve, fields

from driftlead.alerts.alert import Alert, AlertState
from driftlead.core.reply import Event
from driftlead.errors import UserInputError
from driftlead.replay.reader import LogReader
from driftlead.replay.runner import Runner
from driftlead.replay.settings import ReplaySettings, parse_moment
from driftlead.tune.trace import (
    DECISION_FIELDS,
    NightTrace,
    TunedReplay,
    decide,
    decode,
    model_of,
)
from driftlead.watch.decision import AT_50_NIGHTS, OVERWHELMING, Decision
from driftlead.watch.evidence import Evidence, Knowledge
from driftlead.watch.judgement import Verdict
from driftlead.watch.settings import DetectorSettings

NIGHTS = Path(__file__).resolve().parents[2] / "replay_logs"
PLAIN = DetectorSettings()
LATER = evolve(PLAIN, false_alarm_nights=5000.0, dwell_s=60.0, floor_m=60.0)
SURE = AT_50_NIGHTS[Knowledge.MARKED_WITH_HEADING] + 0.5 * OVERWHELMING
"""Log-odds that wake the crew, but only where they stand."""
MakeTrace = Callable[..., NightTrace]


def first_drag(path: Path, detector: DetectorSettings) -> Alert | None:
    """The first drag alarm of the watch itself under these settings."""
    alarms: list[Alert] = []

    def hear(event: Event) -> None:
        if isinstance(event, Alert) and event.name == "drag":
            alarms.append(event)

    runner = Runner(TunedReplay.of(ReplaySettings(), detector), on_event=hear)
    for batch in LogReader.of([path]).batches():
        runner.take(batch)
    raised = [each for each in alarms if each.state is AlertState.ACTIVE_UNACKNOWLEDGED]
    return raised[0] if raised else None


@pytest.mark.parametrize("settings", [PLAIN, LATER])
def test_deciding_again_gives_the_alarm_the_watch_itself_raises(
    breakout: NightTrace, settings: DetectorSettings
) -> None:
    """The same instant, the same metres, the same reason, from a trace decoded deaf."""
    alarm = decide(breakout, [settings])[0]
    raised = first_drag(NIGHTS / "breakout.log.gz", settings)
    assert alarm is not None
    assert raised is not None
    assert raised.utc_s == pytest.approx(alarm.utc_s, abs=0.01)
    assert raised.moved_m == pytest.approx(alarm.moved_m)
    assert raised.reason == alarm.reason


def test_a_watch_set_late_is_decided_alike() -> None:
    path = NIGHTS / "late-set.log.gz"
    trace = decode([path], ReplaySettings(), PLAIN)
    alarm, raised = decide(trace, [PLAIN])[0], first_drag(path, PLAIN)
    assert alarm is not None
    assert raised is not None
    assert raised.utc_s == pytest.approx(alarm.utc_s, abs=0.01)
    assert [each.method for each in trace.anchorings] == ["inferred"] * len(trace.anchorings)


def test_a_trace_goes_on_after_the_alarm(breakout: NightTrace) -> None:
    """Else a setting that alarms later than another would have nothing to go by."""
    alarm = decide(breakout, [PLAIN])[0]
    assert alarm is not None
    assert len(breakout.rows) > alarm.step + 60


def test_decision_settings_do_not_change_the_evidence(breakout: NightTrace) -> None:
    """What is swept without decoding anew must have no say in it."""
    other = decode([NIGHTS / "breakout.log.gz"], ReplaySettings(), LATER)
    assert other.rows.tobytes() == breakout.rows.tobytes()
    assert model_of(LATER) == model_of(PLAIN)


def test_every_setting_is_either_decided_or_modelled() -> None:
    """A field that was renamed would be swept in vain."""
    assert {each.name for each in fields(DetectorSettings)} > DECISION_FIELDS
    changed = evolve(PLAIN, fix_sigma_m=9.0, floor_m=99.0)
    assert model_of(changed) == evolve(PLAIN, fix_sigma_m=9.0)


def test_the_anchorings_tell_mark_and_reach(breakout: NightTrace) -> None:
    """First with all the rode aboard, then with the 40 m veered."""
    before, after = breakout.anchorings
    assert (before.first, before.last, after.last) == (0, after.first, len(breakout.rows))
    assert before.method == after.method == "marked"
    assert before.reach_m > after.reach_m
    assert 38.0 < after.reach_m < 40.0
    assert after.antenna_aft_m == 8.0
    assert breakout.rows["begins"].nonzero()[0].tolist() == [0, after.first]


def test_a_trace_gives_back_evidence_as_it_was(make_trace: MakeTrace) -> None:
    trace = make_trace([1.0, 2.5], begins=[1], moved_m=[3.0, 4.0], knowledge=[1, 3])
    (first, one), (second, two) = trace.evidence()
    assert (first, second) == (False, True)
    assert isinstance(one, Evidence)
    assert (one.time_s, one.log_odds, one.moved_m, one.knowledge) == (0.0, 1.0, 3.0, "marked")
    assert (two.time_s, two.log_odds, two.moved_m, two.knowledge) == (10.0, 2.5, 4.0, "late")
    assert one.borne_out is True


def test_a_new_watch_begins_without_the_dwell_of_the_old(make_trace: MakeTrace) -> None:
    dwell = evolve(PLAIN, dwell_s=30.0)
    odds = [SURE] * 3 + [-9.0] * 5
    assert decide(make_trace(odds), [dwell]) == [None]
    assert decide(make_trace([SURE] * 6), [dwell])[0] is not None
    assert decide(make_trace([SURE] * 6, begins=[0, 3]), [dwell]) == [None]


def test_only_the_first_alarm_counts(make_trace: MakeTrace) -> None:
    trace = make_trace([-9.0, SURE, SURE, -9.0, SURE, SURE, SURE], moved_m=range(7))
    alarm = decide(trace, [PLAIN])[0]
    assert alarm is not None
    assert (alarm.step, alarm.moved_m, alarm.time_s) == (2, 2.0, 20.0)
    assert alarm.reason == "anchor_moved"


def test_decisions_are_those_of_the_watch(make_trace: MakeTrace) -> None:
    """Step by step, with any evidence."""
    generator = np.random.default_rng(8)
    for _ in range(20):
        trace = make_trace(
            generator.normal(3.0, 4.0, 200),
            beyond_m=generator.normal(15.0, 10.0, 200),
            borne_out=generator.random(200) > 0.1,
            knowledge=generator.integers(0, 4, 200),
        )
        for settings in (PLAIN, LATER):
            decision = Decision(settings)
            verdicts = [decision.take(each)[0] for _, each in trace.evidence()]
            alarm = decide(trace, [settings])[0]
            steps = [i for i, verdict in enumerate(verdicts) if verdict is Verdict.DRAGGING]
            assert (None if alarm is None else alarm.step) == (steps[0] if steps else None)


def test_a_bare_log_must_be_told_where_the_anchor_is() -> None:
    with pytest.raises(UserInputError, match="does not say where") as caught:
        decode([NIGHTS / "quiet-night.nmea.gz"], ReplaySettings(), PLAIN)
    assert "driftlead tune mark" in caught.value.remedy


def test_a_bare_log_is_decoded_as_it_was_marked(tmp_path: Path) -> None:
    """An hour of it, from a quarter of an hour before the anchor goes down."""
    lines = gzip.decompress((NIGHTS / "quiet-night.nmea.gz").read_bytes()).splitlines(True)
    path = tmp_path / "night.nmea"
    path.write_bytes(b"".join(lines[: len(lines) // 16]))
    settings = ReplaySettings(
        rode_m=36.0, depth_m=6.6, bow_height_m=1.2, antenna_aft_m=8.0, drop_at=parse_moment("20:34")
    )
    trace = decode([path], settings, PLAIN)
    assert len(trace.rows) > 80
    assert trace.anchorings[0].reach_m == pytest.approx((36.0**2 - 7.8**2) ** 0.5, abs=0.1)
    assert decide(trace, [PLAIN]) == [None]


def test_a_refused_command_is_noted(tmp_path: Path) -> None:
    lines = gzip.decompress((NIGHTS / "quiet-night.nmea.gz").read_bytes()).splitlines(True)
    path = tmp_path / "night.nmea"
    path.write_bytes(b"".join(lines[: len(lines) // 40]))
    settings = ReplaySettings(rode_m=5.0, depth_m=6.6, drop_at=parse_moment("20:34"))
    trace = decode([path], settings, PLAIN)
    assert not len(trace.rows)
    assert "does not reach the bottom" in trace.notes[0]
