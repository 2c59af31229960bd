"""What a lasting notifier has carried, over a restart."""

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import AlertState, Priority
from driftlead.notify.carried import Carried
from driftlead.testing import make_alert


def again(carried: Carried) -> Carried:
    """The same after a restart."""
    return Carried.from_json(carried.to_json())


def test_what_was_carried_is_known_after_a_restart_as_it_stood() -> None:
    carried = Carried()
    carried.note("shore", make_alert())
    carried = again(carried)
    assert carried.has("shore", make_alert(text="With other figures.", moved_m=30.0))
    assert not carried.has("shore", make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED))
    assert not carried.has("shore", make_alert(priority=Priority.WARNING))
    assert not carried.has("shore", make_alert(number=2))
    assert not carried.has("shore", make_alert(instance="other"))
    assert not carried.has("telephone", make_alert())


def test_an_alert_that_is_over_is_forgotten() -> None:
    """So that it does not grow."""
    carried = Carried()
    carried.note("shore", make_alert())
    carried.note("shore", make_alert(state=AlertState.NORMAL))
    assert json.loads(carried.to_json()) == {"shore": {}}


@pytest.mark.parametrize("text", [None, "", "{", "[]", "3", "null", '{"shore":3}', '{"shore":[1]}'])
def test_what_cannot_be_read_is_nothing_carried(text: str | None) -> None:
    """Then it is carried once more: better twice than never."""
    assert not Carried.from_json(text).has("shore", make_alert())


@settings(deadline=None)
@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=4),
        lambda inner: (
            st.lists(inner, max_size=2)
            | st.dictionaries(st.sampled_from(["shore", "drag/", "x"]), inner, max_size=2)
        ),
        max_leaves=6,
    )
)
def test_any_json_leaves_something_that_works(data: object) -> None:
    carried = Carried.from_json(json.dumps(data))
    carried.note("shore", make_alert())
    assert again(carried).has("shore", make_alert())
