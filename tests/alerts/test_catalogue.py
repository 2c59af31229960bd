"""Every alert there is, and when it clears."""

import re
from pathlib import Path

import pytest

import driftlead
from driftlead.alerts.catalogue import CATALOGUE, ClearRule, clear_rule
from driftlead.core.core import FAULT_NAMES

RULES = {
    "drag": "latched",
    "data_stale": "when_rectified",
    "fix_lost": "when_rectified",
    "fix_poor": "when_rectified",
    "fix_frozen": "when_rectified",
    "rode_unknown": "when_rectified",
    "anchor_uncertain": "when_rectified",
    "receiver_date": "when_rectified",
    "watch_resumed": "latched",
    "source_silent": "when_rectified",
    "notifier_failed": "when_rectified",
    "journal_failed": "when_rectified",
    "recording_failed": "when_rectified",
}
"""Nobody may sleep through a drag because the anchor has bitten again meanwhile."""


def test_the_catalogue_lists_exactly_these() -> None:
    assert set(CATALOGUE) == set(RULES)


@pytest.mark.parametrize("name", RULES)
def test_each_clears_by_its_rule_and_says_what_it_means(name: str) -> None:
    assert clear_rule(name) is ClearRule(RULES[name])
    assert CATALOGUE[name].name == name
    assert CATALOGUE[name].meaning.endswith(".")


def test_one_that_is_not_listed_clears_when_rectified() -> None:
    assert clear_rule("another") is ClearRule.WHEN_RECTIFIED


def test_every_fault_of_ours_is_listed() -> None:
    assert set(CATALOGUE) >= FAULT_NAMES


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
