"""Quantities and positions as people write them."""

import math
from collections.abc import Callable
from typing import TypeVar

import pytest
import scipy.constants
from hypothesis import given
from hypothesis import strategies as st

from driftlead import units
from driftlead.errors import UserInputError
from driftlead.geodesy.position import Position
from driftlead.units import (
    Printer,
    UnitSystem,
    WindUnit,
    compass_point,
    format_bearing,
    format_knots,
    format_length,
    format_position,
    format_speed,
    parse_duration_s,
    parse_length_m,
    parse_position,
    parse_rode_or_depth_m,
    parse_size_bytes,
    parse_speed_mps,
)

T = TypeVar("T")

PARSERS: list[Callable[[str], float]] = [
    parse_length_m,
    parse_rode_or_depth_m,
    parse_speed_mps,
    parse_duration_s,
    parse_size_bytes,
]


def _value_or_refusal(
    parse: Callable[[str], T], text: str
) -> tuple[T | None, UserInputError | None]:
    """Whichever of the two the parser gave."""
    try:
        return parse(text), None
    except UserInputError as error:
        return None, error


class TestDefinitions:
    """The factors are the published ones."""

    def test_foot_nautical_mile_and_knot_are_those_of_an_independent_library(self) -> None:
        """scipy.constants carries the international foot, the nautical mile and the knot."""
        assert scipy.constants.foot == pytest.approx(units.FOOT_M, rel=1e-15)
        assert scipy.constants.nautical_mile == units.NAUTICAL_MILE_M
        assert scipy.constants.knot == pytest.approx(units.KNOT_MPS, rel=1e-15)

    def test_factors_are_those_of_nist_sp_811(self) -> None:
        """NIST SP 811 (2008) B.8: foot 3.048 E-01, nautical mile 1.852 E+03, knot 5.144444 E-01.

        Its fathom, 1.828804, is on the US survey foot, given up at the end of 2022; on the
        international foot it is 6 x 0.3048. The two differ by two parts in a million.
        """
        assert units.FOOT_M == 0.3048
        assert units.NAUTICAL_MILE_M == 1852.0
        assert pytest.approx(0.5144444, abs=5e-8) == units.KNOT_MPS
        assert units.FATHOM_M == 1.8288
        assert pytest.approx(1.828804, rel=3e-6) == units.FATHOM_M

    def test_shackle_is_fifteen_fathoms_or_ninety_feet(self) -> None:
        """Common practice (some British chain is marked at 27.5 m instead)."""
        assert units.SHACKLE_M == 27.432
        assert parse_length_m("1 shackle") == parse_length_m("90ft") == parse_length_m("15fm")

    def test_binary_and_decimal_sizes_are_told_apart(self) -> None:
        """SI prefixes and those of IEC 80000-13, as scipy.constants has them."""
        assert parse_size_bytes("1MB") == scipy.constants.mega
        assert parse_size_bytes("1MiB") == scipy.constants.mebi
        assert parse_size_bytes("1GB") == scipy.constants.giga
        assert parse_size_bytes("1GiB") == scipy.constants.gibi


class TestQuantities:
    """Text with a unit becomes SI."""

    @pytest.mark.parametrize(
        ("text", "metres"),
        [
            ("30m", 30.0),
            ("30 m", 30.0),
            (" 30\tmetres ", 30.0),
            ("100ft", 30.48),
            ("100 FT", 30.48),
            ("5fm", 9.144),
            ("5 Fathoms", 9.144),
            ("2 shackles", 54.864),
            ("3 shots", 82.296),
            ("0.1nm", 185.2),
            ("0.1 NM", 185.2),
            ("1 nautical  mile", 1852.0),
            ("120cm", 1.2),
            ("8mm", 0.008),
            ("0m", 0.0),
            (".5m", 0.5),
        ],
    )
    def test_length_is_the_nearest_float_to_the_exact_value(self, text: str, metres: float) -> None:
        """No rounding beside the value: 100ft is 30.48 and not 30.480000000000004."""
        assert parse_length_m(text) == metres

    @pytest.mark.parametrize(
        ("text", "mps"),
        [("15kn", 7.716666666666667), ("8m/s", 8.0), ("8 M/S", 8.0), ("36 km/h", 10.0)],
    )
    def test_speed_is_read_in_knots_and_metres_a_second(self, text: str, mps: float) -> None:
        """15 kn = 15 * 1852 / 3600."""
        assert parse_speed_mps(text) == mps

    @pytest.mark.parametrize(
        ("text", "seconds"),
        [("30s", 30.0), ("5min", 300.0), ("2h", 7200.0), ("500ms", 0.5), ("1.5 Hours", 5400.0)],
    )
    def test_duration_is_read_from_milliseconds_to_days(self, text: str, seconds: float) -> None:
        """The units of a clock."""
        assert parse_duration_s(text) == seconds

    @pytest.mark.parametrize(
        ("text", "size"), [("2GB", 2 * 10**9), ("500 mb", 5 * 10**8), ("8MiB", 8 * 2**20)]
    )
    def test_size_is_whole_bytes(self, text: str, size: int) -> None:
        """A size is an int."""
        assert parse_size_bytes(text) == size
        assert isinstance(parse_size_bytes(text), int)

    @given(st.floats(min_value=0, max_value=1e7).map(lambda m: round(m, 6)))
    def test_any_length_in_metres_survives_being_written_down(self, m: float) -> None:
        """Six decimals are written and the same float comes back."""
        assert parse_length_m(f"{m:.6f} m") == m

    @given(st.integers(min_value=0, max_value=10**6))
    def test_feet_fathoms_and_shackles_agree_with_each_other(self, count: int) -> None:
        """Ninety feet are fifteen fathoms are a shackle, however many of them."""
        assert (
            parse_length_m(f"{90 * count}ft")
            == parse_length_m(f"{15 * count}fm")
            == parse_length_m(f"{count} shackles")
        )


class TestRefusals:
    """What cannot be used is refused, and the refusal shows how to write it."""

    def test_bare_number_is_refused_with_the_ways_to_write_it(self) -> None:
        """The message a skipper will see most often, word for word."""
        with pytest.raises(UserInputError) as caught:
            parse_length_m("30")
        assert str(caught.value) == "30 has no unit. Write 30m, 100ft or 5fm."

    @pytest.mark.parametrize("parse", PARSERS)
    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("12", "12 has no unit"),
            ("", "is empty"),
            (" \t ", "is empty"),
            ("-12s", "-12s is negative"),
            ("nan", "nan is not a finite"),
            ("-inf", "-inf is not a finite"),
            ("Infinity m", "Infinity m is not a finite"),
            ("12,5m", "12,5m has a comma"),
            ("1,000m", "1,000m has a comma"),
            ("12 parsec", "parsec in 12 parsec is not a unit of"),
            ("1e3m", "e3m in 1e3m is not a unit of"),
            ("1_000m", "_000m in 1_000m is not a unit of"),
            ("m", "m is not a"),
            ("--3m", "--3m is not a"),
            ("٣m", "٣m is not a"),
            ("9" * 70 + "m", "999... is not a"),
        ],
    )
    def test_unusable_text_is_refused_by_every_parser_and_named(
        self, parse: Callable[[str], float], text: str, says: str
    ) -> None:
        """Each says what is wrong in words of its own, and each has a remedy."""
        with pytest.raises(UserInputError) as caught:
            parse(text)
        assert says in caught.value.message
        assert caught.value.remedy

    @pytest.mark.parametrize(
        ("parse", "text", "remedy"),
        [
            (parse_length_m, "30M", "Write m for metres or nm for miles."),
            (parse_rode_or_depth_m, "30M", "Write m for metres or nm for miles."),
            (parse_duration_s, "5m", "Write min for minutes or s for seconds."),
        ],
    )
    def test_unit_that_means_two_things_is_refused(
        self, parse: Callable[[str], float], text: str, remedy: str
    ) -> None:
        """30M may be 30 miles on one chart and 30 metres in one head."""
        with pytest.raises(UserInputError) as caught:
            parse(text)
        assert "may mean" in caught.value.message
        assert caught.value.remedy == remedy

    @pytest.mark.parametrize("text", ["6mm", "6 MM", "6000mm"])
    def test_nobody_counts_rode_or_water_in_millimetres(self, text: str) -> None:
        """An m too many; the wire of a chain is measured so all the same."""
        with pytest.raises(UserInputError) as caught:
            parse_rode_or_depth_m(text)
        assert "mm" in caught.value.message.casefold()
        assert caught.value.remedy
        assert parse_rode_or_depth_m(text.casefold().replace("mm", "m")) >= 6.0
        assert parse_rode_or_depth_m("650cm") == parse_length_m("6500mm")

    @pytest.mark.parametrize("parse", PARSERS)
    @given(text=st.text() | st.from_regex(r"-?[0-9., ]*[a-zA-Z/ ]*", fullmatch=True))
    def test_any_text_gives_a_finite_value_or_a_one_line_refusal(
        self, parse: Callable[[str], float], text: str
    ) -> None:
        """Nothing else escapes."""
        value, refusal = _value_or_refusal(parse, text)
        if refusal is None:
            assert value is not None
            assert math.isfinite(value)
            assert value >= 0
        else:
            assert str(refusal).isprintable()
            assert refusal.remedy


# 30.74' = 30.74/60 = 0.512333... degrees, 14.07' = 0.2345 degrees; 44" = 0.7333', 4" = 0.0667'.
DM = Position(46.51233333333333, -31.2345)
DMS = Position(46.51222222222222, -31.234444444444446)


class TestPositions:
    """Positions in the ways skippers copy them."""

    @pytest.mark.parametrize(
        ("text", "position"),
        [
            ("46.5123,-31.2345", Position(46.5123, -31.2345)),
            (" 46.5123, -31.2345 ", Position(46.5123, -31.2345)),
            ("46.5123 -31.2345", Position(46.5123, -31.2345)),
            ("46.5123 \N{MINUS SIGN}31.2345", Position(46.5123, -31.2345)),
            ("46.5123N 31.2345W", Position(46.5123, -31.2345)),
            ("46.5123°N, 31.2345°W", Position(46.5123, -31.2345)),
            ("46°30.74'N 31°14.07'W", DM),
            ("46° 30.74' N, 31° 14.07' W", DM),
            ("46 30.740N 031 14.070W", DM),
            ("46 30.740 n 031 14.070 w", DM),
            ("N46°30.74' W31°14.07'", DM),
            ("N 46 30.74 W 31 14.07", DM),
            ("46\N{MASCULINE ORDINAL INDICATOR}30.74\N{PRIME}N 31°14.07\N{PRIME}W", DM),
            ("46°30'44\"N 31°14'04\"W", DMS),
            ("46 30 44N 31 14 04W", DMS),
            ("33°30.0'S 151°15.0'E", Position(-33.5, 151.25)),
            ("0.0,0.0", Position(0.0, 0.0)),
            ("90°N 180°W", Position(90.0, -180.0)),
        ],
    )
    def test_position_is_read_in_each_customary_form(self, text: str, position: Position) -> None:
        """Degrees with decimals, with minutes, with seconds; letters before or behind."""
        read = parse_position(text)
        assert read.lat_deg == pytest.approx(position.lat_deg, abs=1e-12)
        assert read.lon_deg == pytest.approx(position.lon_deg, abs=1e-12)

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("", "is empty"),
            ("home", "home is not a position"),
            ("46.5123", "46.5123 is not a position"),
            ("46,5123,-31,2345", "decimal comma"),
            ("46°30,74'N 31°14,07'W", "decimal comma"),
            ("46,51", "whole degrees, or has a decimal comma"),
            ("46,512", "whole degrees, or has a decimal comma"),
            ("46.5,31", "whole degrees, or has a decimal comma"),
            ("46.5,200", "a longitude beyond 180"),
            ("95.5,31", "a latitude beyond 90"),
            ("91.0,0.0", "latitude beyond 90"),
            ("45.0,180.5", "longitude beyond 180"),
            ("46°60.0'N 31°00.0'W", "60 or more minutes"),
            ("46.5°30'N 31°00.0'W", "decimals in a part"),
            ("31°14'W 46°30'N", "latitude (N or S) and then a longitude"),
            ("46°30'N 46°30'N", "latitude (N or S) and then a longitude"),
            ("-46°30'N 31°14'W", "is not a position"),
            ("46.5N" + " " * 3 + "31.2W" * 20, "is not a position"),
        ],
    )
    def test_unusable_position_is_refused_and_named(self, text: str, says: str) -> None:
        """Each refusal shows a form that works."""
        with pytest.raises(UserInputError) as caught:
            parse_position(text)
        assert says in caught.value.message
        assert caught.value.remedy

    @given(st.text() | st.text(alphabet="0123456789 .,°'\"NSEWnsew-", max_size=70))
    def test_any_text_gives_a_position_or_a_one_line_refusal(self, text: str) -> None:
        """Nothing else escapes."""
        _, refusal = _value_or_refusal(parse_position, text)
        if refusal is not None:
            assert str(refusal).isprintable()
            assert refusal.remedy

    @given(
        st.builds(
            Position,
            st.floats(min_value=-90, max_value=90),
            st.floats(min_value=-180, max_value=180, exclude_max=True),
        )
    )
    def test_formatted_position_reads_back_within_half_a_thousandth_of_a_minute(
        self, position: Position
    ) -> None:
        """Rounding is all that is lost: 0.0005' of latitude is 0.93 m."""
        read = parse_position(format_position(position))
        tolerance = 0.0005 / 60 + 1e-9
        assert read.lat_deg == pytest.approx(position.lat_deg, abs=tolerance)
        # 179.99999 E rounds to 180 E, which is 180 W.
        turn = (read.lon_deg - position.lon_deg + 180) % 360 - 180
        assert turn == pytest.approx(0, abs=tolerance)


class TestFormats:
    """SI becomes text for people."""

    def test_sixteen_points_follow_the_compass_rose(self) -> None:
        """Each point is 22.5 degrees wide and lies half on either side of its bearing.

        The rose is built by its own rule: between two points stands the nearer cardinal's letter
        before the quarter's name.
        """
        rose = []
        for first, quarter, last in (
            ("N", "NE", "E"),
            ("E", "SE", "S"),
            ("S", "SW", "W"),
            ("W", "NW", "N"),
        ):
            rose += [first, first + quarter, quarter, last + quarter]
        for index, point in enumerate(rose):
            for offset in (-11.2, 0.0, 11.2):
                assert compass_point(index * 22.5 + offset) == point

    @pytest.mark.parametrize(
        ("deg", "text"),
        [
            (131.0, "131° (SE)"),
            (7.4, "007° (N)"),
            (359.6, "000° (N)"),
            (-90.0, "270° (W)"),
            (720.0, "000° (N)"),
        ],
    )
    def test_bearing_has_three_figures_and_its_point(self, deg: float, text: str) -> None:
        """A bearing is never 360°."""
        assert format_bearing(deg) == text

    @pytest.mark.parametrize(
        ("m", "text"),
        [
            (0.0, "0.0 m"),
            (4.24, "4.2 m"),
            (9.94, "9.9 m"),
            (9.96, "10 m"),
            (31.4, "31 m"),
            (1851.0, "1851 m"),
            (2315.0, "1.25 nm"),
        ],
    )
    def test_length_is_as_fine_as_it_matters(self, m: float, text: str) -> None:
        """Decimetres near by, metres in the anchorage, miles beyond."""
        assert format_length(m) == text

    @pytest.mark.parametrize(
        ("mps", "text"),
        [
            (0.08, "0.08 m/s (0.2 kn)"),
            (0.996, "1.0 m/s (1.9 kn)"),
            (4.1155555, "4.1 m/s (8.0 kn)"),
        ],
    )
    def test_speed_is_in_metres_a_second_and_knots(self, mps: float, text: str) -> None:
        """A drag is slow, so slow speeds have two decimals."""
        assert format_speed(mps) == text

    @pytest.mark.parametrize(
        ("position", "text"),
        [
            (DM, "46°30.740'N 031°14.070'W"),
            (Position(-5.25, 7.5), "05°15.000'S 007°30.000'E"),
            (Position(46.9999999, -30.9999999), "47°00.000'N 031°00.000'W"),
            (Position(0.0, -180.0), "00°00.000'N 180°00.000'W"),
        ],
    )
    def test_position_is_in_degrees_and_minutes(self, position: Position, text: str) -> None:
        """Minutes that round up to sixty carry into the degrees."""
        assert format_position(position) == text

    @given(st.floats(min_value=0, max_value=1800))
    def test_formatted_length_reads_back_within_its_rounding(self, m: float) -> None:
        """What is shown can be typed in again."""
        assert parse_length_m(format_length(m)) == pytest.approx(m, abs=0.5)


@pytest.mark.parametrize(
    ("unit", "mps", "written"),
    [
        (WindUnit.KNOTS, 12.861, "25 kn"),
        (WindUnit.MPS, 12.861, "13 m/s"),
        (WindUnit.KNOTS, 0.0, "0 kn"),
        (WindUnit.MPS, 0.4, "0 m/s"),
    ],
)
def test_a_wind_is_written_in_whole_knots_or_metres_a_second(
    unit: WindUnit, mps: float, written: str
) -> None:
    """25 knots are 25 x 1852 m in an hour, 12.861 m/s."""
    assert Printer(UnitSystem.FEET, unit).wind(mps) == written


class TestPrinter:
    """One printout, one system of units."""

    @pytest.mark.parametrize(
        ("system", "short", "depth", "rode", "shackles", "force"),
        [
            (UnitSystem.METRIC, "1.8 m", "6.4 m", "41 m", "", "4.00 kN"),
            (UnitSystem.FEET, "6.0 ft", "21.0 ft", "135 ft", "", "900 lbf"),
            (UnitSystem.FATHOMS, "6.0 ft", "3.5 fm", "22.5 fm", " (1.5 shackles)", "900 lbf"),
        ],
    )
    def test_lengths_and_loads_are_written_in_its_units(
        self, system: UnitSystem, short: str, depth: str, rode: str, shackles: str, force: str
    ) -> None:
        """A fathom, 21 ft, a shackle and a half, and 900 lbf, which is 4.0 kN (NIST SP 811)."""
        printer = Printer(system)
        assert printer.short(units.FATHOM_M) == short
        assert printer.depth(3.5 * units.FATHOM_M) == depth
        assert printer.rode(1.5 * units.SHACKLE_M) == rode
        assert printer.shackles(1.5 * units.SHACKLE_M) == shackles
        assert printer.force(900 * units.POUND_FORCE_N) == force

    def test_the_pound_force_is_that_of_an_independent_library(self) -> None:
        """scipy.constants carries it."""
        assert pytest.approx(scipy.constants.pound_force, rel=1e-12) == units.POUND_FORCE_N

    def test_rode_is_counted_in_metres_feet_or_half_fathoms(self) -> None:
        steps = [Printer(system).rode_step_m for system in UnitSystem]
        assert steps == pytest.approx([1.0, 0.3048, 0.9144])

    def test_nothing_is_never_minus_nothing(self) -> None:
        assert Printer().short(-0.04) == "0.0 m"
        assert Printer(UnitSystem.FATHOMS).rode(5 * units.FATHOM_M) == "5 fm"

    def test_a_wind_is_in_whole_knots(self) -> None:
        assert format_knots(25 * units.KNOT_MPS) == "25 kn"
