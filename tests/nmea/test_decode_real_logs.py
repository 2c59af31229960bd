"""Logs of 79 real receivers (regression logs of gpsd, BSD-2-Clause), beside three other readers.

These are a plain count of the lines, the list that came with the logs, and pynmea2.
"""

import csv
import math
import re
import tarfile
from collections import Counter
from collections.abc import Iterator
from functools import reduce
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Any

import pynmea2
import pytest

from driftlead.core.core import Core
from driftlead.core.inputs import LetGo
from driftlead.core.settings import CoreSettings
from driftlead.lines import StampedLine
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
    WindReport,
)
from driftlead.nmea.rejects import Reject

pytestmark = pytest.mark.real

KNOT_MPS = 1852 / 3600
LONGEST = 120
OURS = frozenset(
    ["RMC", "GGA", "GLL", "GNS", "VTG", "ZDA", "GSA", "HDT", "HDG", "HDM", "THS", "MWV", "MWD",
     "DPT", "DBT", "VHW"]
)  # fmt: skip
"""The sentence types that are of use."""

VALUE_REJECTS: dict[str, dict[str, int]] = {
    # GLL with N for a status, where the standard has A and V
    "eXplorist110.log": {"unknown_code": 11},
    # "$GPGSA,A,1,,,,*32"
    "iTrek.log": {"too_few_fields": 1},
}
"""Sound sentences that real receivers fill wrongly, found by reading the logs."""


@pytest.fixture(scope="module")
def archive(shared_real: Path) -> dict[str, bytes]:
    """Every file of the archive by its name."""
    with tarfile.open(shared_real / "gpsd-nmea-logs.tar.gz") as tar:
        found = {}
        for member in tar:
            stream = tar.extractfile(member)
            if stream is not None:
                found[member.name.removeprefix("./")] = stream.read()
        return found


@pytest.fixture(scope="module")
def logs(archive: dict[str, bytes]) -> dict[str, list[str]]:
    """The lines of every log, cut at any line end."""
    return {
        name: [line.decode("latin-1") for line in re.split(rb"[\r\n]+", data) if line]
        for name, data in archive.items()
        if name.endswith(".log")
    }


def plain_verdict(line: str) -> str:
    """What a line is, by nothing but regular expressions and a loop of XOR."""
    if "$" not in line:
        return "encapsulated" if "!" in line else "no_start"
    if line.startswith("\\"):
        return "tagged"
    last = re.search(r"\$[^$]*$", line)
    assert last is not None
    text = last[0]
    if len(text) > LONGEST:
        return "too_long"
    proved = re.match(r"\$(.*)\*([0-9A-Fa-f]{2})\s*$", text, re.DOTALL)
    if proved is None:
        return "bad_checksum" if "*" in text else "no_checksum"
    if reduce(lambda total, char: total ^ ord(char), proved[1], 0) != int(proved[2], 16):
        return "bad_checksum"
    address = proved[1].split(",")[0]
    if not re.fullmatch(r"[0-9A-Z]{5}|P[0-9A-Z]*", address):
        return "bad_address"
    if address.startswith("P") or address[2:] not in OURS:
        return "of_no_use"
    return address[2:]


def plain_counts(lines: list[str]) -> Counter[str]:
    return Counter(map(plain_verdict, lines))


def our_counts(name: str, lines: list[str]) -> Counter[str]:
    """The decoder's counters in the words of the plain count."""
    decoder = Decoder()
    for line in lines:
        decoder.decode(line)
    counts: Counter[str] = Counter(decoder.accepted)
    counts["encapsulated"] = decoder.unsupported.pop("!", 0)
    counts["of_no_use"] = decoder.unsupported.total()
    counts.update({reason.value: count for reason, count in decoder.rejected.items()})
    for reason, count in VALUE_REJECTS.get(name, {}).items():
        assert counts.pop(reason) == count
    return +counts


def test_there_are_79_logs(logs: dict[str, list[str]]) -> None:
    assert len(logs) == 79
    assert sum(map(len, logs.values())) > 20_000


def test_every_line_of_every_log_is_counted_as_a_plain_count_has_it(
    logs: dict[str, list[str]],
) -> None:
    """By reason, and by sentence type, in all 79."""
    expected = {}
    for name, lines in logs.items():
        counts = plain_counts(lines)
        if name == "eXplorist110.log":
            counts["GLL"] -= 11
        if name == "iTrek.log":
            counts["GSA"] -= 1
        if name == "ublox-zed-f9r.log":
            # Binary that happens to begin as a TAG block does.
            counts["bad_tag_block"] = counts.pop("tagged")
        expected[name] = +counts
    assert {name: our_counts(name, lines) for name, lines in logs.items()} == expected


LITERAL: dict[str, tuple[int, int, dict[str, int]]] = {
    "blumax-gps009.log": (35, 24, {"no_start": 15, "bad_address": 8}),
    "bn-9015.log": (40, 30, {"no_start": 13}),
    "bundg_zeus_9.log": (3231, 1768, {"no_start": 10}),
    "gp-320fw-2019-04-07-coldboot.log": (
        64,
        28,
        {"no_start": 20, "no_checksum": 6, "bad_checksum": 36},
    ),
    "firefly-II.log": (46, 0, {"no_start": 5, "bad_checksum": 23}),
    "sounder.log": (244, 0, {"no_start": 4}),
    "telit-he910.log": (1120, 438, {"no_start": 10}),
    "iTrek.log": (91, 13, {"no_start": 12, "too_few_fields": 1}),
    "mtk-3301.log": (36, 9, {"no_start": 18, "no_checksum": 4, "too_long": 11}),
    "hp58534a.log": (0, 0, {"no_start": 8, "no_checksum": 13}),
    "humminbird-M37.log": (82, 16, {"no_start": 11}),
    "ais-nmea.log": (821, 675, {"no_start": 4}),
    "rgm3800.log": (12, 12, {"no_start": 17, "no_checksum": 1, "bad_address": 4}),
    "ublox-lea-5h.log": (91, 73, {"no_start": 12}),
}
"""Accepted, of no use, rejected by reason: counted once with a script of its own and grep."""


@pytest.mark.parametrize("name", LITERAL)
def test_these_logs_come_to_these_numbers(logs: dict[str, list[str]], name: str) -> None:
    decoder = Decoder()
    for line in logs[name]:
        decoder.decode(line)
    rejected = {reason.value: count for reason, count in decoder.rejected.items()}
    assert (decoder.accepted.total(), decoder.unsupported.total(), rejected) == LITERAL[name]


# -- the list that came with the logs ----------------------------------------------------------


@pytest.fixture(scope="module")
def manifest(archive: dict[str, bytes]) -> dict[str, tuple[dict[str, int], str]]:
    """For each log the counts of bad lines, and the summary of its positions."""
    rows = csv.reader(archive["MANIFEST.tsv"].decode().splitlines()[1:], delimiter="\t")
    found = {}
    for name, _bytes, _talkers, bad, *summary in rows:
        counts = {key: int(count) for key, count in re.findall(r"(\w+)=(\d+)", bad)}
        found[name] = (counts, summary[0] if summary else "")
    return found


COUNTED_OTHERWISE = {
    "gga_nofix": {
        # The list knows quality 0 only: these have 6 (estimated) and 8 (simulated).
        "garmin-10x.log",
        "garmin-geko201.log",
        # Cut off within the sentence, or in pieces: the list counts what looks like a GGA.
        "holux-gm-210.log",
        "gp-320fw-2019-04-07-coldboot.log",
    },
    "rmc_void": {"gp-320fw-2019-04-07-coldboot.log"},
    # Two sentences run into one: the list reads the first, the decoder the last.
    "bad_checksum": {"isync.log"},
    "no_checksum": set(),
}
STAR_WITHOUT_TWO_DIGITS = {"garmin48.log", "garmin-geko201.log"}
"""``*7`` and ``*`` at the end: no checksum for the list, a bad one for the decoder."""
BINARY = {"quectel-l76k-dual.log", "ublox-zed-f9r.log", "ublox-zed-f9t-ubx_nmea_l5.log"}
"""Half the bytes are not NMEA; where a line begins is anybody's choice."""


def test_bad_lines_are_as_many_as_the_list_says(
    logs: dict[str, list[str]], manifest: dict[str, tuple[dict[str, int], str]]
) -> None:
    ours: dict[tuple[str, str], int] = {}
    theirs: dict[tuple[str, str], int] = {}
    for name, lines in logs.items():
        decoder = Decoder()
        void: Counter[str] = Counter()
        for line in lines:
            report = decoder.decode(line)
            if isinstance(report, PositionReport) and not report.usable:
                void[report.kind] += 1
        found = {"gga_nofix": void["GGA"], "rmc_void": void["RMC"]}
        if name not in BINARY:
            found["bad_checksum"] = decoder.rejected[Reject.BAD_CHECKSUM]
            found["no_checksum"] = decoder.rejected[Reject.NO_CHECKSUM]
        if name in STAR_WITHOUT_TWO_DIGITS:
            found["no_checksum"] += found.pop("bad_checksum")
        if name == "garmin48.log":
            found["no_checksum"] += 1  # its header, which quotes a sentence, has a dollar
        for key, count in found.items():
            if name not in COUNTED_OTHERWISE[key]:
                ours[name, key] = count
                theirs[name, key] = manifest[name][0].get(key, 0)
    assert ours == theirs
    assert sum(theirs.values()) > 700


POSITIONS = re.compile(r"fix (\d+) dur (\d+)s dt ([\d.]+) r95 ([\d.]+) max ([\d.]+)")


def test_positions_are_those_the_list_says(
    logs: dict[str, list[str]], manifest: dict[str, tuple[dict[str, int], str]]
) -> None:
    """As many, as long, and as far from their median, in every log that has them."""
    compared = 0
    for name, (_bad, summary) in manifest.items():
        listed = POSITIONS.fullmatch(summary)
        # Simulated positions (quality 8) are none; the reader of the list lost most of the other.
        if listed is None or name in {"garmin-geko201.log", "quectel-l76k-dual.log"}:
            continue
        decoder = Decoder()
        reports = [
            report
            for report in map(decoder.decode, logs[name])
            if isinstance(report, PositionReport) and report.usable and report.kind == "GGA"
        ]
        assert len(reports) == int(listed[1]), name
        times = [report.tod_s for report in reports if report.tod_s is not None]
        assert times[-1] - times[0] == pytest.approx(float(listed[2]), abs=1.0), name
        assert max(off_median_m(reports)) == pytest.approx(float(listed[5]), rel=1e-3, abs=0.06), (
            name
        )
        compared += 1
    assert compared >= 25


def off_median_m(reports: list[PositionReport]) -> list[float]:
    """Distances from the median position, on a plane (metres of a degree for 6371 km)."""
    degree_m = math.radians(6_371_000.0)
    lat_deg = median(report.lat_deg for report in reports)
    lon_deg = median(report.lon_deg for report in reports)
    shrink = math.cos(math.radians(lat_deg))
    return [
        degree_m * math.hypot(report.lat_deg - lat_deg, (report.lon_deg - lon_deg) * shrink)
        for report in reports
    ]


# -- pynmea2 as the other reader ---------------------------------------------------------------


def number(text: Any) -> float | None:
    """A field of pynmea2, which may be text, a Decimal, a float or nothing."""
    return None if text in (None, "") else float(text)


def knots(text: Any) -> float | None:
    value = number(text)
    return None if value is None else value * KNOT_MPS


def circle(text: Any) -> float | None:
    value = number(text)
    return None if value is None else value % 360.0


def seconds(message: Any) -> float | None:
    time = message.timestamp
    if time in (None, ""):
        return None
    return float(time.hour * 3600 + time.minute * 60 + time.second + time.microsecond / 1e6)


Pairs = Iterator[tuple[str, Any, Any]]
"""Name, our value, and what pynmea2 makes of the same sentence."""


def position_pairs(report: PositionReport, message: Any) -> Pairs:
    yield "time", report.tod_s, seconds(message)
    if report.kind == "RMC":
        yield "date", report.date, message.datestamp or None
    if not report.usable:
        return
    yield "latitude", report.lat_deg, message.latitude
    yield "longitude", report.lon_deg, message.longitude
    if report.kind == "RMC":
        yield "speed", report.sog_mps, knots(message.spd_over_grnd)
        yield "course", report.cog_deg, circle(message.true_course)
    if report.kind in {"GGA", "GNS"}:
        hdop = message.horizontal_dil if report.kind == "GGA" else message.hdop
        yield "hdop", report.hdop, number(hdop) or None
        yield "satellites", report.satellites, number(message.num_sats)


def heading_pairs(report: HeadingReport, message: Any) -> Pairs:
    head_deg = float(message.heading)
    if message.sentence_type == "HDG" and message.deviation:
        head_deg += float(message.deviation) * (-1 if message.dev_dir == "W" else 1)
    yield "head", report.heading_deg, head_deg % 360.0
    yield "north", report.north is North.TRUE, message.sentence_type in {"HDT", "THS"}


def depth_pairs(report: DepthReport, message: Any) -> Pairs:
    dpt = message.sentence_type == "DPT"
    yield "depth", report.below_transducer_m, number(message.depth if dpt else message.depth_meters)
    yield "offset", report.offset_m, number(message.offset) if dpt else None


def wind_pairs(report: WindReport, message: Any) -> Pairs:
    if message.sentence_type == "MWD":
        yield "wind", report.speed_mps, number(message.wind_speed_meters)
        yield "wind from", report.direction_deg, circle(message.direction_true)
    else:
        unit_mps = {"N": KNOT_MPS, "M": 1.0, "K": 1 / 3.6}[message.wind_speed_units]
        yield "wind", report.speed_mps, float(message.wind_speed) * unit_mps
        yield "wind from", report.direction_deg, circle(message.wind_angle)


def expected_pairs(observation: Observation, message: Any) -> Pairs:
    match observation:
        case PositionReport():
            yield from position_pairs(observation, message)
        case CourseReport():
            if getattr(message, "faa_mode", None) != "N":
                yield "speed", observation.sog_mps, knots(message.spd_over_grnd_kts)
                yield "course", observation.cog_deg, circle(message.true_track)
        case DilutionReport():
            yield "dimension", observation.dimension, number(message.mode_fix_type)
            yield "hdop", observation.hdop, number(message.hdop) or None
        case TimeReport(date=date):
            yield "time", observation.tod_s, seconds(message)
            yield "day", date and date.day, number(message.day)
            yield "month", date and date.month, number(message.month)
            yield "year", date and date.year, number(message.year)
        case HeadingReport():
            yield from heading_pairs(observation, message)
        case DepthReport():
            yield from depth_pairs(observation, message)
        case WindReport():
            yield from wind_pairs(observation, message)
        case WaterSpeedReport():
            yield "water speed", observation.speed_mps, knots(message.water_speed_knots)


def test_pynmea2_reads_the_same_out_of_every_accepted_sentence(
    logs: dict[str, list[str]],
) -> None:
    compared: Counter[str] = Counter()
    for name, lines in logs.items():
        decoder = Decoder()
        for line in lines:
            observation = decoder.decode(line)
            if observation is None:
                continue
            message = pynmea2.parse(line[line.rindex("$") :].strip(), check=True)
            for field, ours, theirs in expected_pairs(observation, message):
                compared[field] += 1
                if isinstance(ours, float) and theirs is not None:
                    assert ours == pytest.approx(float(theirs), abs=1e-6), (name, line, field)
                else:
                    assert ours == theirs, (name, line, field)
    enough = {"latitude": 4600, "course": 2800, "head": 1400, "depth": 450, "wind": 450}
    assert [field for field, count in enough.items() if compared[field] < count] == []


# -- the whole core ----------------------------------------------------------------------------


def test_no_log_makes_the_core_raise_and_time_never_runs_back(logs: dict[str, list[str]]) -> None:
    """With a watch on from the first fix, ten lines a second, all logs one after the other."""
    core = Core(CoreSettings(), mono_s=0.0)
    mono_s = 0.0
    times = []
    for name, lines in logs.items():
        for line in lines:
            mono_s = round(mono_s + 0.1, 6)
            core.feed(StampedLine(mono_s, name, line))
            if core.watch.point is not None:
                times.append(core.watch.point.time_s)
                if not core.on_watch:
                    core.command(mono_s, LetGo(rode_m=40.0, depth_m=6.0))
    assert core.on_watch
    assert all(later >= earlier for earlier, later in pairwise(times))
    status = core.status(mono_s)
    counted = sum(
        sum(source.accepted.values())
        + sum(source.unsupported.values())
        + sum(source.rejected.values())
        for source in status.sources
    )
    assert counted == sum(map(len, logs.values()))


def test_each_log_by_itself_is_fed_to_the_end(logs: dict[str, list[str]]) -> None:
    for name, lines in logs.items():
        core = Core(CoreSettings(), mono_s=0.0)
        for number_, line in enumerate(lines):
            core.feed(StampedLine(number_ / 8, name, line))
        [source] = core.status(len(lines) / 8).sources
        assert source.name == name
