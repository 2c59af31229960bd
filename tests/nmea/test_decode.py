"""Sentences into observations: published ones by the values their publishers give."""

import datetime as dt
from functools import reduce
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.nmea.decode import Decoder
from driftlead.nmea.observations import (
    CourseReport,
    DepthReport,
    DilutionReport,
    HeadingReport,
    North,
    Observation,
    PositionReport,
    TimeReport,
    WaterSpeedReport,
    WindReference,
    WindReport,
)
from driftlead.nmea.rejects import Reject
from driftlead.simulate import nmea_writer as writer

KNOT_MPS = 1852 / 3600
PLACE = "4630.1000,N,03112.2000,W"


def near(value: float, *, within: float | None = None) -> Any:
    """A number that is this one but for rounding."""
    return pytest.approx(value, abs=within)


def total(body: str) -> int:
    """The checksum by a plain loop."""
    return reduce(lambda sofar, char: sofar ^ ord(char), body, 0)


def sentence(body: str) -> str:
    """A sentence with its checksum."""
    return f"${body}*{total(body) & 0xFF:02X}"


def decoded(text: str) -> Observation:
    """The observation in a sentence that is good, and counted as such."""
    decoder = Decoder()
    observation = decoder.decode(text)
    assert observation is not None, (text, decoder.rejected, decoder.unsupported)
    assert counts(decoder) == (1, 0, 0)
    return observation


def counts(decoder: Decoder) -> tuple[int, int, int]:
    """How many lines were accepted, of no use, and rejected."""
    return (
        decoder.accepted.total(),
        decoder.unsupported.total(),
        decoder.rejected.total(),
    )


def rejected(text: str, *, require_checksum: bool = True) -> Reject:
    """The one reason under which a line is counted, and under nothing else."""
    decoder = Decoder(require_checksum=require_checksum)
    assert decoder.decode(text) is None
    assert counts(decoder) == (0, 0, 1), (text, decoder.accepted, decoder.unsupported)
    [reason] = decoder.rejected
    return reason


def position(text: str) -> PositionReport:
    report = decoded(text)
    assert isinstance(report, PositionReport)
    return report


def says_nothing(text: str) -> bool:
    """Whether a sentence is accepted, and has nothing to tell."""
    decoder = Decoder()
    return decoder.decode(text) is None and counts(decoder) == (1, 0, 0)


# -- published sentences -----------------------------------------------------------------------


def test_classic_gga() -> None:
    """Printed in every introduction (from memory): 48.1173 N, 11.516667 E."""
    report = position("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47")
    assert report.lat_deg == near(48.1173, within=1e-9)
    assert report.lon_deg == near(11.516667, within=1e-6)
    assert (report.kind, report.talker, report.usable) == ("GGA", "GP", True)
    assert report.tod_s == 12 * 3600 + 35 * 60 + 19
    assert (report.hdop, report.satellites) == (0.9, 8)
    assert report.quantum_m == near(1.852)
    assert (report.date, report.sog_mps, report.cog_deg) == (None, None, None)


def test_gga_of_the_southern_hemisphere() -> None:
    """A test of pynmea2 has it: 19 29.045 S, 24 10.506 E."""
    report = position("$GPGGA,184353.07,1929.045,S,02410.506,E,1,04,2.6,100.00,M,-33.9,M,,0000*6D")
    assert report.lat_deg == near(-19.4840833333, within=1e-9)
    assert report.lon_deg == near(24.1751, within=1e-9)
    assert report.tod_s == near(18 * 3600 + 43 * 60 + 53.07)
    assert (report.hdop, report.satellites) == (2.6, 4)


def test_classic_rmc_with_westerly_longitude_and_easterly_variation() -> None:
    """From memory: 49.274167 N, 123.185333 W, half a knot towards 054.7."""
    report = position("$GPRMC,225446,A,4916.45,N,12311.12,W,000.5,054.7,191194,020.3,E*68")
    assert report.lat_deg == near(49.274167, within=1e-6)
    assert report.lon_deg == near(-123.185333, within=1e-6)
    assert report.sog_mps == near(0.5 * KNOT_MPS)
    assert report.cog_deg == 54.7
    assert report.date == dt.date(1994, 11, 19)
    assert report.variation_deg == 20.3
    assert report.quantum_m == near(18.52)


def test_classic_rmc_with_westerly_variation() -> None:
    """From memory: 22.4 knots, variation 3.1 west."""
    report = position("$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A")
    assert report.sog_mps == near(22.4 * KNOT_MPS)
    assert report.cog_deg == 84.4
    assert report.variation_deg == -3.1
    assert report.date == dt.date(1994, 3, 23)


def test_rmc_of_a_real_receiver_at_rest() -> None:
    """README of the Elixir package nmea: a real 0.06 kn, mode A, no variation."""
    report = position("$GPRMC,092751.000,A,5321.6802,N,00630.3371,W,0.06,31.66,280511,,,A*45")
    assert report.usable
    assert report.lat_deg == near(53 + 21.6802 / 60, within=1e-9)
    assert report.lon_deg == near(-(6 + 30.3371 / 60), within=1e-9)
    assert report.sog_mps == near(0.06 * KNOT_MPS)
    assert report.quantum_m == near(0.1852)
    assert report.variation_deg is None
    assert (report.hdop, report.satellites) == (None, None)


@pytest.mark.parametrize(
    "text",
    ["$GPGLL,4916.45,N,12311.12,W,225444,A,*1D", "$GPGLL,4916.45,N,12311.12,W,225444,A*31"],
)
def test_gll_with_an_empty_mode_and_without_one(text: str) -> None:
    """Tests of pynmea2."""
    report = position(text)
    assert (report.kind, report.usable) == ("GLL", True)
    assert report.lat_deg == near(49.274167, within=1e-6)
    assert report.lon_deg == near(-123.185333, within=1e-6)
    assert report.tod_s == 22 * 3600 + 54 * 60 + 44


def test_classic_vtg() -> None:
    """From memory: 054.7 true, 5.5 kn, 10.2 km/h."""
    assert decoded("$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48") == CourseReport(
        "GP", near(5.5 * KNOT_MPS), 54.7
    )


def test_vtg_without_magnetic_course() -> None:
    """A test of pynmea2: 108.53 true, 0.04 kn."""
    assert decoded("$GPVTG,108.53,T,,M,0.04,N,0.07,K,A*31") == CourseReport(
        "GP", near(0.04 * KNOT_MPS), 108.53
    )


def test_gsa() -> None:
    """A test of pynmea2: a 3-D fix, HDOP 1.6."""
    assert decoded("$GPGSA,A,3,02,,,07,,09,24,26,,,,,1.6,1.6,1.0*3D") == DilutionReport(
        "GP", 3, 1.6
    )


def test_zda() -> None:
    """A test of go-nmea."""
    report = decoded("$GPZDA,172809.456,12,07,1996,00,00*57")
    assert isinstance(report, TimeReport)
    assert report.tod_s == near(17 * 3600 + 28 * 60 + 9.456)
    assert report.date == dt.date(1996, 7, 12)


def test_hdt() -> None:
    """A test of go-nmea."""
    assert decoded("$GPHDT,123.456,T*32") == HeadingReport("GP", 123.456, North.TRUE)


def test_hdg() -> None:
    """A test of go-nmea: sensor 98.3, deviation 0.1 E, variation 12.6 W; 98.4 magnetic."""
    report = decoded("$HCHDG,98.3,0.1,E,12.6,W*56")
    assert isinstance(report, HeadingReport)
    assert report.heading_deg == near(98.4)
    assert report.north is North.MAGNETIC
    assert report.variation_deg == -12.6


def test_dbt() -> None:
    """A test of go-nmea: 32.93 ft, 10.04 m, 5.42 fathoms."""
    assert decoded("$IIDBT,032.93,f,010.04,M,005.42,F*2C") == DepthReport("II", 10.04)


def test_dpt() -> None:
    """A test of go-nmea; its offset is to the waterline, being positive."""
    assert decoded("$SDDPT,0.5,0.5,*7B") == DepthReport("SD", 0.5, 0.5)


def test_mwv_in_knots() -> None:
    """A test of pynmea2: 271 degrees off the bow, 0.2 kn."""
    assert decoded("$IIMWV,271.0,R,000.2,N,A*3B") == WindReport(
        "II", near(0.2 * KNOT_MPS), 271.0, WindReference.APPARENT
    )


def test_mwv_in_kilometres_an_hour() -> None:
    """From memory: 214.8 degrees, 0.1 km/h."""
    assert decoded("$WIMWV,214.8,R,0.1,K,A*28") == WindReport(
        "WI", near(0.1 / 3.6), 214.8, WindReference.APPARENT
    )


def test_a_published_mwd_contradicts_itself() -> None:
    """A test of go-nmea says 12 kn and 40 m/s in one sentence: one of them is wrong."""
    assert rejected("$WIMWD,10.1,T,10.1,M,12,N,40,M*5D") is Reject.CONTRADICTING_UNITS


@pytest.mark.parametrize(
    "text",
    [
        "$AIALR,,006,V,V,AIS:general failure*1A",  # pynmea2
        "$RAALR,220516,001,A,A,Bilge pump alarm1*4c",  # go-nmea, with small letters in its sum
        "$VRACK,001*50",  # go-nmea
        "$VDALF,1,0,1,220516,B,A,S,SAL,001,1,2,0,My alarm*2c",  # go-nmea
        "!AIVDM,1,1,,B,177KQJ5000G?tO`K>RA1wUbN0TKH,0*5C",  # classic, from memory
        "!AIVDM,1,1,,A,15M67FC000G?ufbE`FepT@3n00Sa,0*5C",  # pyais; its checksum is wrong
        "$PGRME,15.0,M,45.0,M,25.0,M*1C",  # Garmin's own, from memory
    ],
)
def test_what_is_of_no_use_here_is_counted_and_passed_over(text: str) -> None:
    decoder = Decoder()
    assert decoder.decode(text) is None
    assert counts(decoder) == (0, 1, 0)


def test_what_is_of_no_use_is_counted_by_type() -> None:
    decoder = Decoder()
    for text in (
        sentence("GPGSV,1,1,00"),
        sentence("GLGSV,1,1,00"),
        sentence("GPXYZ,1"),
        sentence("PUBX,00"),
        sentence("PGRMC,A"),
        "!AIVDM,1,1,,B,177KQJ5000G?tO`K>RA1wUbN0TKH,0*5C",
    ):
        assert decoder.decode(text) is None
    assert decoder.unsupported == {"GSV": 2, "?": 1, "P": 2, "!": 1}
    assert counts(decoder) == (0, 6, 0)


def test_a_maker_s_own_sentence_is_not_taken_for_a_talker_s() -> None:
    """``$PGRMC`` is Garmin's own: P, then GRM for the maker; there is no talker PG."""
    decoder = Decoder()
    assert decoder.decode(sentence(f"PGRMC,120000,A,{PLACE},0.1,10,010126,,,A")) is None
    assert decoder.unsupported == {"P": 1}


# -- usable or not -----------------------------------------------------------------------------


@pytest.mark.parametrize("mode", ["A", "D", "R", "F", "P", ""])
def test_modes_of_a_satellite_fix(mode: str) -> None:
    assert position(sentence(f"GPRMC,120000,A,{PLACE},0.1,10,010126,,,{mode}")).usable
    assert position(sentence(f"GPGLL,{PLACE},120000,A,{mode}")).usable


@pytest.mark.parametrize("mode", ["N", "E", "M", "S"])
def test_modes_that_are_no_fix(mode: str) -> None:
    """None, estimated (dead reckoning), typed in by hand, simulated."""
    for text in (
        f"GPRMC,120000,A,{PLACE},0.1,10,010126,,,{mode}",
        f"GPGLL,{PLACE},120000,A,{mode}",
        f"GPGNS,120000,{PLACE},{mode},08,1.0,0,0,,",
    ):
        report = position(sentence(text))
        assert not report.usable
        assert (report.lat_deg, report.lon_deg, report.sog_mps) == (0.0, 0.0, None)
        assert report.tod_s == 43_200.0


@pytest.mark.parametrize("status", ["V", ""])
def test_a_void_status_is_no_fix_whatever_the_mode(status: str) -> None:
    report = position(sentence(f"GPRMC,120000,{status},{PLACE},0.1,10,010126,,,A"))
    assert not report.usable
    assert report.date == dt.date(2026, 1, 1)
    assert not position(sentence(f"GPGLL,{PLACE},120000,{status},A")).usable


def test_the_navigational_status_of_version_4_is_not_the_status() -> None:
    """Most receivers send V there: they do not judge whether it is safe to navigate."""
    assert position(sentence(f"GNRMC,120000,A,{PLACE},0.1,10,010126,,,A,V")).usable


def test_rmc_before_version_2_3_has_no_mode() -> None:
    assert position(sentence(f"GPRMC,120000,A,{PLACE},0.1,10,010126,,")).usable


@pytest.mark.parametrize("quality", ["1", "2", "3", "4", "5", "9"])
def test_qualities_of_a_fix(quality: str) -> None:
    report = position(sentence(f"GPGGA,120000,{PLACE},{quality},08,0.9,0,M,0,M,,"))
    assert report.usable
    assert report.lat_deg == near(46 + 30.1 / 60)


@pytest.mark.parametrize("quality", ["0", "6", "7", "8", ""])
def test_qualities_that_are_no_fix(quality: str) -> None:
    """None, estimated, typed in, simulated."""
    report = position(sentence(f"GPGGA,120000,{PLACE},{quality},08,0.9,0,M,0,M,,"))
    assert not report.usable
    assert (report.lat_deg, report.lon_deg) == (0.0, 0.0)


def test_a_receiver_without_fix_need_not_send_a_position() -> None:
    assert not position(sentence("GPRMC,120000.00,V,,,,,,,010126,,,N")).usable
    assert not position(sentence("GPRMC,,V,,,,,,,,,,N")).usable
    assert not position(sentence("GPGGA,,,,,,0,00,99.99,,,,,,")).usable
    assert not position(sentence("GPGLL,,,,,120000,V,N")).usable
    assert not position(sentence("GNGNS,120000,,,,,NN,00,,,,,")).usable


@pytest.mark.parametrize(("modes", "usable"), [("AN", True), ("NA", True), ("DD", True),
                                               ("NN", False), ("NE", False), ("", False),
                                               ("AAAAN", True), ("EA", True)])  # fmt: skip
def test_one_satellite_system_with_a_fix_is_enough(modes: str, usable: bool) -> None:
    report = position(sentence(f"GNGNS,120000,{PLACE},{modes},14,1.3,2.5,50.0,,"))
    assert report.usable is usable
    if usable:
        assert (report.hdop, report.satellites) == (1.3, 14)
        assert report.lat_deg == near(46 + 30.1 / 60)


def test_a_gll_that_vouches_for_nothing_is_no_fix() -> None:
    """Before version 2 GLL had neither time nor status (from memory)."""
    report = position(sentence(f"GPGLL,{PLACE}"))
    assert not report.usable
    assert report.tod_s is None


def test_vtg_of_a_receiver_without_fix_tells_no_speed() -> None:
    assert decoded(sentence("GPVTG,,T,,M,,N,,K,N")) == CourseReport("GP", None, None)
    assert decoded(sentence("GPVTG,10.0,T,,M,5.0,N,9.3,K,N")) == CourseReport("GP", None, None)


def test_a_course_is_left_out_at_rest() -> None:
    report = position(sentence(f"GPRMC,120000,A,{PLACE},0.01,,010126,,,A"))
    assert report.cog_deg is None
    assert report.sog_mps == near(0.01 * KNOT_MPS)


@pytest.mark.parametrize("variation", [",", "20.3,", "20.3,X", ",E"])
def test_a_variation_that_cannot_be_read_does_not_cost_the_position(variation: str) -> None:
    report = position(sentence(f"GPRMC,120000,A,{PLACE},0.1,10,010126,{variation},A"))
    assert report.usable
    assert report.variation_deg is None


# -- instruments -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("unit", "mps"), [("N", 1852 / 3600), ("M", 1.0), ("K", 1 / 3.6), ("S", 1609.344 / 3600)]
)
def test_wind_units(unit: str, mps: float) -> None:
    """Knots, metres a second, kilometres an hour, statute miles an hour."""
    report = decoded(sentence(f"WIMWV,045.0,T,10.0,{unit},A"))
    assert report == WindReport("WI", near(10 * mps), 45.0, WindReference.THEORETICAL)


@pytest.mark.parametrize(
    "text", ["WIMWV,045.0,R,10.0,N,V", "WIMWV,,R,10.0,N,A", "WIMWV,045.0,R,,N,A", "WIMWV,,,,,A"]
)
def test_a_wind_instrument_that_knows_nothing_says_nothing(text: str) -> None:
    assert says_nothing(sentence(text))


def test_mwd_prefers_metres_a_second_and_true_north() -> None:
    assert decoded(sentence("WIMWD,225.0,T,235.0,M,19.4,N,10.0,M")) == WindReport(
        "WI", 10.0, 225.0, WindReference.TRUE_NORTH
    )
    assert decoded(sentence("WIMWD,,T,235.0,M,19.4,N,,M")) == WindReport(
        "WI", near(19.4 * KNOT_MPS), 235.0, WindReference.MAGNETIC_NORTH
    )
    assert says_nothing(sentence("WIMWD,,T,,M,19.4,N,10.0,M"))
    assert says_nothing(sentence("WIMWD,225.0,T,235.0,M,,N,,M"))


def test_headings() -> None:
    assert decoded(sentence("HCHDM,238.5,M")) == HeadingReport("HC", 238.5, North.MAGNETIC)
    assert decoded(sentence("HETHS,012.3,A")) == HeadingReport("HE", 12.3, North.TRUE)
    assert decoded(sentence("HCHDG,359.5,1.0,E,,")) == HeadingReport(
        "HC", near(0.5), North.MAGNETIC
    )
    assert decoded(sentence("HCHDG,0.5,1.0,W,7.1,E")) == HeadingReport(
        "HC", near(359.5), North.MAGNETIC, 7.1
    )
    assert decoded(sentence("HCHDG,98.3,,,,")) == HeadingReport("HC", 98.3, North.MAGNETIC)


@pytest.mark.parametrize(
    "text",
    ["GPHDT,,T", "HCHDM,,M", "HCHDG,,,,,", "HETHS,,A", "HETHS,12.3,V", "HETHS,12.3,E",
     "HETHS,12.3,M", "HETHS,12.3,S", "SDDPT,,", "SDDPT,,0.5", "IIDBT,,f,,M,,F", "GPZDA,,,,,,"],
)  # fmt: skip
def test_an_instrument_that_knows_nothing_says_nothing(text: str) -> None:
    assert says_nothing(sentence(text))


def test_zda_may_know_the_time_before_the_date() -> None:
    assert decoded(sentence("GPZDA,172809.00,,,,00,00")) == TimeReport("GP", 62_889.0, None)


def test_depths() -> None:
    assert decoded(sentence("SDDPT,6.2,-1.4")) == DepthReport("SD", 6.2, -1.4)
    assert decoded(sentence("SDDPT,6.2")) == DepthReport("SD", 6.2, None)
    assert decoded(sentence("SDDPT,6.2,,")) == DepthReport("SD", 6.2, None)
    assert decoded(sentence("IIDBT,,f,10.0,M,,F")) == DepthReport("II", 10.0)
    assert decoded(sentence("IIDBT,20.0,f,,M,,F")) == DepthReport("II", near(6.096))
    assert decoded(sentence("IIDBT,,f,,M,5.0,F")) == DepthReport("II", near(9.144))


def test_speed_and_head_through_water() -> None:
    assert decoded(sentence("IIVHW,245.1,T,238.5,M,5.0,N,9.3,K")) == WaterSpeedReport(
        "II", near(5 * KNOT_MPS), HeadingReport("II", 245.1, North.TRUE)
    )
    assert decoded(sentence("IIVHW,,T,238.5,M,,N,,K")) == WaterSpeedReport(
        "II", None, HeadingReport("II", 238.5, North.MAGNETIC)
    )
    assert decoded(sentence("IIVHW,,,,,0.0,N,0.0,K")) == WaterSpeedReport("II", 0.0, None)


def test_gsa_without_fix() -> None:
    assert decoded(sentence("GPGSA,A,1,,,,,,,,,,,,,,,")) == DilutionReport("GP", 1, None)


def test_an_hdop_of_zero_is_no_hdop() -> None:
    """Some receivers send it for "not known"."""
    assert position(sentence(f"GPGGA,120000,{PLACE},1,08,0.0,0,M,0,M,,")).hdop is None
    assert position(sentence(f"GPGGA,120000,{PLACE},1,08,,0,M,0,M,,")).hdop is None
    assert position(sentence(f"GPGGA,120000,{PLACE},1,,0.9,0,M,0,M,,")).satellites is None


# -- what a writer writes ----------------------------------------------------------------------

ANY_TIME = st.datetimes(
    min_value=dt.datetime(1981, 1, 1),  # noqa: DTZ001  # made aware by the strategy
    max_value=dt.datetime(2079, 12, 31),  # noqa: DTZ001
    timezones=st.just(dt.UTC),
)
LATITUDES = st.floats(-89.9, 89.9)
LONGITUDES = st.floats(-179.9, 179.9)
SPEEDS = st.floats(0.0, 40.0)
COURSES = st.one_of(st.none(), st.floats(0.0, 359.9))
DECIMALS = st.integers(2, 6)


def seconds(utc: dt.datetime) -> float:
    """Seconds since midnight, cut to the hundredth as the writer does."""
    whole = utc.hour * 3600 + utc.minute * 60 + utc.second
    return whole + utc.microsecond // 10_000 / 100


@given(ANY_TIME, LATITUDES, LONGITUDES, SPEEDS, COURSES, DECIMALS)
def test_rmc_comes_back_as_written(
    utc: dt.datetime, lat_deg: float, lon_deg: float, sog: float, cog: float | None, decimals: int
) -> None:
    report = position(
        writer.rmc(utc=utc, lat_deg=lat_deg, lon_deg=lon_deg, sog_mps=sog, cog_deg=cog,
                   decimals=decimals)
    )  # fmt: skip
    half_step_deg = 0.51 * 10.0**-decimals / 60
    assert report.usable
    assert report.tod_s == near(seconds(utc), within=1e-6)
    assert report.date == utc.date()
    assert report.lat_deg == near(lat_deg, within=half_step_deg)
    assert report.lon_deg == near(lon_deg, within=half_step_deg)
    assert report.sog_mps == near(sog, within=0.0051 * KNOT_MPS)
    assert report.quantum_m == near(1852 * 10.0**-decimals)
    if cog is None:
        assert report.cog_deg is None
    else:
        assert report.cog_deg is not None
        assert abs((report.cog_deg - cog + 180) % 360 - 180) <= 0.051


@given(ANY_TIME, LATITUDES, LONGITUDES, st.integers(0, 40), st.floats(0.1, 99.0), DECIMALS)
def test_gga_and_gll_come_back_as_written(
    utc: dt.datetime, lat_deg: float, lon_deg: float, satellites: int, hdop: float, decimals: int
) -> None:
    half_step_deg = 0.51 * 10.0**-decimals / 60
    gga = position(
        writer.gga(utc=utc, lat_deg=lat_deg, lon_deg=lon_deg, satellites=satellites, hdop=hdop,
                   decimals=decimals)
    )  # fmt: skip
    gll = position(writer.gll(utc=utc, lat_deg=lat_deg, lon_deg=lon_deg, decimals=decimals))
    for report in (gga, gll):
        assert report.tod_s == near(seconds(utc), within=1e-6)
        assert report.lat_deg == near(lat_deg, within=half_step_deg)
        assert report.lon_deg == near(lon_deg, within=half_step_deg)
    assert gga.satellites == satellites
    assert gga.hdop == near(hdop, within=0.051)


@given(SPEEDS, COURSES)
def test_vtg_comes_back_as_written(sog: float, cog: float | None) -> None:
    report = decoded(writer.vtg(sog_mps=sog, cog_deg=cog))
    assert isinstance(report, CourseReport)
    assert report.sog_mps == near(sog, within=0.0051 * KNOT_MPS)
    assert (report.cog_deg is None) == (cog is None)


@given(st.floats(0.0, 359.9), st.floats(0.0, 50.0))
def test_wind_and_head_come_back_as_written(direction: float, speed: float) -> None:
    head = decoded(writer.hdt(heading_deg=direction))
    assert isinstance(head, HeadingReport)
    assert abs((head.heading_deg - direction + 180) % 360 - 180) <= 0.051
    apparent = decoded(writer.mwv(off_bow_deg=direction, speed_mps=speed))
    true = decoded(writer.mwd(from_deg=direction, speed_mps=speed))
    assert isinstance(apparent, WindReport)
    assert isinstance(true, WindReport)
    assert apparent.reference is WindReference.APPARENT
    assert true.reference is WindReference.TRUE_NORTH
    for wind in (apparent, true):
        assert wind.speed_mps == near(speed, within=0.051)
        assert abs((wind.direction_deg - direction + 180) % 360 - 180) <= 0.051


@given(st.floats(0.0, 500.0), st.floats(-3.0, 3.0))
def test_depth_comes_back_as_written(depth: float, offset: float) -> None:
    report = decoded(writer.dpt(below_transducer_m=depth, transducer_below_water_m=offset))
    assert isinstance(report, DepthReport)
    assert report.below_transducer_m == near(depth, within=0.051)
    assert report.offset_m == near(offset, within=0.051)


@given(st.integers(0, 40), st.floats(0.1, 99.0), st.booleans())
def test_gsa_comes_back_as_written(satellites: int, hdop: float, valid: bool) -> None:
    report = decoded(writer.gsa(satellites=satellites, hdop=hdop, valid=valid))
    assert report == DilutionReport("GP", 3 if valid else 1, near(hdop, within=0.051))


@given(ANY_TIME)
def test_zda_comes_back_as_written(utc: dt.datetime) -> None:
    report = decoded(writer.zda(utc=utc))
    assert report == TimeReport("GP", near(seconds(utc), within=1e-6), utc.date())
