"""Alerts on displays, with a pretended wire."""

import asyncio
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.core.inputs import Acknowledge, Command, Silence, Transfer
from driftlead.core.reply import Reply
from driftlead.errors import ConfigError, NotifierError
from driftlead.nmea.checksum import checksum
from driftlead.notify.base import GivesCommands, Notifier, NotifierContext
from driftlead.notify.nmea_out import NmeaNotifier, NmeaOptions, Sentences
from driftlead.notify.nmea_out_wire import OnLine
from driftlead.testing import FakeTime, NotifierContract, make_alert, make_context

LIMIT_S = 20.0
GPS_SILENT = make_alert(name="source_silent", instance="gps", priority=Priority.WARNING, number=2)


class FakeWire:
    """Takes sentences, fails or hangs as it is told, and can be talked to."""

    where = "the wire"

    def __init__(self) -> None:
        self.sent: list[str] = []
        self.error: NotifierError | None = None
        self.hangs = False
        self.on_line: OnLine | None = None
        self.closed = False

    def make(self, _options: NmeaOptions, on_line: OnLine | None) -> "FakeWire":
        """Be the wire of a notifier."""
        self.on_line = on_line
        return self

    async def send(self, sentences: tuple[str, ...]) -> None:
        """Take them."""
        if self.hangs:
            await asyncio.Event().wait()
        if self.error is not None:
            raise self.error
        self.sent += sentences

    def close(self) -> None:
        """Note it."""
        self.closed = True

    def hear(self, body: str) -> None:
        """Bring a sentence of a display."""
        assert self.on_line is not None
        self.on_line(f"${body}*{checksum(body):02X}")

    @property
    def kinds(self) -> list[str]:
        """What was sent, by the kinds of the sentences."""
        return [sentence[3:6] for sentence in self.sent]


class TestNmeaKeepsTheContract(NotifierContract):
    """The NMEA notifier is a proper notifier."""

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build it on a wire that takes everything."""
        options = NmeaOptions(host="127.0.0.1", sentences=Sentences.BOTH, heartbeat=True)
        return NmeaNotifier(options, context, make_wire=FakeWire().make)

    def make_broken_notifier(self, context: NotifierContext) -> Notifier:
        """Build it on a wire that is broken."""
        wire = FakeWire()
        wire.error = NotifierError("It is broken.", remedy="Mend it.")
        return NmeaNotifier(NmeaOptions(host="127.0.0.1"), context, make_wire=wire.make)


class Bridge:
    """A wire, a fake clock, and a core that answers as it is told."""

    def __init__(self, folder: Path) -> None:
        self.wire = FakeWire()
        self.time = FakeTime()
        self.reports: list[str | None] = []
        self.commands: list[Command] = []
        self.accepts = True
        taken = make_alert(state=AlertState.RESPONSIBILITY_TRANSFERRED)
        self.leads_to: tuple[Alert, ...] = (taken,)
        self._folder = folder
        self._made: list[NmeaNotifier] = []

    async def notifier(self, **options: Any) -> NmeaNotifier:
        """Build one whose first list has been sent, and forget that; closed after the test."""
        context = make_context(
            self._folder,
            clock=self.time.clock,
            sleep=self.time.sleep,
            report=self.reports.append,
        )
        settings = NmeaOptions(**({"host": "127.0.0.1"} | options))
        made = NmeaNotifier(settings, context, make_wire=self.wire.make)
        self._made.append(made)
        await self.time.until_sleeping(30.0)
        self.wire.sent.clear()
        return made

    def command(self, command: Command) -> Reply:
        """Answer like the core."""
        self.commands.append(command)
        if not self.accepts:
            return Reply(accepted=False, text="No.")
        return Reply(accepted=True, text="Done.", events=self.leads_to)

    async def close(self) -> None:
        """Close all."""
        async with asyncio.timeout(LIMIT_S):
            for notifier in self._made:
                await notifier.close()


@pytest_asyncio.fixture
async def bridge(tmp_path: Path) -> AsyncIterator[Bridge]:
    """A wire to displays."""
    made = Bridge(tmp_path)
    yield made
    await made.close()


async def until(true: Callable[[], bool]) -> None:
    """Wait until it is so."""
    async with asyncio.timeout(LIMIT_S):
        while not true():  # noqa: ASYNC110 - what a test asks for has no event of its own
            await asyncio.sleep(0)


@pytest.mark.asyncio
async def test_each_change_is_sent_at_once(bridge: Bridge) -> None:
    """With the next sequence number and revision."""
    notifier = await bridge.notifier()
    for state in (AlertState.ACTIVE_UNACKNOWLEDGED, AlertState.NORMAL):
        await notifier.notify(make_alert(state=state))
    assert [sentence.split("*")[0] for sentence in bridge.wire.sent] == [
        "$IIALF,1,1,0,,B,A,V,,10001,1,1,0,The anchor is dragging.",
        "$IIALF,1,1,1,,B,A,N,,10001,1,2,0,The anchor is dragging.",
    ]


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("sentences", "told", "listed"),
    [
        (Sentences.ALF, ["ALF"], ["ALF", "ALC", "HBT"]),
        (Sentences.ALR, ["ALR"], ["ALR", "HBT"]),
        (Sentences.BOTH, ["ALF", "ALR"], ["ALF", "ALR", "ALC", "HBT"]),
    ],
)
async def test_every_half_minute_what_is_up_and_the_list_are_sent_again(
    bridge: Bridge, sentences: Sentences, told: list[str], listed: list[str]
) -> None:
    """For a datagram may be lost, and a display switched on late."""
    notifier = await bridge.notifier(sentences=sentences, heartbeat=True)
    await notifier.notify(make_alert())
    assert bridge.wire.kinds == told
    bridge.wire.sent.clear()
    for _ in range(2):
        await bridge.time.advance(30.0)
        await bridge.time.until_sleeping(30.0)
    assert bridge.wire.kinds == listed * 2


@pytest.mark.asyncio
async def test_the_list_comes_first_of_all_even_if_it_is_empty(bridge: Bridge) -> None:
    """Displays know from it that we are there; what an earlier run told them is over."""
    context = make_context(Path(), clock=bridge.time.clock, sleep=bridge.time.sleep)
    options = NmeaOptions(host="127.0.0.1", talker="AB")
    notifier = NmeaNotifier(options, context, make_wire=bridge.wire.make)
    await bridge.time.until_sleeping(30.0)
    await notifier.close()
    (listed,) = bridge.wire.sent
    assert listed.startswith("$ABALC,01,01,00,0*")
    assert bridge.wire.closed


@pytest.mark.asyncio
async def test_a_wire_that_fails_is_tried_soon_and_told_until_it_works(bridge: Bridge) -> None:
    """In notify as an error, in the background as a report."""
    notifier = await bridge.notifier()
    bridge.wire.error = NotifierError("Gone.", remedy="Plug it in.")
    with pytest.raises(NotifierError, match=r"Gone\. Plug it in"):
        await notifier.notify(make_alert())
    await bridge.time.advance(30.0)
    await bridge.time.until_sleeping(5.0)
    bridge.wire.error = None
    await bridge.time.advance(5.0)
    await bridge.time.until_sleeping(30.0)
    assert bridge.reports == ["Gone. Plug it in.", None]
    assert bridge.wire.kinds == ["ALF", "ALC"]


@pytest.mark.asyncio
async def test_a_wire_that_takes_nothing_is_not_waited_for_for_ever(bridge: Bridge) -> None:
    """A display that holds the handshake down must not stop the notifier."""
    notifier = await bridge.notifier()
    bridge.wire.hangs = True
    notifying = asyncio.create_task(notifier.notify(make_alert()))
    await bridge.time.until_sleeping(5.0)
    await bridge.time.advance(5.0)
    with pytest.raises(NotifierError, match="did not take the sentences within 5 s"):
        await notifying


@pytest.mark.asyncio
async def test_a_display_acknowledges_and_silences(bridge: Bridge) -> None:
    """By the name of the alert, and with the place it came from."""
    notifier = await bridge.notifier(answers=True)
    assert isinstance(notifier, GivesCommands)
    notifier.give_commands_to(bridge.command)
    await notifier.notify(make_alert())
    bridge.wire.sent.clear()
    bridge.wire.hear("RAACN,220516,,10001,1,S,C")
    bridge.wire.hear("RAACN,220516,,10001,1,A,C")
    bridge.wire.hear("RAACK,001")
    assert bridge.commands == [
        Silence(name="drag", where="test"),
        Acknowledge(name="drag", where="test"),
        Acknowledge(name="drag", where="test"),
    ]
    assert bridge.wire.sent == []


@pytest.mark.asyncio
async def test_a_display_that_missed_something_has_it_repeated(bridge: Bridge) -> None:
    """Command Q; the counters stay as they are."""
    notifier = await bridge.notifier(answers=True)
    await notifier.notify(GPS_SILENT)
    instance = bridge.wire.sent[0].split(",")[10]
    before = bridge.wire.sent.pop()
    bridge.wire.hear(f"RAACN,,,10010,{instance},Q,C")
    await until(lambda: bool(bridge.wire.sent))
    (again,) = bridge.wire.sent
    assert again.split(",")[4:13] == before.split(",")[4:13]
    assert bridge.commands == []


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("why", "body"),
    [
        ("core", "RAACN,,,10001,1,A,C"),
        ("nobody listens", "RAACN,,,10001,1,A,C"),
        ("handing over", "RAACN,,,10001,1,O,C"),
        ("no such alert", "RAACN,,,10002,1,A,C"),
        ("no such maker", "RAACN,,XYZ,10001,1,A,C"),
    ],
)
async def test_a_command_that_leads_to_nothing_is_refused(
    bridge: Bridge, why: str, body: str
) -> None:
    """With the fields of the command, by ARC."""
    notifier = await bridge.notifier(answers=True)
    await notifier.notify(make_alert())
    bridge.wire.sent.clear()
    bridge.accepts = why != "core"
    notifier.give_commands_to(None if why == "nobody listens" else bridge.command)
    bridge.wire.hear(body)
    await until(lambda: bool(bridge.wire.sent))
    (refusal,) = bridge.wire.sent
    assert refusal.split("*")[0].split(",") == ["$IIARC", "", *body.split(",")[2:6]]
    assert len(bridge.commands) == (why == "core")


TAKEN = make_alert(handed_to="test")
"""As it is told to whoever is responsible for it."""


async def taken_over(bridge: Bridge, beat: str = "RAHBT,10,A,0") -> NmeaNotifier:
    """A display beats, and has taken the alert over."""
    notifier = await bridge.notifier(answers=True, takeover=True)
    notifier.give_commands_to(bridge.command)
    await notifier.notify(make_alert())
    bridge.wire.hear(beat)
    bridge.wire.hear("RAACN,,,10001,1,O,C")
    assert bridge.commands == [Transfer(to="test", name="drag", where="test")]
    bridge.wire.sent.clear()
    await notifier.notify(TAKEN)
    return notifier


class TestTakeover:
    """A display takes the responsibility for an alert over, and must live to keep it.

    That ``O`` in ``ACN`` is the display's wish to be responsible is from memory of IEC 62923-1.
    """

    @pytest.mark.asyncio
    async def test_its_alert_is_shown_as_handed_over_while_it_beats(self, bridge: Bridge) -> None:
        await taken_over(bridge)
        assert [sentence.split("*")[0] for sentence in bridge.wire.sent] == [
            "$IIALF,1,1,1,,B,A,O,,10001,1,2,0,The anchor is dragging.",
        ]
        for number in range(20):
            await bridge.time.advance(10.0)
            bridge.wire.hear(f"RAHBT,10,A,{number % 10}")
        assert bridge.reports == []

    @pytest.mark.asyncio
    async def test_one_that_falls_silent_is_a_fault_until_it_beats_again(
        self, bridge: Bridge
    ) -> None:
        """A fault takes the alert back. One and a half of its intervals are waited for."""
        await taken_over(bridge)
        await bridge.time.advance(14.9)
        assert bridge.reports == []
        await bridge.time.advance(0.1)
        (report,) = bridge.reports
        assert report is not None
        assert "has fallen silent" in report
        bridge.wire.hear("RAHBT,10,A,1")
        assert bridge.reports == [report, None]

    @pytest.mark.asyncio
    async def test_one_that_says_it_does_not_work_gives_it_back_at_once(
        self, bridge: Bridge
    ) -> None:
        await taken_over(bridge)
        bridge.wire.hear("RAHBT,10,V,1")
        (report,) = bridge.reports
        assert report is not None
        assert "says that it does not work" in report

    @pytest.mark.asyncio
    async def test_the_fault_is_over_with_the_alert(self, bridge: Bridge) -> None:
        """It stands while the alert that was taken back waits; then nobody needs that display."""
        notifier = await taken_over(bridge)
        await bridge.time.advance(15.0)
        await notifier.notify(make_alert())
        assert len(bridge.reports) == 1
        await notifier.notify(make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED))
        assert bridge.reports[1:] == [None]

    @pytest.mark.asyncio
    async def test_nobody_is_minded_once_it_was_answered_or_taken_back(
        self, bridge: Bridge
    ) -> None:
        """The display may be switched off then."""
        for state in (AlertState.ACTIVE_ACKNOWLEDGED, AlertState.ACTIVE_UNACKNOWLEDGED):
            notifier = await taken_over(bridge)
            await notifier.notify(make_alert(state=state))
            await bridge.time.advance(60.0)
            bridge.commands.clear()
        assert bridge.reports == []

    @pytest.mark.asyncio
    async def test_after_a_restart_a_display_has_half_a_minute_to_be_heard(
        self, bridge: Bridge
    ) -> None:
        """Which one had it is not known any more; any that beats will do."""
        notifier = await bridge.notifier(answers=True, takeover=True)
        await notifier.notify(TAKEN)
        await bridge.time.advance(29.0)
        bridge.wire.hear("RAHBT,10,A,1")
        await bridge.time.advance(14.0)
        assert bridge.reports == []
        await bridge.time.advance(1.0)
        assert len(bridge.reports) == 1

    @pytest.mark.asyncio
    @pytest.mark.parametrize(
        ("beats", "why"),
        [
            ((), "it does not beat"),
            (("RAHBT,21,A,0",), "too rarely: it would be dead for longer than a silence lasts"),
            (("RAHBT,,A,0",), "it does not say how often"),
            (("RAHBT,10,V,0",), "it does not work"),
            (("RAHBT,10,A,0", "RAHBT,10,V,1"), "it does not work any more"),
            (("SNHBT,10,A,0",), "another one beats"),
        ],
    )
    async def test_a_display_that_cannot_be_trusted_is_refused(
        self, bridge: Bridge, beats: tuple[str, ...], why: str
    ) -> None:
        notifier = await bridge.notifier(answers=True, takeover=True)
        notifier.give_commands_to(bridge.command)
        await notifier.notify(make_alert())
        bridge.wire.sent.clear()
        for beat in beats:
            bridge.wire.hear(beat)
        bridge.wire.hear("RAACN,,,10001,1,O,C")
        await until(lambda: bool(bridge.wire.sent))
        assert bridge.wire.kinds == ["ARC"], why
        assert bridge.commands == []

    @pytest.mark.asyncio
    async def test_a_second_display_does_not_get_what_the_first_has(self, bridge: Bridge) -> None:
        """And the first is still the one that is minded."""
        await taken_over(bridge)
        bridge.wire.sent.clear()
        bridge.leads_to = ()
        bridge.wire.hear("SNHBT,20,A,0")
        bridge.wire.hear("SNACN,,,10001,1,O,C")
        await until(lambda: bool(bridge.wire.sent))
        assert bridge.wire.kinds == ["ARC"]
        await bridge.time.advance(15.0)
        assert len(bridge.reports) == 1

    @pytest.mark.asyncio
    async def test_a_wire_that_works_again_does_not_hide_a_silent_display(
        self, bridge: Bridge
    ) -> None:
        await taken_over(bridge)
        bridge.wire.error = NotifierError("Gone.", remedy="Plug it in.")
        await bridge.time.advance(30.0)
        await bridge.time.until_sleeping(5.0)
        bridge.wire.error = None
        await bridge.time.advance(5.0)
        await bridge.time.until_sleeping(30.0)
        (report,) = bridge.reports
        assert report is not None
        assert "has fallen silent" in report

    @pytest.mark.asyncio
    async def test_made_up_displays_do_not_fill_the_memory(self, bridge: Bridge) -> None:
        notifier = await bridge.notifier(answers=True, takeover=True)
        for number in range(1000):
            bridge.wire.hear(f"{number % 100:02d}HBT,10,A,0")
        assert len(notifier._takeover._lives_until_s) == 16


@pytest.mark.asyncio
async def test_nobody_is_listened_to_unless_the_owner_wants_it(bridge: Bridge) -> None:
    """Whoever is on the same network could acknowledge an alarm."""
    await bridge.notifier()
    assert bridge.wire.on_line is None


@pytest.mark.asyncio
async def test_noise_and_floods_do_no_harm(
    bridge: Bridge, caplog: pytest.LogCaptureFixture
) -> None:
    """What is no command is passed over, and of too many refusals only some are sent."""
    notifier = await bridge.notifier(answers=True)
    assert bridge.wire.on_line is not None
    for line in ("", "$", "\x00\xff", "$IIALF,1,1,0,,B,A,V,,10001,1,1,0,Own*11", "x" * 5000):
        bridge.wire.on_line(line)
    assert not notifier._replies
    bridge.wire.hangs = True
    for _ in range(1000):
        bridge.wire.hear("RAACN,,,10001,1,A,C")
    assert len(notifier._replies) == 8
    assert caplog.text.count("was refused") == 8
    await bridge.time.until_sleeping(5.0)
    await bridge.time.advance(5.0)
    await until(lambda: not notifier._replies)
    assert "An answer to a display was not sent" in caplog.text


@pytest.mark.asyncio
async def test_the_check_sends_what_no_display_shows(bridge: Bridge) -> None:
    """A heartbeat; whether it was heard, only eyes can tell."""
    notifier = await bridge.notifier()
    assert "took a heartbeat; look on a display" in await notifier.check()
    assert bridge.wire.kinds == ["HBT"]


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({}, "give either 'device' or 'host'"),
        ({"device": "/dev/x", "host": "10.0.0.1"}, "give either 'device' or 'host'"),
        ({"host": "display.local"}, "'host': 'display.local' is not an IPv4 address"),
        ({"host": "10.0.0.1", "bind": "eth0"}, "'bind': 'eth0' is not"),
        ({"host": "10.0.0.1", "port": 0}, "'port': 0 is not 1 to 65535"),
        ({"host": "10.0.0.1", "answers": True, "listen": 70000}, "'listen': 70000 is not"),
        ({"host": "10.0.0.1", "listen": 10111}, "'listen' does nothing without"),
        ({"host": "10.0.0.1", "takeover": True}, "'takeover' does nothing without 'answers'"),
        ({"device": "/dev/x", "baud": 1234}, "'baud': 1234 is not one of 4800"),
        ({"device": "/dev/x", "talker": "iix"}, "'talker': 'iix' is not"),
        ({"device": "/dev/x", "manufacturer": "a,b"}, "'manufacturer': 'a,b' is no mnemonic"),
        ({"device": "/dev/x", "repeat": "1h"}, "'repeat' is not between"),
        ({"device": "/dev/x", "sentences": "alx"}, "'alx' is not one of alf, alr, both"),
    ],
)
def test_options_that_cannot_be_used_are_told_with_a_remedy(
    options: dict[str, Any], told: str, tmp_path: Path
) -> None:
    """At the start, not with the first alert."""
    with pytest.raises(ConfigError) as caught:
        NmeaNotifier.from_options(options, make_context(tmp_path))
    assert told in str(caught.value)
    assert caught.value.problems
    assert caught.value.remedy
