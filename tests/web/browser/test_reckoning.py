"""What the page reckons itself, against independent libraries: sun, plane, thinning, tone."""

import datetime as dt
import json
import math
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from astral import Observer
from astral.sun import elevation

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position
from driftlead.units import format_bearing, parse_position


def test_the_sun_stands_where_astral_has_it(run: Callable[..., Any]) -> None:
    """Within 0.05 degree, over the seasons, the hours and both hemispheres (astral 3)."""
    places = ((46.5, -31.2), (-41.3, 174.8), (0.0, 0.0), (60.0, 25.0), (37.0, -122.0))
    moments = [
        dt.datetime(2026, month, 17, hour, 20, tzinfo=dt.UTC)
        for month in (1, 3, 6, 9, 12)
        for hour in range(0, 24, 3)
    ]
    cases = [(at, *place) for at in moments for place in places]
    found = run(
        "sun.js",
        "(cases) => cases.map(([ms, lat, lon]) => m.sunElevationDeg(new Date(ms), lat, lon))",
        [(at.timestamp() * 1000, lat, lon) for at, lat, lon in cases],
    )
    wanted = [elevation(Observer(lat, lon), at, with_refraction=False) for at, lat, lon in cases]
    assert np.abs(np.array(found) - np.array(wanted)).max() < 0.05


def test_the_plane_agrees_with_the_daemons(run: Callable[..., Any]) -> None:
    """A decimetre at a kilometre, and back again to a millimetre, antimeridian included."""
    for lat, lon in ((46.5012, -31.2034), (-17.7, 179.9995), (70.0, 25.0), (0.0, 0.0)):
        plane = LocalPlane(Position(lat, lon))
        offsets = [
            (r * math.sin(a), r * math.cos(a)) for r in (5.0, 100.0, 1000.0) for a in range(8)
        ]
        degrees = [plane.to_lat_lon(*offset) for offset in offsets]
        there = run(
            "plane.js",
            "(o, all) => all.map(([lat, lon]) => Object.values(new m.Plane(o).toPlane(lat, lon)))",
            {"lat": lat, "lon": lon},
            degrees,
        )
        assert np.abs(np.array(there) - np.array(offsets)).max() < 0.1, (lat, lon)
        back = run(
            "plane.js",
            "(o, all) => { const p = new m.Plane(o); return all.map(([e, n]) => {"
            " const d = p.toLatLon(e, n); return Object.values(p.toPlane(d.lat, d.lon)); }); }",
            {"lat": lat, "lon": lon},
            offsets,
        )
        assert np.abs(np.array(back) - np.array(offsets)).max() < 0.001


def test_thinning_loses_no_gust(run: Callable[..., Any]) -> None:
    """Each pixel keeps the least and the greatest of its values (numpy), and gaps stay gaps."""
    times = [float(each) for each in range(0, 5000, 5)]
    values = [round(7 + 3 * math.sin(t / 90) + (9 if t == 2345 else 0), 3) for t in times]
    known = [None if 3000 <= t < 3500 else v for t, v in zip(times, values, strict=True)]
    found = run(
        "decimate.js",
        "(t, v, n) => { const nan = v.map(x => x ?? NaN);"
        " const d = m.decimate(t, nan, t.length, 0, 5000, n);"
        " return [[...d.low], [...d.high]].map(c => c.map(x => Number.isNaN(x) ? null : x)); }",
        times,
        known,
        50,
    )
    column = np.array([np.nan if v is None else v for v in known]).reshape(50, -1)
    gap = np.isnan(column).any(axis=1)
    wanted_low = np.nanmin(column[~gap], axis=1)
    wanted_high = np.nanmax(column[~gap], axis=1)
    low = np.array([np.nan if v is None else v for v in found[0]])
    high = np.array([np.nan if v is None else v for v in found[1]])
    assert np.isnan(low[gap]).all()
    assert np.array_equal(low[~gap], wanted_low)
    assert np.array_equal(high[~gap], wanted_high)
    assert np.nanmax(high) == pytest.approx(max(values))


def test_the_alarm_is_520_hz_and_is_taken_for_no_other(run: Callable[..., Any]) -> None:
    """The strongest tone (numpy's FFT) is within 10 % of 520 Hz, and it is a square wave.

    NFPA 72, 18.4.5.3, gives tone and tolerance. Neither three equal pulses and a pause (ISO 8201)
    nor four short ones (carbon monoxide) may come out.
    """
    rate_hz = 8000
    for name in ("alarm", "warning", "lost"):
        samples = np.array(run("sound.js", f"(r) => [...m.cycle(m.RHYTHMS.{name}, r)]", rate_hz))
        spectrum = np.abs(np.fft.rfft(samples))
        hz = np.fft.rfftfreq(len(samples), 1 / rate_hz)
        tone_hz = hz[spectrum.argmax()]
        assert 468 < tone_hz < 572
        third = spectrum[np.abs(hz - 3 * tone_hz) < 12].max()
        # The third harmonic of a square wave has a third of the amplitude of the first.
        assert third / spectrum.max() == pytest.approx(1 / 3, rel=0.15)
        lengths = json.loads(json.dumps(run("sound.js", f"() => m.RHYTHMS.{name}")))
        pulses = [on for on, _ in lengths]
        assert len(pulses) not in (3, 4) or len(set(pulses)) > 1
    assert run("sound.js", "() => m.RHYTHMS.alarm") == [[0.2, 0.15], [0.2, 0.15], [0.9, 0.4]]


def test_old_messages_that_waited_are_not_taken_for_news(run: Callable[..., Any]) -> None:
    """A device that slept an hour finds them in its socket; only what is new counts.

    A clock that goes wrong by 0.5 in a thousand all night does not count as delay.
    """
    heard = run(
        "link.js",
        """() => {
          const [clock, began] = [Date.now, Date.now()];
          let local = began;
          Date.now = () => local;
          const source = new EventTarget();
          source.close = () => {};
          const heard = [];
          const hear = { now: (d) => heard.push(d.run_s), opened() {}, lost() {}, found() {} };
          const link = new m.Link({ open: () => source, lastId: () => null, hear });
          link.restart();
          const say = (run_s, after) => {
            local = began + after * 1000;
            source.dispatchEvent(new MessageEvent("now", { data: JSON.stringify({ run_s }) }));
          };
          say(100, 0);
          for (const s of [101, 102, 103]) say(s, 3600 + s / 1000);
          say(3700, 3601);
          const slept = heard.length;
          for (let s = 1; s <= 36000; s += 1) say(3700 + s, 3601 + s * 1.0005);
          Date.now = clock;
          return [heard.slice(0, slept), heard.length - slept];
        }""",
    )
    assert heard == [[100, 3700], 36000]


def test_lengths_are_read_as_people_write_them(run: Callable[..., Any]) -> None:
    """As ``driftlead.units`` reads them, but that a bare number is in the chosen unit."""
    cases = {"35": 35, "35 m": 35, "100ft": 30.48, "5 fm": 9.144, "1.5 shackles": 41.148}
    found = run("units.js", "(all) => all.map(t => m.readLength(t, 'm'))", list(cases))
    assert found == pytest.approx(list(cases.values()))
    wrong = run(
        "units.js",
        "(all) => all.map(t => Number.isNaN(m.readLength(t, 'm')))",
        ["35,5", "-3", "much", "3 miles", "1e3", "35 m m"],
    )
    assert wrong == [True] * 6
    assert run("units.js", "() => m.readLength('  ', 'm')") is None


def test_high_and_low_waters_without_dates_are_those_around_now(run: Callable[..., Any]) -> None:
    """The first is the last before now, at most a day ago; each other the next of its time."""
    now = dt.datetime(2026, 6, 14, 19, 20, tzinfo=dt.UTC)
    code = "(text, ms) => m.readTurns(text, new Date(ms))"
    for hour in range(0, 24, 5):
        at = now + dt.timedelta(hours=hour)
        text = "18:20 0.9\n\n 00:35 4.1 m\n6:50 1\n13:05 -0.4"
        turns = run("tides.js", code, text, at.timestamp() * 1000)
        times = [dt.datetime.fromisoformat(turn["t"]) for turn in turns]
        assert [turn["height_m"] for turn in turns] == [0.9, 4.1, 1.0, -0.4]
        assert dt.timedelta() <= at - times[0] < dt.timedelta(days=1)
        # 6 h 15 min from turn to turn, whatever the zone of the device.
        apart = {(after - before).total_seconds() for before, after in pairwise(times)}
        assert apart == {6.25 * 3600}
    assert run("tides.js", code, " \n", 0.0) is None


def test_bearings_are_rounded_as_the_daemon_does(run: Callable[..., Any]) -> None:
    """The same figure and point on the page as in the daemon's words (units.format_bearing).

    Halves are where it matters: of degrees, and of the sixteen points.
    """
    halves = [n / 2 for n in range(-4, 724)]
    points = [11.25 * n for n in range(33)]
    cases = [*halves, *points, 359.501, 359.499, 194.4996, 194.5004]
    found = run("units.js", "(all) => all.map(deg => m.bearing(deg))", cases)
    wanted = [format_bearing(deg).replace("(", "").replace(")", "") for deg in cases]
    assert found == wanted
    assert run("units.js", "() => m.bearing(194.5)") == "194\N{DEGREE SIGN} SSW"


def test_places_are_read_as_the_daemon_reads_them(run: Callable[..., Any]) -> None:
    """Where ``units.parse_position`` refuses, the page does."""
    cases = (
        *(
            "46.5012, -31.2034",
            "46.5012 -31.2034",
            "-46.5012,31.2034",
            "46\u00b030.072'N 031\u00b012.204'W",
        ),
        *(
            "46 30.072N 031 12.204W",
            "N46\u00b030'04\" W31\u00b012'12\"",
            "46\u00b030\u203204\u2033S, 031\u00b012\u203212\u2033E",
        ),
        *("46.5N 31.2W", "N 46.5, W 31.2", "90.0, 179.5", "\u221246.5, 31.2"),
        *(
            "46, -31",
            "46,5 31,2",
            "46.5",
            "31.2W 46.5N",
            "91.0, 0.0",
            "0.0, 181.0",
            "46 60.1N 31 0W",
        ),
        *("46.5 30N 31 0W", "46,5N 31,2W", "x", "46.5, -31.2, 4.0", "46 1 2 3N 31W", "N W"),
    )
    found = run("units.js", "(all) => all.map(text => m.readPosition(text) ?? null)", list(cases))
    for text, place in zip(cases, found, strict=True):
        try:
            wanted = parse_position(text)
        except UserInputError:
            assert place is None, text
        else:
            assert place is not None, text
            assert (place["lat"], place["lon"]) == pytest.approx(
                (wanted.lat_deg, wanted.lon_deg), abs=1e-9
            ), text
    assert run("units.js", "() => m.readPosition('  ') === null")
    assert run("units.js", "() => m.readPosition('x') === undefined")


def test_a_time_of_the_clock_is_the_next_such(run: Callable[..., Any]) -> None:
    now = dt.datetime(2026, 6, 14, 19, 20, 30, tzinfo=dt.UTC)
    for minutes in range(0, 1440, 7):
        text = f"{minutes // 60:02d}:{minutes % 60:02d}"
        iso = run(
            "tides.js",
            "(text, ms) => m.nextTime(text, new Date(ms)).toISOString()",
            text,
            now.timestamp() * 1000,
        )
        ahead = dt.datetime.fromisoformat(iso) - now
        assert dt.timedelta() <= ahead < dt.timedelta(days=1)
