"""Alerts as NMEA 0183 sentences, and what comes back."""

import math
import re

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.alerts.alert import AlertState, Priority
from driftlead.alerts.catalogue import CATALOGUE
from driftlead.notify.alert_sentences import (
    Answer,
    AnswerKind,
    Heartbeat,
    Identity,
    ShownAlert,
    alc,
    alf,
    alr,
    arc,
    hbt,
    identity_of,
    next_escalation,
    next_revision,
    parse_answer,
    parse_heartbeat,
)
from driftlead.testing import make_alert

ALERT = make_alert(utc_s=1_781_647_516.0)  # 22:05:16 UTC
SHOWN = ShownAlert(alert=ALERT, identity=identity_of(ALERT, ""))
FRAMED = re.compile(r"\$(?P<body>[ -~]*)\*(?P<sum>[0-9A-F]{2})")


def body_of(sentence: str) -> list[str]:
    """Check length, characters and checksum the plain way; give the fields.

    The checksum is the exclusive or of all between ``$`` and ``*`` (NMEA 0183).
    """
    assert len(sentence) + len("\r\n") <= 82
    framed = FRAMED.fullmatch(sentence)
    assert framed is not None, sentence
    body = framed["body"]
    total = 0
    for char in body:
        total ^= ord(char)
    assert f"{total:02X}" == framed["sum"]
    assert not set("$*!\\^~") & set(body)
    return body.split(",")


def test_an_alf_has_the_fields_of_a_published_example() -> None:
    """Of the tests of the Go library go-nmea (its fragment number 0 is not legal)."""
    example = body_of("$VDALF,1,0,1,220516,B,A,S,SAL,001,1,2,0,My alarm*2C")
    shown = ShownAlert(
        alert=evolve(ALERT, state=AlertState.SILENCED, text="My alarm"),
        identity=Identity(manufacturer="SAL", number=1, instance=1),
        revision=2,
    )
    (sentence,) = alf(shown, talker="VD", sequence=1)
    ours = body_of(sentence)
    example[2] = "1"
    assert [field.lstrip("0") or "0" for field in ours] == [
        field.lstrip("0") or "0" for field in example
    ]


def test_an_alr_is_a_published_example_to_the_letter() -> None:
    """Of the tests of the Go library go-nmea, but for the case of the checksum."""
    alert = evolve(ALERT, state=AlertState.ACTIVE_ACKNOWLEDGED, text="Bilge pump alarm1")
    shown = evolve(SHOWN, alert=alert)
    assert alr(shown, talker="RA") == "$RAALR,220516,001,A,A,Bilge pump alarm1*4C"


@pytest.mark.parametrize(
    ("state", "letter", "alr_letters"),
    [
        (AlertState.ACTIVE_UNACKNOWLEDGED, "V", ["A", "V"]),
        (AlertState.SILENCED, "S", ["A", "V"]),
        (AlertState.ACTIVE_ACKNOWLEDGED, "A", ["A", "A"]),
        (AlertState.RESPONSIBILITY_TRANSFERRED, "O", ["A", "A"]),
        (AlertState.RECTIFIED_UNACKNOWLEDGED, "U", ["V", "V"]),
        (AlertState.NORMAL, "N", ["V", "A"]),
    ],
)
def test_each_state_has_its_letter(state: AlertState, letter: str, alr_letters: list[str]) -> None:
    """As makers' handbooks quote IEC 61162-1; on A, V and N they contradict each other."""
    shown = evolve(SHOWN, alert=evolve(ALERT, state=state))
    assert body_of(alf(shown, talker="II", sequence=0)[0])[7] == letter
    assert body_of(alr(shown, talker="II"))[3:5] == alr_letters


@pytest.mark.parametrize(
    ("priority", "letter"),
    [(Priority.ALARM, "A"), (Priority.WARNING, "W"), (Priority.CAUTION, "C")],
)
def test_each_priority_has_its_letter(priority: Priority, letter: str) -> None:
    """E, emergency, is for life and never ours."""
    shown = evolve(SHOWN, alert=evolve(ALERT, priority=priority))
    assert body_of(alf(shown, talker="II", sequence=0)[0])[6] == letter


@pytest.mark.parametrize("utc_s", [None, math.nan, math.inf, 1e300])
def test_without_a_time_of_the_receiver_the_field_is_empty(utc_s: float | None) -> None:
    """No other clock is asked."""
    shown = evolve(SHOWN, alert=evolve(ALERT, utc_s=utc_s))
    assert body_of(alf(shown, talker="II", sequence=0)[0])[4] == ""
    assert body_of(alr(shown, talker="II"))[1] == ""


def test_what_it_is_comes_first_and_the_figures_second() -> None:
    """Both fragments have the same sequence number and counters."""
    alert = evolve(ALERT, moved_m=18.4, bearing_deg=131.4, rate_mps=0.12)
    one, two = alf(evolve(SHOWN, alert=alert), talker="II", sequence=7)
    assert one.startswith("$IIALF,2,1,7,220516,B,A,V,,10001,1,1,0,The anchor is dragging.*")
    first, second = body_of(one), body_of(two)
    assert first[1:4] == ["2", "1", "7"]
    assert second[1:4] == ["2", "2", "7"]
    assert first[4:13] == second[4:13]
    assert second[13] == "Moved 18 m to 131 deg; 0.2 kn"


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("Source gps: /dev/ttyUSB0 is not there, plug it in again please.", 2),
        ("x" * 70, 2),
        ("word " * 500, 2),
        ("The anchor is dragging.", 1),
    ],
)
def test_a_long_text_goes_on_in_a_second_fragment_and_then_is_cut(text: str, parts: int) -> None:
    """Between words where there are any; that it was cut is to be seen."""
    sentences = alf(evolve(SHOWN, alert=evolve(ALERT, text=text)), talker="II", sequence=0)
    shown = [body_of(sentence)[-1] for sentence in sentences]
    assert len(shown) == parts
    flat = " ".join(text.replace(",", ";").split())
    whole = (" " if " " in flat else "").join(shown)
    if whole.endswith("..."):
        assert flat.startswith(whole.removesuffix("..."))
    else:
        assert whole == flat


def test_characters_with_a_meaning_of_their_own_are_taken_out() -> None:
    """And what is not ASCII is written plainly or left out."""
    alert = evolve(ALERT, text="Möwe: 5°, $GPGGA*00!\\^~\x7f\r\n錨 end")
    (sentence,) = alf(evolve(SHOWN, alert=alert), talker="II", sequence=0)
    assert body_of(sentence)[-1] == "Mowe: 5 deg; GPGGA 00 end"


def test_an_alert_without_a_text_is_called_by_its_name() -> None:
    """Never by nothing."""
    for name, text in (("fix_lost", "Fix lost"), ("錨", "Alert")):
        alert = evolve(ALERT, name=name, text="\n")
        (sentence,) = alf(evolve(SHOWN, alert=alert), talker="II", sequence=0)
        assert body_of(sentence)[-1] == text


FLOATS = st.none() | st.floats()


@settings(deadline=None)
@given(
    name=st.text(),
    instance=st.text(),
    text=st.text(),
    figures=st.tuples(FLOATS, FLOATS, FLOATS, FLOATS),
    manufacturer=st.sampled_from(["", "A", "XYZ"]),
    counters=st.tuples(st.integers(1, 99), st.integers(0, 9), st.integers(0, 9)),
)
def test_any_alert_fits_into_legal_sentences(
    name: str,
    instance: str,
    text: str,
    figures: tuple[float | None, float | None, float | None, float | None],
    manufacturer: str,
    counters: tuple[int, int, int],
) -> None:
    """At most 82 characters, right checksum, always the same number of fields."""
    utc_s, moved_m, bearing_deg, rate_mps = figures
    alert = make_alert(
        name=name,
        instance=instance,
        text=text,
        utc_s=utc_s,
        moved_m=moved_m,
        bearing_deg=bearing_deg,
        rate_mps=rate_mps,
    )
    revision, escalation, sequence = counters
    shown = ShownAlert(
        alert=alert,
        identity=identity_of(alert, manufacturer),
        revision=revision,
        escalation=escalation,
    )
    sentences = alf(shown, talker="II", sequence=sequence)
    assert 1 <= len(sentences) <= 2
    assert all(len(body_of(sentence)) == 14 for sentence in sentences)
    assert all(body_of(sentence)[-1] for sentence in sentences)
    assert len(body_of(alr(shown, talker="II"))) == 6
    assert 1 <= shown.identity.instance <= 999_999
    assert 10_000 < shown.identity.number < 11_000


def test_every_alert_of_the_catalogue_has_a_number_of_its_own() -> None:
    """Displays tell alerts apart by it; the first thirteen stay as they were published."""
    numbers = {name: identity_of(make_alert(name=name), "").number for name in CATALOGUE}
    assert len(set(numbers.values())) == len(CATALOGUE)
    first = ["drag", "data_stale", "fix_lost", "fix_poor", "fix_frozen", "rode_unknown"]
    first += ["anchor_uncertain", "receiver_date", "watch_resumed", "source_silent"]
    first += ["notifier_failed", "journal_failed", "recording_failed"]
    assert [numbers[name] for name in first] == list(range(10_001, 10_014))


def test_instances_are_numbered_the_same_way_in_every_run() -> None:
    """By the CRC-32 of their names, whose published check value is that of ``123456789``."""
    assert identity_of(make_alert(), "").instance == 1
    identity = identity_of(make_alert(instance="123456789"), "")
    assert identity.instance == 2 + 0xCBF43926 % 999_998


def test_counters_go_round_as_the_standard_counts() -> None:
    """From memory of IEC 61162-1: revisions 1 to 99 and on from 1, escalations 0 to 9 and 1."""
    assert [next_revision(n) for n in (1, 98, 99)] == [2, 99, 1]
    assert [next_escalation(n) for n in (0, 8, 9)] == [1, 9, 1]


def test_the_list_of_no_alerts_is_one_empty_sentence() -> None:
    """So that displays know that we live and that all is normal."""
    (sentence,) = alc([], talker="II", sequence=5)
    assert body_of(sentence) == ["IIALC", "01", "01", "05", "0"]


@settings(deadline=None)
@given(
    instances=st.lists(st.sampled_from(["", "gps", "a-very-long-name"]), max_size=40),
    manufacturer=st.sampled_from(["", "XYZ"]),
    sequence=st.integers(0, 99),
)
def test_the_list_of_all_alerts_is_cut_into_sentences_without_losing_one(
    instances: list[str], manufacturer: str, sequence: int
) -> None:
    """Each tells how many there are in all, which it is, and how many alerts it has."""
    every = [
        ShownAlert(
            alert=ALERT,
            identity=identity_of(make_alert(instance=instance), manufacturer),
            revision=1 + number,
        )
        for number, instance in enumerate(instances)
    ]
    sentences = [body_of(text) for text in alc(every, talker="II", sequence=sequence)]
    found = []
    for number, fields in enumerate(sentences, start=1):
        assert fields[:4] == ["IIALC", f"{len(sentences):02d}", f"{number:02d}", f"{sequence:02d}"]
        rest = fields[5:]
        assert len(rest) == 4 * int(fields[4])
        found += [tuple(rest[n : n + 4]) for n in range(0, len(rest), 4)]
    assert found == [
        (
            manufacturer,
            str(shown.identity.number),
            str(shown.identity.instance),
            str(shown.revision),
        )
        for shown in every
    ]


def test_the_heartbeat_tells_its_interval() -> None:
    """In seconds; A says that we work."""
    assert body_of(hbt(interval_s=30.0, sequence=3, talker="II")) == ["IIHBT", "30", "A", "3"]
    assert body_of(hbt(interval_s=2.5, sequence=0, talker="II"))[1] == "2.5"


def sealed(body: str) -> str:
    """Put a body between ``$`` and its checksum."""
    total = 0
    for char in body:
        total ^= ord(char)
    return f"${body}*{total:02X}"


@pytest.mark.parametrize(
    ("fields", "interval_s", "works"),
    [
        ("30,A,3", 30.0, True),
        ("2.5,A,0", 2.5, True),
        ("10,V,9", 10.0, False),
        (",A,1", 0.0, True),
    ],
)
def test_a_heartbeat_of_a_display_is_read(fields: str, interval_s: float, works: bool) -> None:
    """Interval, A for working (V: not), counter; the layout is from memory."""
    beat = parse_heartbeat(sealed(f"RAHBT,{fields}"))
    assert beat == Heartbeat(talker="RA", interval_s=interval_s, works=works)


@pytest.mark.parametrize(
    "line",
    [
        "",
        "$RAHBT,30,A,3",
        "$RAHBT,30,A,3*00",
        sealed("RAHBT,30,X,3"),
        sealed("RAHBT,30,A"),
        sealed("RAHBT,-1,A,3"),
        sealed("RAHBT,nan,A,3"),
        sealed("RAHBT,1e3,A,3"),
        sealed("RAHBT,\u0661,A,3"),
        sealed("RAACN,,,10001,1,A,C"),
    ],
)
def test_what_is_no_heartbeat_is_none(line: str) -> None:
    assert parse_heartbeat(line) is None


def test_our_own_heartbeat_reads_as_it_was_written() -> None:
    beat = parse_heartbeat(hbt(interval_s=30.0, sequence=3, talker="II"))
    assert beat == Heartbeat(talker="II", interval_s=30.0, works=True)


@pytest.mark.parametrize("kind", list(AnswerKind))
def test_a_command_is_read_and_refused_in_the_same_terms(kind: AnswerKind) -> None:
    """Time, maker, number, instance and the letter; C at the end says that it is a command."""
    answer = parse_answer(sealed(f"RAACN,220516.00,XYZ,10001,2,{kind.value},C"))
    assert answer == Answer(kind=kind, number=10001, manufacturer="XYZ", instance=2, talker="RA")
    assert answer is not None
    assert body_of(arc(answer, talker="II")) == ["IIARC", "", "XYZ", "10001", "2", kind.value]


def test_an_acknowledgement_of_an_older_display_is_read() -> None:
    """A published example, of the tests of the Go library go-nmea."""
    acknowledged = Answer(kind=AnswerKind.ACKNOWLEDGE, number=10001, talker="VR")
    assert parse_answer("$VRACK,001*50") == acknowledged


@pytest.mark.parametrize(
    "line",
    [
        sealed("IIACN,,,10001,1,A,C") + "\r\n",
        "\\s:RA0001*7C\\" + sealed("RAACN,,,10001,1,A,C"),
        sealed("RAACN,,,010001,000001,A,C")
        .lower()
        .replace("raacn", "RAACN")
        .replace(",a,c", ",A,C"),
    ],
    ids=["with line end", "with a TAG block", "with leading zeros and small hex"],
)
def test_other_ways_to_write_a_command_are_read_too(line: str) -> None:
    """Talkers differ."""
    answer = parse_answer(line)
    assert answer is not None
    assert evolve(answer, talker="") == Answer(
        kind=AnswerKind.ACKNOWLEDGE, number=10001, instance=1
    )


@pytest.mark.parametrize(
    "line",
    [
        "",
        "$",
        "$*00",
        "$RAACN,,,10001,1,A,C",
        "$RAACN,,,10001,1,A,C*00",
        "RAACN,,,10001,1,A,C*00",
        sealed("RAACN,,,10001,1,A,R"),
        sealed("RAACN,,,10001,1,X,C"),
        sealed("RAACN,,,10001,1,,C"),
        sealed("RAACN,,,10001,1,A"),
        sealed("RAACN,,,10001,1,A,C,"),
        sealed("RAACN,,,10001,,A,C"),
        sealed("RAACN,,,-1,1,A,C"),
        sealed("RAACN,,,1e4,1,A,C"),
        sealed("RAACN,,,99999999,1,A,C"),
        sealed("RAACN,,,10001,1000000,A,C"),
        sealed("RAACN,,LONG,10001,1,A,C"),
        sealed("RAACN,,a b,10001,1,A,C"),
        sealed("RAACN,,,\u0661,1,A,C"),
        sealed("RAACK,1000"),
        sealed("RAACK,"),
        sealed("RAACK,1,2"),
        sealed("IIALF,1,1,0,220516,B,A,V,,10001,1,1,0,The anchor is dragging."),
        sealed("RAACN,,,10001,1,A,C" + " " * 80),
    ],
)
def test_whatever_is_no_command_is_passed_over(line: str) -> None:
    """Noise, what we send ourselves, and a command without its checksum: it silences nothing."""
    assert parse_answer(line) is None


@given(line=st.text() | st.text("$*,ACNKR0123456789\\\r\n").map(sealed))
def test_wild_input_never_raises(line: str) -> None:
    """Whatever the wire brings."""
    answer = parse_answer(line)
    assert answer is None or body_of(arc(answer, talker="II"))


@given(fields=st.lists(st.text("AQOSC0123456789."), min_size=6, max_size=6))
def test_wild_fields_never_raise(fields: list[str]) -> None:
    """Nor do commands that are sealed rightly and make no sense."""
    answer = parse_answer(sealed(",".join(["RAACN", *fields])))
    assert answer is None or body_of(arc(answer, talker="II"))
