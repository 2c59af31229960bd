"""When the systemd watchdog is fed."""

import pytest

from driftlead.daemon.watchdog import is_judging


@pytest.mark.parametrize(
    ("on_watch", "judged", "declared", "to_limit_s", "fed"),
    [
        (False, False, False, None, True),  # no watch: that the loop turns is enough
        (True, True, False, -5.0, True),  # a fix was judged
        (True, False, True, None, True),  # there is none, and the crew has been told
        (True, False, False, 12.0, True),  # there is none, but it is early yet
        (True, False, False, 0.0, False),  # it should have been told by now
        (True, False, False, -5.0, False),
        (True, False, False, None, False),  # nothing to judge and nothing to wait for: stuck
    ],
)
def test_it_is_fed_only_while_the_watch_is_truly_kept(
    on_watch: bool, judged: bool, declared: bool, to_limit_s: float | None, fed: bool
) -> None:
    """Every case of the rule."""
    said = is_judging(
        on_watch=on_watch,
        judged_a_fix=judged,
        loss_is_declared=declared,
        seconds_to_limit=to_limit_s,
    )
    assert said is fed
