"""The topics a broker holds the boat's alerts under."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.notify.mqtt_topics import Topics, topic_problem, word_of

TOPICS = Topics("driftlead/corvid")


def test_topics_stay_as_published() -> None:
    """Subscribers rely on them."""
    assert TOPICS.status == "driftlead/corvid/status"
    assert TOPICS.alls_well == "driftlead/corvid/alls_well"
    assert TOPICS.check == "driftlead/corvid/check"
    assert TOPICS.alert("drag", "") == "driftlead/corvid/alerts/drag"
    assert TOPICS.alert("source_silent", "gps-1") == "driftlead/corvid/alerts/source_silent/gps-1"


@pytest.mark.parametrize(
    ("boat", "word"),
    [
        ("Corvid", "corvid"),
        ("  Corvid of Pellow Sound ", "corvid-of-pellow-sound"),
        ("Möwe #2/+", "mowe-2"),
        ("錨", "boat"),
        ("", "boat"),
    ],
)
def test_any_name_of_a_boat_can_stand_in_a_topic(boat: str, word: str) -> None:
    """In small letters, digits and hyphens."""
    assert word_of(boat) == word


@given(boat=st.text())
def test_what_is_made_of_a_name_is_never_refused(boat: str) -> None:
    """Whatever the owner calls her."""
    assert topic_problem(f"driftlead/{word_of(boat)}") is None


@given(
    one=st.tuples(st.text(min_size=1), st.text()), other=st.tuples(st.text(min_size=1), st.text())
)
def test_no_two_alerts_share_a_topic_and_none_has_a_wildcard(
    one: tuple[str, str], other: tuple[str, str]
) -> None:
    """Or one would hide the other."""
    topics = {TOPICS.alert(*one), TOPICS.alert(*other)}
    assert len(topics) == len({one, other})
    for topic in topics:
        assert not set("+#\0") & set(topic)
        assert topic.isascii()


@pytest.mark.parametrize("base", ["a/+", "#", "$SYS/x", "/a", "a/", "a//b", "", "a\0", "é" * 101])
def test_topics_that_cannot_be_published_under_are_told(base: str) -> None:
    """By MQTT 3.1.1, 4.7, which allows levels without a name; but they help nobody."""
    assert topic_problem(base)


@pytest.mark.parametrize("base", ["a", "fleet/Corvid 1/é", "a/$b"])
def test_other_topics_are_taken(base: str) -> None:
    """As the owner likes them."""
    assert topic_problem(base) is None
