"""What the person at the terminal reads after a drill."""

from typing import Any

import pytest

from driftlead.check.finding import Level
from driftlead.drill.report import Answered, DrillReport, Ending, Passage, Reached
from driftlead.drill.words import ending, findings


def told(**fields: Any) -> tuple[list[tuple[Level, str, str]], str, bool]:
    """Put a report into words: the findings, the ending, and whether it is good."""
    plain: dict[str, Any] = {"ending": Ending.COMPLETE, "took_s": 2.04, "passages": ()}
    report = DrillReport(**(plain | fields)).to_data()
    lines = [(each.level, each.what, each.text) for each in findings(report)]
    return lines, ending(report), report["good"]


@pytest.mark.parametrize(
    ("passage", "level", "text"),
    [
        (Passage(notifier="horn", called_s=0.0, carried_s=0.42), Level.OK, "Arrived after 0.4 s."),
        (
            Passage(notifier="horn", called_s=90.0, carried_s=91.5),
            Level.OK,
            "Arrived after 92 s, 1.5 s after its turn came.",
        ),
        (Passage(notifier="horn", called_s=0.0, trouble="Mute."), Level.FAIL, "Mute."),
        (
            Passage(notifier="horn", called_s=0.0, waits=True),
            Level.FAIL,
            "It has taken it, but could not send it yet.",
        ),
        (
            Passage(notifier="horn", called_s=0.0),
            Level.FAIL,
            "It was called, and has not answered yet.",
        ),
    ],
)
def test_each_notifier_has_its_line(passage: Passage, level: Level, text: str) -> None:
    """When it arrived, or why not."""
    lines, _, good = told(passages=(passage,))
    assert lines == [(level, "notifier horn", text)]
    assert good is (level is Level.OK)


def test_one_whose_turn_had_not_come_fails_only_a_whole_drill() -> None:
    """Somebody answered first, and that is as it should be."""
    passage = Passage(notifier="horn")
    answered = Answered(after_s=3.0, by="mate", where="cockpit")
    lines, said, good = told(passages=(passage,), ending=Ending.ACKNOWLEDGED, answered=answered)
    assert lines[0][0] is Level.LOOK
    assert said == "The drill was acknowledged by mate from cockpit after 3.0 s."
    assert good
    lines, _, good = told(passages=(passage,))
    assert lines[0][0] is Level.FAIL
    assert not good


def test_each_of_the_crew_has_a_line() -> None:
    """Reached, or not at all."""
    crew = (Reached(who="mate", after_s=15.3), Reached(who="hand", after_s=None))
    lines, _, _ = told(crew=crew)
    assert lines == [
        (Level.OK, "crew mate", "Reached after 15 s."),
        (Level.FAIL, "crew hand", "Not reached."),
    ]


def test_a_real_alert_is_not_to_be_overlooked() -> None:
    """Whoever held the drill must look out."""
    _, said, good = told(ending=Ending.REAL_ALERT, real_alert="fix_lost")
    assert said == "THE DRILL WAS BROKEN OFF: THERE IS A REAL ALERT: fix lost."
    assert not good


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({}, "The drill has run its course, after 2.0 s."),
        (
            {"ending": Ending.OUT_OF_TIME, "took_s": 30.0},
            "The drill was ended before it had arrived everywhere, after 30 s.",
        ),
        (
            {"ending": Ending.ACKNOWLEDGED, "answered": Answered(after_s=2.0, by=None, where=None)},
            "The drill was acknowledged after 2.0 s.",
        ),
    ],
)
def test_every_ending_has_its_words(given: dict[str, Any], said: str) -> None:
    """As a sentence."""
    assert told(**given)[1] == said


def test_seconds_are_rounded_in_the_data() -> None:
    """JSON for scripts, to the millisecond."""
    report = DrillReport(
        ending=Ending.COMPLETE,
        took_s=1.23456,
        passages=(Passage(notifier="horn", called_s=0.0, carried_s=0.98765),),
        crew=(Reached(who="mate", after_s=0.98765),),
        answered=Answered(after_s=1.99999, by="mate", where=None),
    )
    data = report.to_data()
    assert data["took_s"] == 1.235
    assert data["passages"][0]["carried_s"] == data["crew"][0]["after_s"] == 0.988
    assert data["answered"] == {"after_s": 2.0, "by": "mate", "where": None}
    assert data["ending"] == "complete"
