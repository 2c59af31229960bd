"""Anchorings in words."""

from attrs import evolve

from driftlead.records.anchoring import Anchoring, RaisedAlert
from driftlead.records.store import Stored
from driftlead.records.words import how_it_went, list_lines
from driftlead.units import Printer


def test_an_anchoring_is_two_lines(anchoring: Anchoring) -> None:
    """When and where, then how it went."""
    assert list(list_lines([Stored(7, anchoring)], Printer())) == [
        "  7  2026-06-14 22:04 to 2026-06-15 06:34 UTC  46°30.075'N 031°12.069'W  "
        "Pellow Sound, <east> & north",
        "     38 m of rode in 6.2 m; wind 6 to 24 kn; DRAGGED 40 m towards 051° (NE), held again; "
        "1 alarm.",
    ]


def test_what_is_not_known_is_left_out(anchoring: Anchoring) -> None:
    """And one not weighed yet has not held yet."""
    bare = Anchoring(began_utc_s=anchoring.began_utc_s, drop=anchoring.drop, method="given")
    first, second = list_lines([Stored(7, bare)], Printer())
    assert "22:04 UTC, not weighed yet" in first
    assert second.strip() == "no drag so far."
    assert how_it_went(evolve(bare, ended_utc_s=1e9, depth_m=5.0), Printer()) == (
        "let go in 5.0 m; held."
    )


def test_one_that_was_not_seen_to_weigh_is_over_when_another_came(anchoring: Anchoring) -> None:
    """Only of the newest one can say that it is not weighed yet."""
    old = evolve(anchoring, ended_utc_s=None, drags=(), alerts=())
    first, second = list_lines([Stored(7, old)], Printer(), newest=8)
    assert "22:04 UTC, not seen to weigh" in first
    assert "no drag seen" in second
    assert "not weighed yet" in next(list_lines([Stored(8, old)], Printer(), newest=8))


def test_a_drill_is_no_alarm(anchoring: Anchoring) -> None:
    """The evening's test does not make a night bad."""
    drill = RaisedAlert(number=1, name="drill", priority="alarm", raised_utc_s=1.0)
    quiet = evolve(anchoring, drags=(), alerts=(drill,))
    assert quiet.alarms == 0
    assert how_it_went(quiet, Printer()).endswith("held.")
