"""``driftlead status``: one line for a status bar, and the screen that is followed."""

import io
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from rich.console import Console

from driftlead.cli.status import followed_lines, status
from driftlead.cli.status_follow import Seen, follow
from driftlead.cli.status_screen import screen
from driftlead.cli.status_short import NO_DAEMON, short_status
from driftlead.errors import DaemonError

RIDING: dict[str, Any] = {
    "state": "riding",
    "on_watch": True,
    "t": "2026-07-01T20:00:00.000Z",
    "set_result": None,
    "response": None,
    "danger": None,
    "verdict": "holding",
    "reason": "as_the_rode_allows",
    "confidence": 0.002,
    "distance_m": 34.3,
    "bearing_deg": 131.0,
    "radius_m": 42.2,
    "moved_m": 0.0,
    "rate_mps": None,
    "position": {"lat": 46.4999, "lon": -31.2},
    "anchor": {"lat": 46.5, "lon": -31.2, "sigma_m": 3.1, "method": "marked"},
    "rode_m": 36.0,
    "depth_m": 3.9,
    "heading_deg": 45.0,
    "wind_from_deg": 31.0,
    "wind_mps": 6.2,
    "fix_age_s": 1.0,
    "receiver": "gps/satellite",
    "alerts": [],
    "sources": [],
    "journal_ok": True,
    "recording_ok": True,
    "lost_lines": 0,
}
DRAG = {
    "name": "drag",
    "instance": "",
    "priority": "alarm",
    "state": "active_unacknowledged",
    "text": "The anchor is [bold]dragging[/bold].",
}

FIX_POOR = {**DRAG, "name": "fix_poor", "priority": "caution", "state": "active_acknowledged"}
PONTOON = {"name": "Pontoon", "kind": "pier", "distance_m": 140.2, "minutes": 12.4}


def test_a_quiet_watch_is_one_short_line() -> None:
    """What matters first, small letters: no hand is wanted."""
    assert short_status(RIDING) == "holding 34 m of 42 m, wind 12 kn NNE, depth 3.9 m"


@pytest.mark.parametrize(
    ("changes", "begins"),
    [
        ({"verdict": "unsure"}, "UNSURE 34 m of 42 m, wind"),
        ({"state": "dragging", "alerts": [DRAG]}, "DRAGGING 34 m of 42 m, ALARM drag, wind"),
        (
            {"state": "dragging", "danger": PONTOON, "alerts": [DRAG]},
            "DRAGGING 34 m of 42 m, Pontoon 140 m ahead, 12 min, ALARM drag, wind",
        ),
        (
            {"state": "dragging", "danger": {**PONTOON, "minutes": None}},
            "DRAGGING 34 m of 42 m, wind",
        ),
        ({"fix_age_s": 34.0, "danger": PONTOON}, "BLIND: fix 34 s old, wind"),
        ({"fix_age_s": 34.0}, "BLIND: fix 34 s old, wind"),
        ({"fix_age_s": None}, "BLIND: no fix yet, wind"),
        ({"verdict": None, "distance_m": None}, "not judged yet, wind"),
        ({"radius_m": None}, "holding 34 m, wind"),
        ({"on_watch": False, "state": "aweigh"}, "no watch (aweigh), wind"),
        ({"alerts": [{**DRAG, "state": "active_acknowledged"}]}, "holding 34 m of 42 m, 1 alert a"),
        (
            {"alerts": [{**DRAG, "state": "active_acknowledged"}, FIX_POOR, FIX_POOR]},
            "holding 34 m of 42 m, 1 alert acknowledged, 2 cautions, wind",
        ),
        ({"alerts": [FIX_POOR]}, "holding 34 m of 42 m, 1 caution, wind"),
        ({"journal_ok": False}, "holding 34 m of 42 m, NOT ON THE DISK, wind"),
        ({"wind_mps": None, "depth_m": None}, "holding 34 m of 42 m"),
    ],
)
def test_the_line_says_in_capitals_what_wants_a_hand(changes: dict[str, Any], begins: str) -> None:
    """An old fix is never called holding."""
    assert short_status({**RIDING, **changes}).startswith(begins)


def test_without_a_daemon_the_line_says_so(tmp_path: Path) -> None:
    """A status bar shows what is printed, so it is printed; scripts see the exit status."""
    result = CliRunner().invoke(status, ["--line", "--socket", str(tmp_path / "none.sock")])
    assert result.stdout == f"{NO_DAEMON}\n"
    assert result.exit_code == 1


@pytest.mark.parametrize("options", [["--json", "--line"], ["--follow", "--every", "0s"]])
def test_what_makes_no_sense_is_refused(options: list[str]) -> None:
    """By the exit status of a wrong command line."""
    assert CliRunner().invoke(status, options).exit_code == 2


class Clock:
    """A clock that only sleeping and asking moves."""

    def __init__(self) -> None:
        self.now_s = 100.0
        self.slept: list[float] = []

    def __call__(self) -> float:
        return self.now_s

    def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now_s += seconds


def test_following_notices_that_nobody_answers_and_that_somebody_does_again() -> None:
    """The last status is kept, with its age; each look is a second after the one before."""
    clock = Clock()
    answers: list[Mapping[str, Any] | None] = [RIDING, None, None, RIDING]

    def ask() -> Mapping[str, Any]:
        clock.now_s += 0.25
        answer = answers.pop(0)
        if answer is None:
            raise DaemonError("No driftlead daemon is running.", remedy="Start it.")
        return answer

    looks = follow(ask, every_s=1.0, clock=clock, sleep=clock.sleep)
    seen = [next(looks) for _ in range(4)]
    assert [each.is_live for each in seen] == [True, False, False, True]
    assert [each.silent_s for each in seen] == [0.0, 1.0, 2.0, 0.0]
    assert seen[2].status is RIDING
    assert clock.slept == [0.75, 0.75, 0.75]


def test_following_before_there_is_a_daemon_knows_nothing() -> None:
    """Neither a status nor an age is made up."""
    clock = Clock()

    def ask() -> Mapping[str, Any]:
        raise DaemonError("No driftlead daemon is running.", remedy="Start it.")

    assert next(follow(ask, every_s=1.0, clock=clock, sleep=clock.sleep)) == Seen(
        status=None, silent_s=None, trouble="No driftlead daemon is running."
    )


def looks() -> Iterator[Seen]:
    """The same status twice, then nobody answers."""
    yield Seen(status=RIDING, silent_s=0.0)
    yield Seen(status={**RIDING, "fix_age_s": 2.0}, silent_s=0.0)
    yield Seen(status=RIDING, silent_s=1.0, trouble="No driftlead daemon is running.")


def test_short_lines_are_printed_when_they_change() -> None:
    """A status bar need not be told the same twice."""
    assert list(followed_lines(looks(), as_json=False)) == [short_status(RIDING), NO_DAEMON]


def test_json_lines_are_printed_for_each_look_and_old_news_are_null() -> None:
    """A script must not take what is old for the present."""
    read = [json.loads(line) for line in followed_lines(looks(), as_json=True)]
    assert [each and each["fix_age_s"] for each in read] == [1.0, 2.0, None]


def shown(seen: Seen) -> str:
    """The screen as plain text."""
    console = Console(file=io.StringIO(), width=100, color_system=None, force_terminal=False)
    with console.capture() as capture:
        console.print(screen(seen))
    return capture.get()


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({}, "HOLDING"),
        ({"verdict": "unsure"}, "UNSURE"),
        ({"verdict": None}, "NOT JUDGED YET"),
        ({"state": "dragging"}, "DRAGGING"),
        ({"fix_age_s": 12.0}, "BLIND"),
        ({"on_watch": False}, "NO WATCH"),
    ],
)
def test_the_screen_begins_with_one_word(changes: dict[str, Any], word: str) -> None:
    """Then come the lines of ``driftlead status``, and the look-out is not forgotten."""
    text = shown(Seen(status={**RIDING, **changes}, silent_s=0.0))
    assert word in text.splitlines()[1]
    assert "Riding to her anchor." in text or changes.get("state") == "dragging"
    assert "never replaces a look-out" in text


def test_the_screen_shows_plainly_that_the_daemon_is_gone() -> None:
    """What was known is called old."""
    text = shown(Seen(status=RIDING, silent_s=7.0, trouble="No driftlead daemon is running."))
    assert "NO WORD FROM THE WATCH FOR 7 s" in text
    assert "HOLDING" not in text
    assert "What follows is old:" in text


def test_what_an_alert_says_is_never_taken_for_markup() -> None:
    """Its text may come from anywhere."""
    text = shown(Seen(status={**RIDING, "alerts": [DRAG]}, silent_s=0.0))
    assert "[bold]dragging[/bold]" in text
