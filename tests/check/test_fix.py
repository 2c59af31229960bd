"""What is made of the fix and the instruments."""

import datetime as dt
from pathlib import Path
from typing import Any

import pytest

from driftlead.check.finding import Finding, Level
from driftlead.check.fix import judge_fixes
from driftlead.check.hearing import Hearing
from driftlead.config.load import build_config
from driftlead.simulate.nmea_writer import dpt, gga, gsa, hdt, rmc
from driftlead.sources.base import SourceHealth

UTC = dt.datetime(2026, 7, 1, 20, 0, 0, tzinfo=dt.UTC)
PLACE: dict[str, Any] = {"lat_deg": 46.5, "lon_deg": -31.2}
CONFIG = build_config(
    {
        "boat": {"antenna_aft": "8m"},
        "source": [{"name": "gps", "kind": "udp"}],
        "journal": {"path": "journal.db"},
        "recording": {"directory": "nights"},
    },
    Path("driftlead.toml"),
)


def judged(*lines: str) -> dict[str, list[Finding]]:
    """Judge what one source said; the findings by what they are about."""
    hearing = Hearing(SourceHealth("gps", True, "Open."), require_checksum=True)
    for line in lines:
        hearing.take(line)
    findings: dict[str, list[Finding]] = {}
    for finding in judge_fixes([hearing], CONFIG):
        findings.setdefault(finding.what, []).append(finding)
    return findings


def good_rmc(**changes: Any) -> str:
    """A good RMC but for the changes."""
    return rmc(**{"utc": UTC, **PLACE, "sog_mps": 0.2, "cog_deg": 10.0, **changes})


def good_gga(**changes: Any) -> str:
    """A good GGA but for the changes."""
    return gga(**{"utc": UTC, **PLACE, "satellites": 11, "hdop": 0.9, **changes})


def test_a_good_fix_with_all_instruments_is_all_ok() -> None:
    """And shown with its figures."""
    found = judged(
        good_rmc(),
        good_gga(),
        hdt(heading_deg=10.0),
        dpt(below_transducer_m=5.0, transducer_below_water_m=0.4),
    )
    assert {finding.level for each in found.values() for finding in each} == {Level.OK}
    (fix,) = found["fix of gps"]
    assert fix.text == "46°30.000'N 031°12.000'W, HDOP 0.9, 11 satellites."


@pytest.mark.parametrize(
    ("line", "level", "words"),
    [
        (good_gga(hdop=9.0), Level.LOOK, "HDOP 9.0"),
        (good_gga(satellites=3), Level.LOOK, "3 satellites"),
        (good_gga(decimals=2), Level.FAIL, "would not show"),
        (good_gga(decimals=3), Level.LOOK, "1.9 m"),
        (good_gga(), Level.LOOK, "no speed"),
        (good_rmc(utc=UTC.replace(year=2006)), Level.LOOK, "2006-07-01"),
    ],
)
def test_every_weakness_of_a_fix_is_found(line: str, level: Level, words: str) -> None:
    """Two decimals of a minute are steps of 18.5 m (a minute is 1852 m), three 1.85 m."""
    found = judged(line)["fix of gps"]
    assert [finding for finding in found if finding.level is level and words in finding.text]


def test_a_receiver_without_a_fix_is_told_from_one_that_sends_none() -> None:
    """The antenna is to be moved in one case, the talker set in the other."""
    (no_fix,) = judged(good_rmc(valid=False), gsa(satellites=0, hdop=99.0, valid=False))["fix"]
    (no_talk,) = judged(hdt(heading_deg=10.0))["fix"]
    assert (no_fix.level, no_talk.level) == (Level.FAIL, Level.FAIL)
    assert "sky" in no_fix.remedy
    assert "RMC" in no_talk.remedy


def test_missing_instruments_want_a_look() -> None:
    """The watch can do without; the circle is wider then."""
    found = judged(good_rmc())
    assert found["heading"][0].level is Level.LOOK
    assert "8.0 m" in found["heading"][0].text
    assert found["depth"][0].level is Level.LOOK
