"""What is made of a source's wire."""

import pytest

from driftlead.check.finding import Level
from driftlead.check.hearing import Hearing
from driftlead.check.sources import judge_source
from driftlead.simulate.nmea_writer import hdt, sentence
from driftlead.sources.base import SourceHealth
from driftlead.sources.settings import SerialSettings, TcpSettings

SERIAL = SerialSettings(name="gps", device="/dev/ttyUSB0", baud=9600)
OPEN = SourceHealth("gps", True, "Reading /dev/ttyUSB0 at 9600 baud.")


def heard(*lines: str, health: SourceHealth = OPEN) -> Hearing:
    """Make a hearing of these lines."""
    hearing = Hearing(health, require_checksum=True)
    for line in lines:
        hearing.take(line)
    return hearing


GOOD = hdt(heading_deg=90.0)


def test_a_wire_that_is_understood_is_ok_with_its_counts() -> None:
    """Told by kind, the commonest first."""
    hearing = heard(*[GOOD] * 3, sentence("GPZDA", "200000", "01", "07", "2026", "00", "00"))
    finding = judge_source(hearing, SERIAL, 10.0)
    assert (finding.level, finding.text) == (Level.OK, "4 lines in 10 s: HDT 3, ZDA 1.")


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("\x80\xfe\x00\xf8", "baud"),
        ("$HCHDT,90.0,T*00", "noisy"),
        ("$HCHDT,90.0,T", "require_checksum"),
        ("$HCHDT,900.0,T*11", "record"),
    ],
)
def test_a_wire_of_which_nothing_is_understood_fails_with_what_mends_it(
    line: str, remedy: str
) -> None:
    """The reason most lines were rejected for decides."""
    if line.startswith("$HCHDT,900"):
        line = sentence("HCHDT", "900.0", "T")
    finding = judge_source(heard(*[line] * 5), SERIAL, 10.0)
    assert finding.level is Level.FAIL
    assert remedy in finding.remedy


def test_a_wire_with_some_errors_wants_a_look() -> None:
    """One in ten is too many for a short wire."""
    finding = judge_source(heard(*[GOOD] * 9, "$HCHDT,90.0,T*00"), SERIAL, 10.0)
    assert finding.level is Level.LOOK
    assert "bad checksum 1" in finding.text
    assert "noisy" in finding.remedy


def test_a_talker_of_other_things_is_told_what_to_switch_on() -> None:
    """Sound sentences, but none of use."""
    finding = judge_source(heard(sentence("GPGSV", "1", "1", "00")), SERIAL, 10.0)
    assert finding.level is Level.FAIL
    assert "GSV 1" in finding.text
    assert "RMC" in finding.remedy


def test_silence_on_a_serial_port_hints_at_the_speed() -> None:
    """A wrong baud can be wholly silent."""
    finding = judge_source(heard(), SERIAL, 10.0)
    assert finding.level is Level.FAIL
    assert "9600" in finding.remedy


def test_silence_on_the_network_hints_at_the_network() -> None:
    """A baud means nothing there."""
    finding = judge_source(heard(), TcpSettings(name="gps", host="10.0.0.1"), 10.0)
    assert finding.level is Level.FAIL
    assert "network" in finding.remedy


def test_a_source_that_cannot_be_opened_fails_with_its_own_words() -> None:
    """They hold the remedy already."""
    health = SourceHealth("gps", False, "/dev/ttyUSB0 is not there. Plug it in.")
    finding = judge_source(heard(health=health), SERIAL, 10.0)
    assert (finding.level, finding.text) == (Level.FAIL, health.detail)
