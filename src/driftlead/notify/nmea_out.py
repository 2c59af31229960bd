"""Alerts on the boat's displays, as NMEA 0183 sentences by UDP or serial line, and their answers.

The sentences are in ``alert_sentences``; the wires in ``nmea_out_wire``.
"""

import asyncio
import enum
import ipaddress
import logging
from collections.abc import Callable, Mapping
from typing import Any, Final, Self

from attrs import evolve, frozen

from driftlead.alerts.alert import Alert, AlertState
from driftlead.core.inputs import Acknowledge, Command, Silence, Transfer
from driftlead.core.reply import Reply
from driftlead.errors import NotifierError
from driftlead.notify.alert_sentences import (
    Answer,
    AnswerKind,
    ShownAlert,
    alc,
    alf,
    alr,
    arc,
    hbt,
    is_mnemonic,
    parse_answer,
    parse_heartbeat,
)
from driftlead.notify.base import NotifierContext
from driftlead.notify.durable_queue_sender import Troubles
from driftlead.notify.nmea_out_register import ShownAlerts
from driftlead.notify.nmea_out_takeover import Takeover
from driftlead.notify.nmea_out_wire import OnLine, SerialWire, UdpWire, Wire
from driftlead.notify.options import Seconds, structure_options
from driftlead.notify.within import OutOfTimeError, run_within

_LOGGER = logging.getLogger(__name__)
_BAUDS: Final = (4800, 9600, 19200, 38400, 57600, 115200)
_SEND_LIMIT_S: Final = 5.0
_RETRY_S: Final = 5.0
_MOST_REPLIES: Final = 8


class Sentences(enum.StrEnum):
    """Which sentences the displays understand."""

    ALF = "alf"
    ALR = "alr"
    BOTH = "both"


@frozen(kw_only=True)
class NmeaOptions:
    """The owner's options: either ``device`` or ``host``.

    ``host`` is the IPv4 address of a display, a broadcast address or a multicast group.
    ``answers`` must be switched on before displays may acknowledge and silence, and ``takeover``
    before one that beats may take an alert over: whoever is on the same network could.
    ``listen`` is the UDP port for them, if the displays do not answer to the port that is sent
    from. Every ``repeat`` the list of all alerts is sent, and ``heartbeat`` if it is on.
    ``talker`` and ``manufacturer`` are how the sentences call us.
    """

    device: str | None = None
    baud: int = 4800
    host: str | None = None
    port: int = 10110
    listen: int | None = None
    bind: str = "0.0.0.0"  # noqa: S104 - sending, from whatever interface leads there
    sentences: Sentences = Sentences.ALF
    answers: bool = False
    takeover: bool = False
    heartbeat: bool = False
    repeat_s: Seconds = 30.0
    talker: str = "II"
    manufacturer: str | None = None

    def problems(self) -> list[str]:
        """Say what contradicts itself or cannot be sent."""
        found = []
        if (self.device is None) == (self.host is None):
            found.append("give either 'device' or 'host'.")
        for key, address in (("host", self.host), ("bind", self.bind)):
            if address is not None and not _is_ipv4(address):
                found.append(f"option {key!r}: {address!r} is not an IPv4 address.")
        for key, port in (("port", self.port), ("listen", self.listen)):
            if port is not None and not 0 < port < 65536:
                found.append(f"option {key!r}: {port} is not 1 to 65535.")
        if self.listen is not None and (self.host is None or not self.answers):
            found.append("option 'listen' does nothing without 'host' and 'answers'.")
        if self.takeover and not self.answers:
            found.append("option 'takeover' does nothing without 'answers'.")
        if self.baud not in _BAUDS:
            choices = ", ".join(map(str, _BAUDS))
            found.append(f"option 'baud': {self.baud} is not one of {choices}.")
        if len(self.talker) != 2 or not is_mnemonic(self.talker):
            found.append(f"option 'talker': {self.talker!r} is not two capital letters.")
        if self.manufacturer is not None and not is_mnemonic(self.manufacturer):
            found.append(f"option 'manufacturer': {self.manufacturer!r} is no mnemonic.")
        if not 1 <= self.repeat_s <= 600:
            found.append('option \'repeat\' is not between "1s" and "10min".')
        return found


class NmeaNotifier:
    """Sends each change of an alert, and at intervals the list of all that are up.

    What is up is also sent again with the list, for a datagram may be lost and a display may be
    switched on late. A command that does not lead to anything is refused with ``ARC``.
    """

    def __init__(
        self,
        options: NmeaOptions,
        context: NotifierContext,
        *,
        make_wire: "Callable[[NmeaOptions, OnLine | None], Wire] | None" = None,
    ) -> None:
        """Begin with the first list. Must run within the event loop."""
        self._options = options
        self._context = context
        self._shown = ShownAlerts(options.manufacturer or "")
        self._on_command: Callable[[Command], Reply] | None = None
        self._wire = (make_wire or _wire)(options, self._hear if options.answers else None)
        self._sequences = {"alf": 0, "alc": 0, "hbt": 0}
        self._replies: set[asyncio.Task[None]] = set()
        self._failed = False
        self._troubles = Troubles(context.report)
        self._takeover = Takeover(
            clock=context.clock,
            sleep=context.sleep,
            on_trouble=lambda text: self._troubles.say("display", text),
        )
        self._cycle: asyncio.Task[None] | None = asyncio.get_running_loop().create_task(
            self._repeat(), name=f"nmea {context.name}"
        )

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Self:
        """Build it within the event loop. Raises ConfigError for unusable options."""
        return cls(structure_options(NmeaOptions, options, notifier=context.name), context)

    def give_commands_to(self, on_command: Callable[[Command], Reply] | None) -> None:
        """See ``GivesCommands``."""
        self._on_command = on_command

    async def notify(self, alert: Alert) -> None:
        """Send ``alert``. Raises NotifierError if the wire does not take it."""
        here = self._options.takeover and alert.handed_to == self._context.name
        ours = here and alert.state.sounds
        self._takeover.told(alert, ours=ours)
        if ours:  # for whoever is responsible it is as if it were newly raised
            alert = evolve(alert, state=AlertState.RESPONSIBILITY_TRANSFERRED)
        await self._send(self._sentences(self._shown.take(alert)))

    async def check(self) -> str:
        """Send a heartbeat, which no display shows. Raises NotifierError if that fails."""
        await self._send((self._heartbeat(),))
        return f"{self._wire.where} took a heartbeat; look on a display whether it was heard."

    async def close(self) -> None:
        """Close the wire. Displays see the list no more, and so that we are gone."""
        tasks = [task for task in (self._cycle, *self._replies) if task is not None]
        self._cycle = None
        self._takeover.rest()
        for task in tasks:
            task.cancel()
        if tasks:
            await asyncio.wait(tasks)
        self._wire.close()

    # -- what is sent ----------------------------------------------------------------------------

    def _sentences(self, shown: ShownAlert) -> tuple[str, ...]:
        talker, wanted = self._options.talker, self._options.sentences
        sentences: tuple[str, ...] = ()
        if wanted is not Sentences.ALR:
            sentences += alf(shown, talker=talker, sequence=self._next("alf", 10))
        if wanted is not Sentences.ALF:
            sentences += (alr(shown, talker=talker),)
        return sentences

    def _list(self) -> tuple[str, ...]:
        sentences: tuple[str, ...] = ()
        every = self._shown.all
        for shown in every:
            sentences += self._sentences(shown)
        if self._options.sentences is not Sentences.ALR:
            number = self._next("alc", 100)
            sentences += alc(every, talker=self._options.talker, sequence=number)
        if self._options.heartbeat:
            sentences += (self._heartbeat(),)
        return sentences

    def _heartbeat(self) -> str:
        return hbt(
            interval_s=self._options.repeat_s,
            sequence=self._next("hbt", 10),
            talker=self._options.talker,
        )

    def _next(self, kind: str, limit: int) -> int:
        number = self._sequences[kind]
        self._sequences[kind] = (number + 1) % limit
        return number

    async def _repeat(self) -> None:
        while True:
            try:
                await self._send(self._list())
            except NotifierError as error:
                self._failed = True
                self._troubles.say("wire", str(error))
            else:
                self._failed = False
                self._troubles.say("wire", None)
            await self._context.sleep(_RETRY_S if self._failed else self._options.repeat_s)

    async def _send(self, sentences: tuple[str, ...]) -> None:
        try:
            await run_within(self._to_wire(sentences), _SEND_LIMIT_S, self._context.sleep)
        except OutOfTimeError:
            raise NotifierError(
                f"{self._wire.where} did not take the sentences within {_SEND_LIMIT_S:g} s.",
                remedy="Check the wiring, the speed and the handshake of the port.",
            ) from None

    async def _to_wire(self, sentences: tuple[str, ...]) -> None:
        await self._wire.send(sentences)

    # -- what comes back -------------------------------------------------------------------------

    def _hear(self, line: str) -> None:
        beat = parse_heartbeat(line)
        if beat is not None:
            self._takeover.hear(beat)
            return
        answer = parse_answer(line)
        if answer is None:
            return
        asked = self._shown.asked(answer)
        if asked and answer.kind is AnswerKind.REPEAT:
            self._reply(tuple(text for shown in asked for text in self._sentences(shown)))
            return
        if asked and self._obey(answer, asked[0].alert.name):
            return
        if self._reply((arc(answer, talker=self._options.talker),)):
            _LOGGER.warning("A command from %s was refused: %s", self._wire.where, line)

    def _obey(self, answer: Answer, name: str) -> bool:
        where = self._context.name
        command: Command
        match answer.kind:
            case AnswerKind.ACKNOWLEDGE:
                command = Acknowledge(name=name, where=where)
            case AnswerKind.SILENCE:
                command = Silence(name=name, where=where)
            case AnswerKind.TRANSFER if self._options.takeover:
                if not self._takeover.may_take(answer.talker):
                    return False
                command = Transfer(to=where, name=name, where=where)
            case _:
                return False
        if self._on_command is None:
            return False
        reply = self._on_command(command)
        _LOGGER.info("From %s: %s %s", self._wire.where, reply.text, reply.remedy)
        if answer.kind is not AnswerKind.TRANSFER:
            return reply.accepted
        if reply.events:  # without any it was not to be had: another display has it, perhaps
            self._takeover.taken_by(answer.talker)
        return bool(reply.events)

    def _reply(self, sentences: tuple[str, ...]) -> bool:
        if len(self._replies) >= _MOST_REPLIES:
            return False  # somebody floods us; whoever waits for an answer asks again
        task = asyncio.get_running_loop().create_task(self._send_reply(sentences))
        self._replies.add(task)
        task.add_done_callback(self._replies.discard)
        return True

    async def _send_reply(self, sentences: tuple[str, ...]) -> None:
        try:
            await self._send(sentences)
        except NotifierError as error:
            _LOGGER.warning("An answer to a display was not sent: %s", error)


def _wire(options: NmeaOptions, on_line: OnLine | None) -> Wire:
    if options.device is not None:
        return SerialWire(options.device, options.baud, on_line=on_line)
    assert options.host is not None  # noqa: S101 - one of the two is there, as was checked
    return UdpWire(
        options.host, options.port, listen=options.listen, bind=options.bind, on_line=on_line
    )


def _is_ipv4(text: str) -> bool:
    try:
        ipaddress.IPv4Address(text)
    except ValueError:
        return False
    return True
