"""An instrument the detector went by, and that is no longer heard."""

from driftlead.alerts.alert import Priority
from driftlead.watch.reliance import GONE_S, RELIED_S, Reliance


def relied() -> Reliance:
    """A heading heard for long enough to count, last at ``RELIED_S``."""
    reliance = Reliance("heading_lost")
    assert reliance.take(0.0, heard=True) == []
    assert reliance.take(RELIED_S, heard=True) == []
    return reliance


def test_what_was_heard_for_a_while_is_missed_after_a_minute() -> None:
    reliance = relied()
    assert reliance.take(RELIED_S + 10.0, heard=False) == []
    assert reliance.take(RELIED_S + 10.0 + GONE_S - 1.0, heard=False) == []
    (lost,) = reliance.take(RELIED_S + 10.0 + GONE_S, heard=False)
    assert (lost.name, lost.priority) == ("heading_lost", Priority.CAUTION)


def test_it_is_told_once_and_ends_when_it_is_heard_again() -> None:
    reliance = relied()
    reliance.take(1000.0, heard=False)
    assert reliance.take(1060.0, heard=False)
    assert reliance.take(1070.0, heard=False) == []
    (over,) = reliance.take(1080.0, heard=True)
    assert (over.name, over.priority) == ("heading_lost", None)
    assert reliance.take(1090.0, heard=True) == []


def test_what_was_never_heard_for_long_is_not_missed() -> None:
    reliance = Reliance("wind_lost")
    reliance.take(0.0, heard=True)
    assert reliance.take(100.0, heard=False) == []
    assert reliance.take(1000.0, heard=False) == []


def test_a_short_silence_is_no_loss() -> None:
    reliance = relied()
    for gap in range(10):
        assert reliance.take(1000.0 + 60.0 * gap, heard=False) == []
        assert reliance.take(1030.0 + 60.0 * gap, heard=True) == []


def test_after_a_restart_the_loss_that_was_up_ends_when_it_is_heard() -> None:
    reliance = Reliance("wind_lost")
    reliance.resume()
    assert reliance.take(0.0, heard=False) == []
    (over,) = reliance.take(10.0, heard=True)
    assert over.priority is None
