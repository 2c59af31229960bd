"""Wild lines: whatever arrives, the decoder never raises and counts each line once."""

import math
from functools import reduce

import attrs
from hypothesis import given
from hypothesis import strategies as st

from driftlead.nmea.decode import Decoder
from driftlead.nmea.observations import (
    CourseReport,
    DepthReport,
    DilutionReport,
    HeadingReport,
    Observation,
    PositionReport,
    TimeReport,
    WaterSpeedReport,
    WindReport,
)


def total(body: str) -> int:
    """The checksum by a plain loop; what no byte can be counts as a question mark."""
    numbers = (ord(char) if ord(char) < 256 else ord("?") for char in body)
    return reduce(lambda sofar, number: sofar ^ number, numbers, 0)


def tagged(body: str, text: str, *, good: bool = True) -> str:
    return f"\\{body}*{total(body) ^ (0 if good else 1):02X}\\{text}"


SENTENCES = [
    "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,",
    "GPRMC,092751.000,A,5321.6802,N,00630.3371,W,0.06,31.66,280511,020.3,E,A,V",
    "GPGLL,4916.45,N,12311.12,W,225444,A,D",
    "GNGNS,043539.00,4333.190206,N,00127.618380,E,AAAAN,14,1.3,250.8,50.0,,,V",
    "GPVTG,054.7,T,034.4,M,005.5,N,010.2,K,A",
    "GPGSA,A,3,02,,,07,,09,24,26,,,,,1.6,1.6,1.0",
    "GPZDA,172809.456,12,07,1996,00,00",
    "GPHDT,123.456,T",
    "HETHS,012.3,A",
    "HCHDM,238.5,M",
    "HCHDG,98.3,0.1,E,12.6,W",
    "IIDBT,032.93,f,010.04,M,005.42,F",
    "SDDPT,0.5,0.5,",
    "WIMWD,225.0,T,235.0,M,19.4,N,10.0,M",
    "IIMWV,271.0,R,000.2,N,A",
    "IIVHW,245.1,T,238.5,M,5.0,N,9.3,K",
]
WILD_FIELDS = st.one_of(
    st.sampled_from(
        ["", "-", "+", ".", "-1", "1e9", "inf", "nan", "9" * 40, "-" + "9" * 25, "00", "0.0",
         "361", "4860.0", "246060", "310226", "\x00", "\xb2\xb3", "\u0663", "*", "$", "\\", "!"]
    ),
    st.text(max_size=6),
    st.decimals(-1000, 1000, places=2).map(str),
)  # fmt: skip


@st.composite
def mutated(draw: st.DrawFn) -> str:
    """A sentence with some fields replaced, put in or taken out, and a checksum that fits."""
    parts = draw(st.sampled_from(SENTENCES)).split(",")
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, len(parts) - 1))
        match draw(st.sampled_from(["replace", "insert", "delete", "cut"])):
            case "replace":
                parts[at] = draw(WILD_FIELDS)
            case "insert":
                parts.insert(at, draw(WILD_FIELDS))
            case "delete" if len(parts) > 1:
                del parts[at]
            case "cut" if at > 0:
                del parts[at:]
    body = ",".join(parts)
    return f"${body}*{total(body):02X}"


@st.composite
def wild_lines(draw: st.DrawFn) -> str:
    """Anything at all, and things that look like sentences with and without TAG block."""
    text = draw(st.one_of(st.text(max_size=150), mutated(), st.sampled_from(SENTENCES)))
    if draw(st.booleans()):
        block = draw(st.one_of(st.text(max_size=20), st.just("s:GP0001,n:5,c:1241544035")))
        text = tagged(block, text, good=draw(st.booleans())) if block else "\\" + text
    if draw(st.integers(0, 5)) == 0:
        text = text[: draw(st.integers(0, len(text)))]
    return draw(st.sampled_from(["", "$", "!", "\\", "\xb5b"])) + text


def check_possible(observation: Observation) -> None:
    """No observation says what cannot be."""
    for name, value in attrs.asdict(observation, recurse=True).items():
        if isinstance(value, float):
            assert math.isfinite(value), name
    match observation:
        case PositionReport(usable=False):
            assert (observation.lat_deg, observation.lon_deg) == (0.0, 0.0)
        case PositionReport():
            assert abs(observation.lat_deg) <= 90.0
            assert abs(observation.lon_deg) <= 180.0
            assert observation.quantum_m > 0.0
            assert observation.hdop is None or observation.hdop > 0.0
            assert observation.sog_mps is None or 0.0 <= observation.sog_mps <= 150.0
            assert observation.cog_deg is None or 0.0 <= observation.cog_deg < 360.0
        case CourseReport():
            assert observation.sog_mps is None or 0.0 <= observation.sog_mps <= 150.0
            assert observation.cog_deg is None or 0.0 <= observation.cog_deg < 360.0
        case HeadingReport():
            assert 0.0 <= observation.heading_deg < 360.0
        case WindReport():
            assert 0.0 <= observation.direction_deg < 360.0
            assert 0.0 <= observation.speed_mps <= 110.0
        case DepthReport():
            assert 0.0 <= observation.below_transducer_m <= 12_000.0
        case DilutionReport():
            assert observation.dimension in (1, 2, 3)
        case TimeReport():
            assert 0.0 <= observation.tod_s < 86_401.0
        case WaterSpeedReport():
            assert observation.speed_mps is None or observation.speed_mps >= 0.0


@given(st.lists(st.one_of(wild_lines(), mutated()), min_size=1, max_size=5), st.booleans())
def test_no_line_raises_and_each_is_counted_once(lines: list[str], require: bool) -> None:
    decoder = Decoder(require_checksum=require)
    for number, line in enumerate(lines, start=1):
        observation = decoder.decode(line)
        counters = (decoder.accepted, decoder.unsupported, decoder.rejected)
        assert sum(counter.total() for counter in counters) == number
        if observation is not None:
            check_possible(observation)


@given(mutated())
def test_a_sentence_that_is_taken_is_taken_the_same_way_under_a_tag_block(line: str) -> None:
    assert Decoder().decode(tagged("s:GP0001", line)) == Decoder().decode(line)


@given(st.sampled_from(SENTENCES), st.integers(0, 200), st.integers(1, 255))
def test_one_wrong_character_never_gives_an_observation(body: str, at: int, flip: int) -> None:
    """A checksum by XOR catches every single error inside the sentence."""
    at %= len(body)
    garbled = body[:at] + chr(ord(body[at]) ^ flip) + body[at + 1 :]
    decoder = Decoder()
    assert decoder.decode(f"${garbled}*{total(body):02X}") is None
    assert decoder.accepted == {}
