"""Epochs: what a receiver says of one instant becomes one fix, in whatever order it says it."""

import datetime as dt
import gzip
import re
import tarfile
from collections.abc import Iterable, Sequence
from itertools import pairwise, permutations
from pathlib import Path

import pytest
from attrs import evolve
from hypothesis import given
from hypothesis import strategies as st

from driftlead.nmea.decode import Decoder
from driftlead.nmea.epoch import EpochMerger, receiver_group
from driftlead.nmea.fix import Fix, NoFix
from driftlead.nmea.observations import (
    CourseReport,
    DilutionReport,
    Observation,
    PositionReport,
)
from driftlead.nmea.rejects import Reject

Epoch = Fix | NoFix
KINDS = ["RMC", "GGA", "GLL", "VTG", "GSA"]
TIMED = frozenset({"RMC", "GGA", "GLL", "GNS"})


def said(
    kind: str, second: float | None, *, valid: bool = True, talker: str = "GP"
) -> PositionReport | CourseReport | DilutionReport:
    """What a receiver under way says in this second; each second has its own numbers."""
    number = second or 0.0
    lat_deg, lon_deg = 46.0 + 1e-4 * number, -31.0 - 1e-4 * number
    void = PositionReport(kind, talker, second, False, 0.0, 0.0, 0.0)
    match kind:
        case "VTG":
            return (
                CourseReport(talker, 2.0 + number, 20.0)
                if valid
                else CourseReport(talker, None, None)
            )
        case "GSA":
            return DilutionReport(talker, 3 if valid else 1, 1.5)
        case _ if not valid:
            return void
        case "RMC":
            return PositionReport(
                "RMC", talker, second, True, lat_deg, lon_deg, 0.185,
                dt.date(2026, 1, 1), sog_mps=1.0 + number, cog_deg=10.0,
            )  # fmt: skip
        case "GGA" | "GNS":
            return PositionReport(
                kind, talker, second, True, lat_deg, lon_deg, 0.185, hdop=0.9, satellites=9
            )
        case _:
            return PositionReport(kind, talker, second, True, lat_deg, lon_deg, 0.185)


def hear(merger: EpochMerger, mono_s: float, report: Observation) -> tuple[Epoch, ...]:
    """Feed a report to where the core would."""
    if isinstance(report, PositionReport):
        return merger.position(mono_s, report)
    if isinstance(report, CourseReport):
        merger.course(report)
    elif isinstance(report, DilutionReport):
        merger.dilution(report)
    return ()


def talk(order: Sequence[str], seconds: Iterable[int]) -> list[Epoch]:
    """The epochs of a receiver that says these sentences, in this order, each second."""
    merger = EpochMerger("gps")
    epochs: list[Epoch] = []
    for second in seconds:
        for number, kind in enumerate(order):
            epochs += hear(merger, second + 0.1 * number, said(kind, float(second)))
    return epochs


def times(epochs: Iterable[Epoch]) -> list[float | None]:
    return [epoch.tod_s for epoch in epochs]


# -- one fix for each epoch --------------------------------------------------------------------


@pytest.mark.parametrize("order", list(permutations(KINDS)), ids="-".join)
def test_every_order_gives_each_epoch_once_with_all_that_was_said(order: tuple[str, ...]) -> None:
    epochs = talk(order, range(6))
    assert times(epochs) == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
    for second, epoch in enumerate(epochs):
        assert isinstance(epoch, Fix)
        assert epoch.source == "gps"
        assert epoch.lat_deg == 46.0 + 1e-4 * second
        assert epoch.lon_deg == -31.0 - 1e-4 * second
        assert epoch.hdop == 0.9
        assert epoch.satellites == 9
        # Doppler speed of the very epoch, from RMC or, if it came before, from VTG.
        assert epoch.sog_mps in (1.0 + second, 2.0 + second)
        first_timed = min(order.index(kind) for kind in ("RMC", "GGA", "GLL"))
        assert epoch.mono_s == pytest.approx(second + 0.1 * first_timed)


@pytest.mark.parametrize("order", list(permutations(["RMC", "GGA", "GLL"])), ids="-".join)
def test_from_the_third_epoch_on_the_fix_comes_with_the_sentence_that_ends_it(
    order: tuple[str, ...],
) -> None:
    merger = EpochMerger("gps")
    for second in range(8):
        given = [hear(merger, second, said(kind, float(second))) for kind in order]
        if second < 2:
            continue
        assert given[1] == ()
        assert times(given[2]) == [second]
        # The first two were given out when the next began.
        assert times(given[0]) == ([1.0] if second == 2 else [])


@pytest.mark.parametrize("kind", ["RMC", "GGA", "GLL", "GNS"])
def test_a_receiver_of_one_sentence_needs_no_waiting(kind: str) -> None:
    merger = EpochMerger("gps")
    given = [times(hear(merger, s, said(kind, float(s)))) for s in range(5)]
    assert given == [[], [0.0], [1.0, 2.0], [3.0], [4.0]]


@given(
    st.permutations(["RMC", "GGA", "GLL", "GNS", "VTG", "GSA"]),
    st.integers(1, 6),
    st.lists(st.sets(st.integers(0, 5)), min_size=1, max_size=15),
)
def test_each_epoch_is_given_once_and_in_order_though_sentences_are_void(
    order: list[str], length: int, voids: list[set[int]]
) -> None:
    """One void sentence, and one GSA without fix, makes the epoch no fix; nothing else does."""
    order = order[:length]
    if not TIMED.intersection(order):
        order.append("RMC")
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for second, void in enumerate([*voids, set()]):
        for number, kind in enumerate(order):
            report = said(kind, float(second), valid=number not in void)
            given += hear(merger, float(second), report)
    assert times(given) in (
        [float(second) for second in range(len(voids))],
        [float(second) for second in range(len(voids) + 1)],
    )
    last_timed = max(number for number, kind in enumerate(order) if kind in TIMED)
    for second, (epoch, void) in enumerate(zip(given, voids, strict=False)):
        no_fix = any(order[number] in TIMED for number in void if number < len(order))
        if "GSA" in order:
            if second < 3:
                continue  # while it learns where epochs end, GSA may count for either neighbour
            at = order.index("GSA")
            # A GSA that comes after the end counts for the next epoch.
            no_fix |= at in (void if at < last_timed else voids[second - 1])
        assert isinstance(epoch, NoFix) is no_fix


@given(
    st.permutations(["RMC", "GGA", "GLL", "GNS"]),
    st.lists(st.sets(st.integers(0, 3), max_size=3), min_size=1, max_size=20),
)
def test_each_epoch_is_given_once_and_in_order_though_sentences_are_lost(
    order: list[str], losses: list[set[int]]
) -> None:
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for second, lost in enumerate([*losses, set()]):
        for number, kind in enumerate(order):
            if number not in lost:
                given += hear(merger, float(second), said(kind, float(second)))
    for second, epoch in enumerate(given):
        assert isinstance(epoch, Fix)
        assert epoch.tod_s == second
        assert epoch.lat_deg == 46.0 + 1e-4 * second
    assert len(given) in (len(losses), len(losses) + 1)


# -- the sentence that ends it -----------------------------------------------------------------


def test_an_epoch_whose_last_sentence_is_lost_is_given_when_the_next_begins() -> None:
    merger = EpochMerger("gps")
    for second in range(4):
        for kind in ("RMC", "GGA"):
            hear(merger, second, said(kind, float(second)))
    assert hear(merger, 4.0, said("RMC", 4.0)) == ()
    assert times(hear(merger, 5.0, said("RMC", 5.0))) == [4.0]
    assert times(hear(merger, 5.1, said("GGA", 5.0))) == [5.0]


def test_a_receiver_told_to_say_less_is_waited_for_only_twice() -> None:
    merger = EpochMerger("gps")
    for second in range(4):
        for kind in ("RMC", "GGA", "GLL"):
            hear(merger, second, said(kind, float(second)))
    given = [
        [times(hear(merger, second, said(kind, float(second)))) for kind in ("RMC", "GGA")]
        for second in range(4, 8)
    ]
    assert given == [[[], []], [[4.0], []], [[5.0], [6.0]], [[], [7.0]]]


def test_a_receiver_told_to_say_more_is_given_early_only_twice() -> None:
    """What comes late is not a second fix, and not lost: HDOP and speed serve the next."""
    merger = EpochMerger("gps")
    for second in range(4):
        hear(merger, second, said("RMC", float(second)))
    given = [
        [hear(merger, second, said(kind, float(second))) for kind in ("RMC", "GGA")]
        for second in range(4, 8)
    ]
    assert [[times(heard) for heard in epoch] for epoch in given] == [
        [[4.0], []],
        [[5.0], []],
        [[], [6.0]],
        [[], [7.0]],
    ]
    [early] = given[1][0]
    assert isinstance(early, Fix)
    assert (early.tod_s, early.hdop, early.satellites) == (5.0, 0.9, 9)


def test_the_speed_of_a_sentence_that_comes_late_serves_the_next() -> None:
    merger = EpochMerger("gps")
    for second in range(4):
        hear(merger, second, said("GGA", float(second)))
    for second in range(4, 6):
        [fix] = hear(merger, second, said("GGA", float(second)))
        assert isinstance(fix, Fix)
        assert fix.sog_mps == (None if second == 4 else 1.0 + 4)
        assert hear(merger, second, said("RMC", float(second))) == ()


def test_a_void_sentence_that_comes_late_leaves_the_next_alone() -> None:
    merger = EpochMerger("gps")
    for second in range(4):
        hear(merger, second, said("GGA", float(second)))
    for second in range(4, 6):
        assert [type(e) for e in hear(merger, second, said("GGA", float(second)))] == [Fix]
        assert hear(merger, second, said("RMC", float(second), valid=False)) == ()


def test_a_sentence_sent_only_now_and_then_does_not_delay_the_others() -> None:
    """GLL every fifth second, after the others."""
    merger = EpochMerger("gps")
    for second in range(20):
        order = ("RMC", "GGA", "GLL") if second % 5 == 4 else ("RMC", "GGA")
        given = [times(hear(merger, second, said(kind, float(second)))) for kind in order]
        if second > 2:
            assert given[:2] == [[], [second]]
            assert given[2:] in ([], [[]])


# -- echoes ------------------------------------------------------------------------------------


def test_the_same_said_for_each_satellite_system_is_one_epoch() -> None:
    """As a real receiver does: GPGGA, GAGGA, GNGNS, GPRMC, GARMC, each with the same position."""
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for second in range(6):
        for number, (talker, kind) in enumerate(
            [("GP", "GGA"), ("GA", "GGA"), ("GN", "GNS"), ("GP", "RMC"), ("GA", "RMC")]
        ):
            report = said(kind, float(second), talker=talker)
            assert isinstance(report, PositionReport)
            if talker == "GA" and kind == "GGA":
                report = evolve(report, satellites=1)
            given += merger.position(second + 0.02 * number, report)
    assert times(given) == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
    assert {epoch.satellites for epoch in given if isinstance(epoch, Fix)} == {9}


@pytest.mark.parametrize("wire", ["AABB", "ABAB"])
def test_a_wire_joined_twice_gives_each_epoch_once(wire: str) -> None:
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for second in range(8):
        for number, letter in enumerate(wire):
            kind = {"A": "RMC", "B": "GGA"}[letter]
            given += hear(merger, second + 0.05 * number, said(kind, float(second)))
    assert times(given) == [float(second) for second in range(8)]


def test_void_sentences_joined_twice_are_one_epoch_without_fix() -> None:
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for second in range(4):
        for number in range(2):
            given += hear(merger, second + 0.1 * number, said("RMC", float(second), valid=False))
    assert given == [NoFix("gps", float(second), float(second)) for second in range(4)]


def test_a_talker_without_fractions_of_a_second_gives_every_fix() -> None:
    """Five a second, the time in whole seconds; the boat moves on."""
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for count in range(25):
        report = said("RMC", float(count // 5))
        assert isinstance(report, PositionReport)
        given += merger.position(count / 5, evolve(report, lat_deg=46.0 + 1e-6 * count))
    latitudes = [epoch.lat_deg for epoch in given if isinstance(epoch, Fix)]
    assert latitudes == [46.0 + 1e-6 * count for count in range(25)]


def test_a_receiver_that_is_stuck_goes_on_giving_fixes() -> None:
    """The same sentence for ever: that it is stuck is for the watch to see, not silence."""
    merger = EpochMerger("gps")
    given = [epoch for second in range(6) for epoch in hear(merger, second, said("RMC", 7.0))]
    assert times(given) == [7.0] * 6


def test_the_same_time_with_another_verdict_is_no_echo() -> None:
    merger = EpochMerger("gps")
    assert hear(merger, 0.0, said("RMC", 1.0, valid=False)) == ()
    [first] = hear(merger, 0.1, evolve_position(said("RMC", 1.0), lat_deg=0.0, lon_deg=0.0))
    assert isinstance(first, NoFix)


def evolve_position(report: Observation, *, lat_deg: float, lon_deg: float) -> PositionReport:
    assert isinstance(report, PositionReport)
    return evolve(report, lat_deg=lat_deg, lon_deg=lon_deg)


# -- talkers and times -------------------------------------------------------------------------


def test_positions_without_a_time_are_epochs_of_their_own() -> None:
    merger = EpochMerger("gps")
    given = [times(hear(merger, s, said("GLL", None))) for s in range(4)]
    assert given == [[], [None], [None, None], [None]]


def test_positions_without_a_time_may_come_five_times_a_second_from_one_place() -> None:
    merger = EpochMerger("gps")
    given = [epoch for n in range(10) for epoch in hear(merger, n / 5, said("GLL", None))]
    assert len(given) == 10


def test_a_position_without_a_time_does_not_join_one_that_has_one() -> None:
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for second in range(1, 5):
        given += hear(merger, second, said("RMC", float(second)))
        given += hear(merger, second + 0.1, said("GLL", None))
    assert times(given) == [1.0, None, 2.0, None, 3.0, None, 4.0]


def test_midnight_is_one_more_time() -> None:
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for count, second in enumerate([86_398.0, 86_399.0, 0.0, 1.0]):
        for kind in ("RMC", "GGA"):
            given += hear(merger, count, said(kind, second))
    assert times(given) == [86_398.0, 86_399.0, 0.0, 1.0]


@pytest.mark.parametrize("talker", ["GP", "GN", "GL", "GA", "GB", "BD", "GQ", "GI"])
def test_satellite_talkers_are_one_receiver(talker: str) -> None:
    assert receiver_group(talker) == receiver_group("GP")


@pytest.mark.parametrize("talker", ["II", "IN", "HC", "AI", "EC", "SD"])
def test_each_other_talker_is_a_receiver_of_its_own(talker: str) -> None:
    assert receiver_group(talker) == talker


# -- what goes into the fix --------------------------------------------------------------------


def test_the_finest_position_is_taken() -> None:
    merger = EpochMerger("gps")
    coarse = evolve_position(said("RMC", 1.0), lat_deg=46.01, lon_deg=-31.01)
    fine = evolve_position(said("GGA", 1.0), lat_deg=46.012, lon_deg=-31.012)
    hear(merger, 0.0, evolve(coarse, quantum_m=18.5))
    hear(merger, 0.0, evolve(fine, quantum_m=0.185))
    hear(merger, 0.0, evolve(coarse, kind="GLL", quantum_m=1.85))
    [fix] = hear(merger, 1.0, said("RMC", 2.0))
    assert isinstance(fix, Fix)
    assert (fix.lat_deg, fix.lon_deg, fix.quantum_m) == (46.012, -31.012, 0.185)


@pytest.mark.parametrize("void_first", [True, False])
def test_one_sentence_that_says_no_fix_outweighs_the_others(void_first: bool) -> None:
    merger = EpochMerger("gps")
    for second in range(5):
        given = [
            *hear(merger, second, said("RMC", float(second), valid=not void_first)),
            *hear(merger, second, said("GGA", float(second), valid=void_first)),
        ]
        assert all(isinstance(epoch, NoFix) for epoch in given)
        assert times(given) == {0: [], 1: [0.0], 2: [1.0, 2.0]}.get(second, [second])


def test_a_void_epoch_leaves_nothing_to_the_next() -> None:
    merger = EpochMerger("gps")
    hear(merger, 0.0, said("RMC", 0.0, valid=False))
    hear(merger, 0.1, said("GGA", 0.0))
    [lost] = hear(merger, 1.0, evolve_position(said("GLL", 1.0), lat_deg=46.5, lon_deg=-31.2))
    assert isinstance(lost, NoFix)
    [fix] = hear(merger, 2.0, said("GLL", 2.0))
    assert fix == Fix("gps", 1.0, 1.0, 46.5, -31.2, 0.185, None, None, None, None)


def test_gsa_of_one_satellite_system_without_fix_does_not_veto_the_others() -> None:
    """A receiver says GSA for each system; one that has none in use says dimension 1."""
    for dimensions in ([3, 1], [1, 3], [2, 1, 1]):
        merger = EpochMerger("gps")
        hear(merger, 0.0, said("RMC", 0.0))
        for dimension in dimensions:
            merger.dilution(DilutionReport("GN", dimension, 1.5))
        [fix] = hear(merger, 1.0, said("RMC", 1.0))
        assert isinstance(fix, Fix)


def test_gsa_without_fix_vetoes_its_epoch_and_no_other() -> None:
    merger = EpochMerger("gps")
    hear(merger, 0.0, said("RMC", 0.0))
    hear(merger, 0.1, said("GSA", None, valid=False))
    [lost] = hear(merger, 1.0, said("RMC", 1.0))
    assert isinstance(lost, NoFix)
    found = hear(merger, 2.0, said("RMC", 2.0))
    assert [type(epoch) for epoch in found] == [Fix, Fix]


def test_the_hdop_of_gsa_serves_where_gga_has_none() -> None:
    merger = EpochMerger("gps")
    hear(merger, 0.0, said("RMC", 0.0))
    hear(merger, 0.1, said("GSA", None))
    [fix] = hear(merger, 1.0, said("RMC", 1.0))
    assert isinstance(fix, Fix)
    assert fix.hdop == 1.5
    [later, _again] = hear(merger, 2.0, said("RMC", 2.0))
    assert isinstance(later, Fix)
    assert later.hdop is None


def test_vtg_before_the_end_gives_the_speed_of_its_epoch_and_after_it_of_the_next() -> None:
    for order, behind in ((("VTG", "GGA"), 0.0), (("GGA", "VTG"), 1.0)):
        epochs = talk(order, range(10, 16))
        for epoch in epochs[3:]:
            assert isinstance(epoch, Fix)
            assert epoch.tod_s is not None
            assert epoch.sog_mps == 2.0 + epoch.tod_s - behind
            assert epoch.cog_deg == 20.0


def test_of_several_vtg_between_two_epochs_the_latest_counts() -> None:
    """Positions every five seconds, speed every second."""
    merger = EpochMerger("gps")
    given: list[Epoch] = []
    for second in range(31):
        if second % 5 == 0:
            given += hear(merger, second, said("GGA", float(second)))
        given += hear(merger, second + 0.5, said("VTG", float(second)))
    assert [epoch.sog_mps for epoch in given[3:] if isinstance(epoch, Fix)] == [
        2.0 + 14.0,
        2.0 + 19.0,
        2.0 + 24.0,
        2.0 + 29.0,
    ]


def test_vtg_of_a_receiver_without_fix_takes_no_speed_away() -> None:
    merger = EpochMerger("gps")
    hear(merger, 0.0, said("RMC", 5.0))
    hear(merger, 0.1, said("VTG", None, valid=False))
    [fix] = hear(merger, 1.0, said("RMC", 6.0))
    assert isinstance(fix, Fix)
    assert (fix.sog_mps, fix.cog_deg) == (6.0, 10.0)


# -- real recordings ---------------------------------------------------------------------------


def epochs_of(lines: Iterable[str]) -> tuple[list[Epoch], Decoder]:
    """All talkers as one receiver."""
    decoder, merger = Decoder(), EpochMerger("log")
    epochs: list[Epoch] = []
    for number, line in enumerate(lines):
        report = decoder.decode(line)
        if report is not None:
            epochs += hear(merger, 0.01 * number, report)
    return epochs, decoder


@pytest.mark.real
def test_three_hours_on_the_road_come_to_the_fixes_that_are_in_them(shared_real: Path) -> None:
    """A Garmin of 2005 (sample data of NmeaParser, Apache-2.0), every two seconds.

    Its description: 4469 fixes in 184 minutes, one gap of 21 minutes, all checksums good.
    """
    with gzip.open(shared_real / "garmin-road-3h-0.5hz.nmea.gz", "rt", encoding="latin-1") as log:
        lines = [line for line in log.read().split("\n") if line.strip()]
    epochs, decoder = epochs_of(lines)
    assert len(epochs) == 4469
    assert all(isinstance(epoch, Fix) for epoch in epochs)
    assert decoder.accepted == {"RMC": 4469, "GGA": 4469, "GSA": 4469, "GLL": 4469}
    # Four lines are remarks of the program that recorded it.
    assert decoder.rejected == {Reject.NO_START: 4}
    told = [epoch.tod_s for epoch in epochs if epoch.tod_s is not None]
    steps = [(later - earlier) % 86_400 for earlier, later in pairwise(told)]
    assert sum(steps) / 60 == pytest.approx(184, abs=0.5)
    assert [step for step in steps if step > 20 * 60] == [pytest.approx(21 * 60, abs=30)]
    assert steps.count(2.0) == 4465
    for epoch in epochs:
        assert isinstance(epoch, Fix)
        assert epoch.hdop is not None
        assert epoch.satellites is not None
        assert epoch.sog_mps is not None


@pytest.mark.real
def test_a_real_receiver_that_speaks_for_each_system_gives_one_fix_a_second(
    shared_real: Path,
) -> None:
    """Ten seconds of a receiver that says GGA and RMC twice (a regression log of gpsd)."""
    with tarfile.open(shared_real / "gpsd-nmea-logs.tar.gz") as tar:
        stream = tar.extractfile("telit-pls83-w.log")
        assert stream is not None
        text = stream.read().decode("latin-1")
    assert text.count("RMC,") == 20
    epochs, _decoder = epochs_of(re.split(r"[\r\n]+", text))
    assert times(epochs) == [16_539.0 + second for second in range(10)]
