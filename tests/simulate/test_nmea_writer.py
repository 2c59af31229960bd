"""Sentences, read back by pynmea2, an independent decoder."""

import datetime as dt
from typing import Any

import pynmea2
import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.simulate import nmea_writer as write

UTC = dt.datetime(2026, 6, 14, 23, 59, 58, 250_000, tzinfo=dt.UTC)
KNOT = 1852.0 / 3600.0
latitudes = st.floats(-90.0, 90.0)
longitudes = st.floats(-180.0, 179.999999)


def read(text: str) -> Any:
    """Decode, refusing a missing or wrong checksum and a line too long for the standard."""
    assert len(text) + 2 <= 82
    return pynmea2.parse(text, check=True)


@pytest.mark.parametrize(
    "text",
    [
        "$GPGLL,4916.45,N,12311.12,W,225444,A*31",
        "$GPHDT,123.456,T*32",
        "$GPZDA,172809.456,12,07,1996,00,00*57",
        "$GPRMC,092751.000,A,5321.6802,N,00630.3371,W,0.06,31.66,280511,,,A*45",
    ],
)
def test_the_checksum_is_that_of_published_sentences(text: str) -> None:
    """Sentences from the tests and pages of pynmea2, go-nmea and an Elixir nmea package."""
    body, _, _ = text[1:].partition("*")
    assert write.sentence(*body.split(",")) == text


@given(lat_deg=latitudes, lon_deg=longitudes, decimals=st.integers(1, 6))
def test_positions_come_back_to_half_of_the_last_decimal(
    lat_deg: float, lon_deg: float, decimals: int
) -> None:
    """In all three sentences that have one, with minutes below 60."""
    half = 0.5000001 * 10.0**-decimals / 60.0
    place: dict[str, Any] = {"utc": UTC, "lat_deg": lat_deg, "lon_deg": lon_deg}
    for text in (
        write.rmc(**place, sog_mps=0.5, cog_deg=10.0, decimals=decimals),
        write.gga(**place, satellites=8, hdop=1.0, decimals=decimals),
        write.gll(**place, decimals=decimals),
    ):
        message = read(text)
        assert message.latitude == pytest.approx(lat_deg, abs=half)
        assert message.longitude == pytest.approx(lon_deg, abs=half)
        assert float(message.lat[2:]) < 60.0
        assert float(message.lon[3:]) < 60.0
        assert message.timestamp.replace(tzinfo=None) == UTC.time()


@given(sog_mps=st.floats(0.0, 60.0), cog_deg=st.floats(0.0, 360.0))
def test_course_and_speed_come_back(sog_mps: float, cog_deg: float) -> None:
    """Knots to two decimals, true degrees to one, never 360.0."""
    rmc = read(write.rmc(utc=UTC, lat_deg=1.0, lon_deg=2.0, sog_mps=sog_mps, cog_deg=cog_deg))
    vtg = read(write.vtg(sog_mps=sog_mps, cog_deg=cog_deg))
    assert float(rmc.spd_over_grnd) * KNOT == pytest.approx(sog_mps, abs=0.003)
    assert float(vtg.spd_over_grnd_kmph) / 3.6 == pytest.approx(sog_mps, abs=0.003)
    for course in (rmc.true_course, float(vtg.true_track)):
        assert 0.0 <= course < 360.0
        assert min(abs(course - cog_deg), 360.0 - abs(course - cog_deg)) < 0.0501
    assert rmc.datestamp == UTC.date()


def test_without_a_fix_nothing_is_claimed() -> None:
    """RMC and GLL say V, GGA quality 0, GSA no fix; no position, speed or course."""
    place: dict[str, Any] = {"utc": UTC, "lat_deg": 1.0, "lon_deg": 2.0, "valid": False}
    rmc = read(write.rmc(**place, sog_mps=1.0, cog_deg=2.0))
    gga = read(write.gga(**place, satellites=2, hdop=99.9))
    gll = read(write.gll(**place))
    vtg = read(write.vtg(sog_mps=1.0, cog_deg=2.0, valid=False))
    gsa = read(write.gsa(satellites=2, hdop=99.9, valid=False))
    assert (rmc.status, gga.gps_qual, gll.status, gsa.mode_fix_type) == ("V", 0, "V", "1")
    assert (rmc.mode_indicator, gll.faa_mode, vtg.faa_mode) == ("N", "N", "N")
    assert {rmc.lat, rmc.lon, gga.lat, gga.lon, gll.lat, gll.lon} == {""}
    assert (rmc.spd_over_grnd, rmc.true_course, vtg.spd_over_grnd_kts) == (None, None, None)


def test_a_course_that_is_not_known_is_left_blank() -> None:
    """A receiver at rest has none."""
    rmc = read(write.rmc(utc=UTC, lat_deg=1.0, lon_deg=2.0, sog_mps=0.02, cog_deg=None))
    assert rmc.true_course is None
    assert rmc.status == "A"


@given(satellites=st.integers(0, 20), hdop=st.floats(0.5, 99.9))
def test_satellites_and_dilution_come_back(satellites: int, hdop: float) -> None:
    """GSA has room for twelve satellites."""
    gsa = read(write.gsa(satellites=satellites, hdop=hdop))
    gga = read(write.gga(utc=UTC, lat_deg=1.0, lon_deg=2.0, satellites=satellites, hdop=hdop))
    numbers = [getattr(gsa, f"sv_id{index:02d}") for index in range(1, 13)]
    assert sum(number != "" for number in numbers) == min(satellites, 12)
    assert float(gsa.hdop) == pytest.approx(hdop, abs=0.0501)
    assert float(gga.horizontal_dil) == pytest.approx(hdop, abs=0.0501)
    assert int(gga.num_sats) == satellites


@given(deg=st.floats(-360.0, 720.0), speed_mps=st.floats(0.0, 60.0))
def test_heading_and_wind_come_back(deg: float, speed_mps: float) -> None:
    """Each from its own talker; MWD says the same speed in knots and in metres a second."""
    hdt = read(write.hdt(heading_deg=deg))
    mwv = read(write.mwv(off_bow_deg=deg, speed_mps=speed_mps))
    mwd = read(write.mwd(from_deg=deg, speed_mps=speed_mps))
    assert (hdt.talker, mwv.talker, mwd.talker) == ("HC", "WI", "WI")
    for shown in (hdt.heading, mwv.wind_angle, mwd.direction_true):
        assert 0.0 <= float(shown) < 360.0
        assert abs((float(shown) - deg + 180.0) % 360.0 - 180.0) < 0.0501
    assert (mwv.reference, mwv.wind_speed_units, mwv.status) == ("R", "N", "A")
    assert float(mwv.wind_speed) * KNOT == pytest.approx(speed_mps, abs=0.026)
    assert float(mwd.wind_speed_meters) == pytest.approx(speed_mps, abs=0.0501)
    assert float(mwd.wind_speed_knots) * KNOT == pytest.approx(speed_mps, abs=0.026)


@given(depth_m=st.floats(0.0, 200.0), offset_m=st.floats(0.0, 2.0))
def test_depth_comes_back_with_the_way_to_the_waterline(depth_m: float, offset_m: float) -> None:
    """DPT: depth below the transducer, and a positive offset up to the water."""
    dpt = read(write.dpt(below_transducer_m=depth_m, transducer_below_water_m=offset_m))
    assert float(dpt.depth) == pytest.approx(depth_m, abs=0.0501)
    assert float(dpt.offset) == pytest.approx(offset_m, abs=0.0501)


def test_the_date_comes_back_from_zda() -> None:
    """UTC with no local zone."""
    zda = read(write.zda(utc=UTC))
    assert (zda.day, zda.month, zda.year) == (14, 6, 2026)
    assert zda.timestamp.replace(tzinfo=None) == UTC.time()
