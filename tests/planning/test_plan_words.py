"""The plan in words."""

import datetime as dt
import re
from typing import Any

import pytest
from attrs import evolve

from driftlead.planning.plan import make_plan
from driftlead.planning.plan_boat import plan_boat
from driftlead.planning.plan_lights import Dark, Darkness
from driftlead.planning.plan_settings import PlanSettings
from driftlead.planning.plan_stay import plan_stay
from driftlead.planning.plan_words import PlanWords, folded, reminder_lines
from driftlead.tackle.bottom import Bottom
from driftlead.tide.table import TideTable, Turn
from driftlead.units import KNOT_MPS, Printer, UnitSystem, WindUnit

EVENING = dt.datetime(2026, 6, 14, 20, 0, tzinfo=dt.UTC)
TIDE = TideTable(
    (
        Turn(when=EVENING, height_m=4.4),
        Turn(when=EVENING + dt.timedelta(hours=6), height_m=0.8),
        Turn(when=EVENING + dt.timedelta(hours=12), height_m=4.6),
    )
)
CORVID = PlanSettings(
    name="Corvid",
    length_m=9.6,
    draught_m=1.7,
    bow_height_m=1.0,
    chain_m=45.0,
    chain_size_m=0.008,
    rope_m=15.0,
    snubber_m=6.0,
    snubber_size_m=0.012,
)


def words(
    boat: PlanSettings = CORVID,
    *,
    system: UnitSystem = UnitSystem.METRIC,
    wind_unit: WindUnit = WindUnit.KNOTS,
    knots: float = 20.0,
    gusts: float | None = None,
    **stay: Any,
) -> PlanWords:
    """The words for a usual evening but for what is given."""
    usual: dict[str, Any] = {
        "begins": EVENING,
        "for_s": 12 * 3600.0,
        "depth_m": 6.0,
        "charted_m": None,
        "tide": None,
        "wind_mps": knots * KNOT_MPS,
        "gust_mps": None if gusts is None else gusts * KNOT_MPS,
    }
    printer = Printer(system, wind_unit)
    made = plan_stay(**{**usual, **stay})
    plan = make_plan(plan_boat(boat), made, rode_step_m=printer.rode_step_m)
    return PlanWords(plan, printer)


def text(made: PlanWords) -> str:
    """All of it on one line."""
    return " ".join(" ".join(made.lines()).split())


def test_the_answer_and_what_decides_come_first() -> None:
    lines = words(knots=10, gusts=14).lines()
    assert lines[0] == "Corvid: 14 June 20:00 to 15 June 08:00 UTC, wind 10 kn, gusts 14 kn"
    assert lines[2].startswith("Veer 28 m, all of it chain, of the 60 m aboard. The rule of scope")
    assert "Veer 47 m, 45 m of it chain" in text(words(scope=6.7))
    assert "The gusts decide:" in text(words(knots=10, gusts=45))
    assert "all of it rope" in text(words(evolve(CORVID, chain_m=0.0, rope_m=90.0)))


def test_it_says_that_it_assists_and_the_skipper_decides() -> None:
    assert "replaces neither local rules, which come first, nor a look-out" in text(words())
    assert "The skipper decides." in text(words())


@pytest.mark.parametrize(
    ("boat", "stay", "warning"),
    [
        (
            CORVID,
            {"tide": TIDE, "charted_m": 0.0, "depth_m": None},
            "She will TOUCH, 00:00 to 03:56: her draught is 1.7 m and there are 0.8 m at 02:00.",
        ),
        (
            CORVID,
            {"tide": TIDE, "charted_m": 1.2, "depth_m": None},
            "Only 0.3 m under the keel at 02:00; you want 0.5 m.",
        ),
        (
            evolve(CORVID, chain_m=20.0, rope_m=0.0),
            {},
            "Not enough rode: 15 m short of the rule. With all of it the scope is 2.9:1. "
            "The anchor's end stays level in gusts up to 17 kn, below 8° in gusts up to "
            "22 kn.",
        ),
        (
            evolve(CORVID, chain_m=0.0, rope_m=20.0),
            {},
            "The anchor's end is lifted more than 8° in any wind.",
        ),
        (
            evolve(CORVID, chain_m=20.0, rope_m=0.0),
            {"knots": 40},
            "In the gusts the shank is lifted 18°; about 8° is the most",
        ),
        (
            evolve(CORVID, snubber_size_m=0.004, drag_area_m2=9.0),
            {"knots": 25},
            "The snubber bears",
        ),
        (
            evolve(CORVID, drag_area_m2=60.0),
            {"knots": 30},
            "The gusts' steady load is beyond the design load",
        ),
        (CORVID, {"bottom": Bottom.WEED}, "Weed holds poorly"),
        (CORVID, {"bottom": Bottom.ROCK}, "Rock holds only by luck"),
    ],
)
def test_what_must_not_be_overlooked_is_a_warning(
    boat: PlanSettings, stay: dict[str, Any], warning: str
) -> None:
    """The times of the first by hand: 1.7 m are 2.7/3.6 of the ebb and 0.9/3.8 of the flood run.

    The gusts of the third: 20 m of 8 mm chain in 7 m just pull level under 299 N.
    """
    made = words(boat, **stay)
    assert any(warning in each for each in made.warnings())
    assert "WARNING: " in text(made)
    assert warning in text(made)


def test_a_quiet_night_with_enough_of_everything_has_no_warning() -> None:
    made = words(tide=TIDE, knots=10, bottom=Bottom.SAND)
    assert made.warnings() == []
    assert "WARNING" not in text(made)
    assert "Sand commonly holds well" in text(made)


def test_without_a_tide_table_it_says_what_that_means() -> None:
    assert "No tide table was given" in text(words())
    assert "reach" not in text(words())


def test_a_sounding_that_disagrees_with_chart_and_tide_is_told() -> None:
    """At 20:00 there are 4.4 m of tide."""
    less = words(tide=TIDE, charted_m=2.6)
    assert "You sounded 1.0 m less than chart and tide give" in text(less)
    more = words(tide=TIDE, charted_m=1.0)
    assert "You sounded 0.6 m more than chart and tide give" in text(more)
    assert "You sounded" not in text(words(tide=TIDE, charted_m=1.5))


def test_the_table_has_a_row_for_each_hour_and_marks_the_turns() -> None:
    rows = words(tide=TIDE).lines()
    start = next(n for n, line in enumerate(rows) if line.startswith("time "))
    assert rows[start].split() == ["time", "tide", "depth", "keel", "scope", "shank", "reach"]
    table = rows[start + 1 : start + 14]
    assert [row.split()[0] for row in table] == [f"{(20 + n) % 24:02d}:00" for n in range(13)]
    assert table[6].split()[1] == "LW"
    assert len({len(row) for row in rows[start : start + 14]}) == 1
    without = words(evolve(CORVID, draught_m=None), tide=TIDE).lines()
    assert "keel" not in next(line for line in without if line.startswith("time "))


def test_where_it_dries_the_table_says_so() -> None:
    made = words(tide=TIDE, charted_m=-1.5, depth_m=None)
    assert any("dry" in line.split() for line in made.lines())


@pytest.mark.parametrize(
    ("system", "here", "elsewhere"),
    [
        (UnitSystem.METRIC, (" m", " kN"), (" ft", " fm", " lbf", "shackle")),
        (UnitSystem.FEET, (" ft", " lbf"), (" m ", " fm", " kN", "shackle")),
        (UnitSystem.FATHOMS, (" fm", " ft", " lbf", "shackles"), (" m ", " kN")),
    ],
)
def test_a_printout_has_one_system_of_units(
    system: UnitSystem, here: tuple[str, ...], elsewhere: tuple[str, ...]
) -> None:
    printed = text(words(system=system, tide=TIDE, charted_m=0.5))
    assert all(unit in printed for unit in here)
    assert not any(unit in printed for unit in elsewhere)
    assert " kn" in printed


def test_winds_are_in_knots_or_in_metres_a_second_throughout() -> None:
    """20 knots are 10.3 m/s, their gusts of 28 are 14.4, the working anchor's 30 are 15.4."""
    printed = text(words(evolve(CORVID, beam_m=3.1), wind_unit=WindUnit.MPS, tide=TIDE))
    assert "wind 10 m/s, gusts 14 m/s" in printed
    assert "working anchor (15 m/s)" in printed
    assert " kn" not in printed.replace(" kN", "")
    strong = words(evolve(CORVID, chain_m=45.0), wind_unit=WindUnit.MPS, knots=1.0)
    # Never rounded up: the limit of what is told is 60 knots, 30.9 m/s.
    assert re.search(r"(up to|beyond) (\d+) m/s", text(strong))
    assert "31 m/s" not in text(strong)


def test_no_line_is_wider_than_a_terminal() -> None:
    made = words(evolve(CORVID, chain_m=20.0), tide=TIDE, charted_m=0.0, knots=30)
    assert max(map(len, made.lines())) <= 80


def test_folding_keeps_the_words_and_sets_in_what_follows() -> None:
    line = "  " + "word " * 40
    first, *rest = folded([line.rstrip()])
    assert first.startswith("  word")
    assert all(each.startswith("    word") for each in rest)
    assert " ".join([first, *rest]).split() == line.split()


def test_sunset_comes_before_the_lights() -> None:
    dark = Darkness(
        spells=(
            Dark(
                sunset=EVENING + dt.timedelta(minutes=61.7),
                sunrise=EVENING + dt.timedelta(hours=8.5),
            ),
        ),
        dark_throughout=False,
    )
    lines = reminder_lines(9.6, dark)
    assert lines[0] == "Reminders; local rules come first:"
    assert lines[1] == "  Sunset 14 June 21:02, sunrise 15 June 04:30."
    assert "all-round white light" in lines[2]
    throughout = Darkness(spells=(), dark_throughout=True)
    assert reminder_lines(9.6, throughout)[1] == "  The sun is down throughout."
    assert reminder_lines(9.6, evolve(throughout, dark_throughout=False))[1].startswith("  It is")
    assert not any("unset 1" in line for line in reminder_lines(9.6, None))
