"""docs/alerts.md says what the tables say, and what it promises is proved by tests that exist."""

import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from driftlead.alerts.alert import AlertState
from driftlead.alerts.call import Call
from driftlead.alerts.catalogue import CATALOGUE
from driftlead.alerts.diagram import diagram
from driftlead.alerts.lifecycle import LIFECYCLE
from driftlead.config.load import build_config, core_settings

if TYPE_CHECKING:
    from tests.alerts.conftest import Desk

ROOT = Path(__file__).resolve().parents[2]
DOC = (ROOT / "docs" / "alerts.md").read_text("utf-8")


def test_the_diagram_in_the_docs_is_the_table() -> None:
    """Draw it anew: python -m driftlead.alerts.diagram."""
    (drawn,) = re.findall(r"```mermaid\n(.*?)```", DOC, re.DOTALL)
    assert drawn == diagram()


def test_the_diagram_has_every_row_of_the_table_and_no_other() -> None:
    arrows = {
        (before, event.strip().replace(" ", "_"), after)
        for before, after, events in re.findall(
            r"^    (\w+) --> (\w+): (.*)$", diagram(), re.MULTILINE
        )
        for event in events.split(",")
    }
    table = {
        (state.value, event.value, after.value)
        for state, row in LIFECYCLE.items()
        for event, after in row.items()
    }
    assert arrows == table
    sounding = re.findall(r"^    (\w+): .*\(sounds\)$", diagram(), re.MULTILINE)
    assert sounding == [state.value for state in AlertState if state.sounds]


def test_every_alert_is_listed_with_its_priority_and_its_rule() -> None:
    rows = re.findall(r"^\| `(\w+)`( \*)? \| (\w+) \| ([\w ]+) \| (.*) \|$", DOC, re.MULTILINE)
    assert [row[0] for row in rows] == list(CATALOGUE)
    for name, mark, priority, clears, meaning in rows:
        kind = CATALOGUE[name]
        assert bool(mark) is kind.fault
        assert (priority, clears) == (kind.priority.value, kind.clears.value.replace("_", " "))
        assert meaning == kind.meaning


def test_every_proof_is_a_test_that_exists() -> None:
    """In this folder of tests, by its name."""
    named = set(re.findall(r"`(test_\w+)`", DOC))
    there = {
        name
        for path in (ROOT / "tests").rglob("test_*.py")
        for name in re.findall(r"def (test_\w+)\(", path.read_text("utf-8"))
    }
    assert len(named) > 20
    assert named <= there, named - there


@pytest.fixture
def night(make_desk: "type[Desk]") -> "Desk":
    """The watch bill of the docs, at 01:10 in ship's time."""
    (bill,) = re.findall(r"```toml\n(\[watch_bill\].*?)```", DOC, re.DOTALL)
    raw = tomllib.loads(bill) | {
        "source": [{"name": "gps", "kind": "udp"}],
        "notifier": [{"kind": "log"}]
        + [{"kind": "sound", "name": name} for name in ("aft", "fore", "saloon")],
    }
    settings = core_settings(build_config(raw, Path("/etc/driftlead/boat.toml"))).alerts
    midnight_s = 1_780_358_400.0 - settings.bill.utc_offset_s  # 2026-06-02 00:00 in ship's time
    return make_desk(settings, utc_s=midnight_s + 70 * 60.0)


def test_the_night_of_the_docs_goes_as_it_is_told(night: "Desk") -> None:
    """Row by row: who is called then, and why."""
    night.raise_()
    night.until(20.0)
    night.silence()
    night.until(220.0)
    night.acknowledge()
    night.until(1120.0)
    night.raise_("drag", None)
    told = [
        (call.mono_s, call.reason.value, "+".join(call.outlets))
        for call in night.news
        if isinstance(call, Call)
    ]
    assert told == [
        (0.0, "first", "log+fore"),
        (15.0, "escalated", "aft"),
        (15.0, "louder", "log+fore"),
        (20.0, "changed", "log+aft+fore"),
        (50.0, "silence_ran_out", "log+aft+fore"),
        (90.0, "escalated", "saloon"),
        (90.0, "louder", "log+aft+fore"),
        (210.0, "again", "log+aft+fore+saloon"),
        (220.0, "changed", "log+aft+fore+saloon"),
        (1120.0, "changed", "log+aft+fore+saloon"),
    ]
    shown = re.findall(r"^\| 01:(\d\d):(\d\d) \| .* \| (.*) \|$", DOC, re.MULTILINE)
    times = [60.0 * int(minute) + int(second) - 600.0 for minute, second, _ in shown]
    assert times == sorted({at_s for at_s, _, _ in told})
    for at_s, (_, _, why) in zip(times, shown, strict=True):
        reasons = [reason for then_s, reason, _ in told if then_s == at_s]
        assert re.findall(r"`(\w+)`", why) == reasons
