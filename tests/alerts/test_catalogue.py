"""Every alert there is, and when it clears."""

import re
from pathlib import Path

import pytest

import driftlead
from driftlead.alerts.alert import Priority
from driftlead.alerts.catalogue import (
    CATALOGUE,
    FAULT_NAMES,
    ClearRule,
    clear_rule,
    fault_priority,
)

# Priorities by how soon somebody must act (IMO Code on Alerts, 3.1): at once, soon, by and by.
RULES = {
    "drag": ("alarm", "latched"),
    "data_stale": ("warning", "when_rectified"),
    "fix_lost": ("warning", "when_rectified"),
    "fix_poor": ("caution", "when_rectified"),
    "fix_frozen": ("caution", "when_rectified"),
    "heading_lost": ("caution", "when_rectified"),
    "wind_lost": ("caution", "when_rectified"),
    "rode_unknown": ("caution", "when_rectified"),
    "anchor_uncertain": ("caution", "when_rectified"),
    "rode_short": ("caution", "when_rectified"),
    "wind_over_plan": ("warning", "when_rectified"),
    "swing_changed": ("caution", "when_rectified"),
    "wind_shifted": ("caution", "when_rectified"),
    "will_touch": ("caution", "when_rectified"),
    "receiver_date": ("caution", "when_rectified"),
    "clock_jumped": ("caution", "when_rectified"),
    "watch_resumed": ("caution", "latched"),
    "source_silent": ("warning", "when_rectified"),
    "notifier_failed": ("warning", "when_rectified"),
    "journal_failed": ("warning", "when_rectified"),
    "recording_failed": ("warning", "when_rectified"),
    "supply_low": ("warning", "when_rectified"),
    "cpu_hot": ("caution", "when_rectified"),
    "disk_low": ("warning", "when_rectified"),
    "file_unreadable": ("caution", "when_rectified"),
    "dragged_here_before": ("caution", "when_rectified"),
    "drill": ("alarm", "when_rectified"),
}
"""Nobody may sleep through a drag because the anchor has bitten again meanwhile."""


def test_the_catalogue_lists_exactly_these() -> None:
    assert set(CATALOGUE) == set(RULES)


@pytest.mark.parametrize("name", RULES)
def test_each_clears_by_its_rule_and_says_what_it_means(name: str) -> None:
    priority, rule = RULES[name]
    assert CATALOGUE[name].priority is Priority(priority)
    assert clear_rule(name) is ClearRule(rule)
    assert CATALOGUE[name].name == name
    assert CATALOGUE[name].meaning.endswith(".")


def test_one_that_is_not_listed_clears_when_rectified() -> None:
    assert clear_rule("another") is ClearRule.WHEN_RECTIFIED


def test_faults_of_ours_are_told_apart_for_a_restart_finds_them_out_anew() -> None:
    ours = {
        *("source_silent", "notifier_failed", "journal_failed", "recording_failed"),
        *("supply_low", "cpu_hot", "disk_low", "clock_jumped", "file_unreadable"),
    }
    assert ours == FAULT_NAMES


def test_a_fault_has_the_priority_of_its_row_and_an_unlisted_one_is_a_warning() -> None:
    assert fault_priority("cpu_hot") is Priority.CAUTION
    assert fault_priority("journal_failed") is Priority.WARNING
    assert fault_priority("another") is Priority.WARNING


def test_every_condition_the_code_raises_is_listed() -> None:
    """By the names that stand in the sources of the deciding packages."""
    package = Path(driftlead.__file__).parent
    raised = set()
    for path in [*package.glob("watch/*.py"), *package.glob("core/*.py")]:
        text = path.read_text("utf-8")
        raised |= set(re.findall(r'Condition\(\s*name="(\w+)"', text))
        raised |= set(re.findall(r'Graded\(\s*"(\w+)"', text))
    assert raised >= {"drag", "data_stale", "fix_frozen", "watch_resumed"}
    assert raised <= set(CATALOGUE)
