"""Waking the crew: the sound of the most urgent alert, over and over until somebody answers."""

import asyncio
import contextlib
import logging
import math
import sys
from collections.abc import Callable, Coroutine, Mapping
from typing import Any, Self

from driftlead.alerts.alert import Alert, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call
from driftlead.errors import NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.notify.options import structure_options
from driftlead.notify.player import Playback, Player
from driftlead.notify.sound_devices import devices_hint
from driftlead.notify.sound_files import SoundFiles
from driftlead.notify.sound_options import SoundOptions
from driftlead.notify.sound_volume import Volume, card_of
from driftlead.notify.sounding import Sounding
from driftlead.notify.spoken import spoken_line
from driftlead.notify.spoken_voice import Voice
from driftlead.notify.waveform import LOUDEST

_LOGGER = logging.getLogger(__name__)
FIRST_TEST_AFTER_S = 20.0
"""How long after the start the players are first tried; loudspeakers on USB are slow to appear."""
MEND_EVERY_S = 60.0
"""How often a player that has failed is tried again while nothing sounds."""
FIRST_STEP = {Priority.ALARM: 1, Priority.WARNING: 0, Priority.CAUTION: 0}
"""The step of loudness each begins with; an alarm begins no more than one below the loudest."""


def ring_terminal_bell() -> None:
    """Ring, as the last resort when no player works; silent where no terminal is attached."""
    with contextlib.suppress(OSError, ValueError):
        if sys.stderr.isatty():
            sys.stderr.write("\a")
            sys.stderr.flush()


class SoundNotifier:
    """Sounds while any alert is active and unacknowledged.

    Alarms and warnings sound until answered or over, cautions once. A player that fails is
    reported and the next one takes over; when none works, the terminal bell rings, the log says so,
    and all are tried again every ``retry``. While nothing sounds the players are tried with silence
    every ``self_test_every``, so that a loudspeaker that was unplugged is told before the night.

    Build it in a running event loop.
    """

    def __init__(
        self,
        options: SoundOptions,
        context: NotifierContext,
        *,
        bell: Callable[[], None] = ring_terminal_bell,
    ) -> None:
        self._options = options
        self._context = context
        self._bell = bell
        self._player = Player(
            (*options.commands, *options.spares),
            clock=context.clock,
            sleep=context.sleep,
            settle_s=options.settle_s,
            overrun_s=options.overrun_s,
            spares=len(options.spares),
        )
        folder = context.state_dir / "sounds"
        self._files = SoundFiles(folder, name=context.name)
        self._volume = _volume(options, context)
        self._voice = Voice(folder, sleep=context.sleep) if options.voice else None
        self._sounding = Sounding()
        self._lock = asyncio.Lock()
        self._task: asyncio.Task[None] | None = None
        self._playback: Playback | None = None
        self._playing: Priority | None = None
        self._turning_up: asyncio.Task[None] | None = None
        self._ticked_s = -math.inf
        self._explained: tuple[str, str] | None = None
        self._reported: str | None = None
        self._mute: NotifierError | None = None
        self._testing: asyncio.Task[None] | None = asyncio.get_running_loop().create_task(
            self._test_again_and_again(), name=f"self-test {context.name}"
        )

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Self:
        """Build it and write the sound files, unless they are there already.

        Raises ConfigError for unusable options and NotifierError if the files cannot be written.
        """
        return cls(structure_options(SoundOptions, options, notifier=context.name), context)

    async def notify(self, alert: Alert) -> None:
        """Start, change or stop the sound. Raises NotifierError if it should sound and cannot."""
        await self._carry(alert, LOUDEST)

    async def called(self, call: Call) -> None:
        """Do the same at the loudness of the call, from the next play on if it sounds already."""
        await self._carry(call.alert, call.loudness)

    async def _carry(self, alert: Alert, loudness: int) -> None:
        self._sounding.update(alert, wanted=self._context.wants(alert), loudness=loudness)
        async with self._lock:
            await self._retune()
            if self._mute is not None and self._sounding.most_urgent is not None:
                raise self._mute

    async def check(self) -> str:
        """Play silence through every player. Raises NotifierError if the first one cannot."""
        try:
            proved = await self._prove()
        except NotifierError as error:
            hint = await self._hint(str(error))
            raise NotifierError(error.message, remedy=f"{error.remedy} {hint}".rstrip()) from error
        if proved is None:
            return "It is sounding at this moment."
        others = " ".join(self._lesser_troubles())
        return (
            f"{proved} (Silence: only your ears can prove that it is loud enough.)"
            f"{f' But: {others}' if others else ''}"
        )

    async def alls_well(self, tick: AllsWell) -> None:
        """Tick softly, if the owner wants that, it is time again, and all is well indeed."""
        every_s = self._options.all_well_every_s
        now_s = self._context.clock()
        if every_s is None or not tick.sees or now_s - self._ticked_s < every_s:
            return
        async with self._lock:
            idle = self._task is None or self._task.done()
            if idle and self._sounding.all_is_well and self._reported is None:
                self._ticked_s = now_s
                self._task = self._started(self._tick(), "tick")

    async def close(self) -> None:
        """Stop sounding."""
        for task in (self._testing, self._turning_up):
            if task is not None:
                await _ended(task)
        if self._voice is not None:
            await self._voice.close()
        async with self._lock:
            await self._stop()

    # -- sounding --------------------------------------------------------------------------------

    async def _retune(self) -> None:
        wanted = self._sounding.most_urgent
        if wanted is self._playing and self._task is not None and not self._task.done():
            return
        await self._stop()
        if wanted is not None:
            self._prepare_line()
            await self._start(wanted)
            self._playing = wanted
            self._task = self._started(self._keep_on(wanted), "sound")
        elif self._player.trouble is not None:
            self._task = self._started(self._mend(), "sound: try again")

    async def _stop(self) -> None:
        task, self._task, self._playing = self._task, None, None
        playback, self._playback = self._playback, None
        if playback is not None:
            playback.kill()  # first and without waiting: whoever asks for silence wants it now
        if task is not None:
            await _ended(task)
        if playback is not None:
            await playback.stop()

    async def _keep_on(self, priority: Priority) -> None:
        while True:
            try:
                if self._playback is None:
                    await self._context.sleep(self._options.retry_s)
                elif await self._heard_out(self._playback):
                    if priority is Priority.CAUTION:
                        self._sounding.cautions_were_heard()
                        self._playback = self._playing = None
                        return
                    await self._say_line()
                await self._start(priority)
            except Exception as error:  # whatever goes wrong, this task must go on
                _LOGGER.exception("The sounder failed")
                self._playback = None
                self._report(f"The sounder failed: {type(error).__name__}: {error}")

    async def _start(self, priority: Priority) -> None:
        self._playback = None
        if priority is not Priority.CAUTION:
            self._turn_up()
        first = LOUDEST if self._options.loudest_at_once else FIRST_STEP[priority]
        sound = self._files.sound(priority, first + self._sounding.loudness)
        try:
            self._playback = await self._player.start(sound)
        except NotifierError as error:
            if self._mute is None:
                _LOGGER.critical("The sounder is mute while it should sound. %s", error)
            self._bell()
            hint = await self._hint(str(error))
            self._mute = NotifierError(error.message, remedy=f"{error.remedy} {hint}".rstrip())
            self._report(str(self._mute))
            return
        self._mute = None

    async def _heard_out(self, playback: Playback) -> bool:
        await self._tell_trouble()
        finished = await self._finished(playback)
        if finished:
            await self._tell_trouble()
        return finished

    async def _finished(self, playback: Playback) -> bool:
        # What has failed is tried meanwhile: a loudspeaker plugged in again is used at once.
        broken = self._player.trouble is not None
        silence = self._files.silence
        mending = (
            self._started(self._player.try_failed(silence, beside=playback), "mend")
            if broken
            else None
        )
        try:
            await self._player.finish(playback)
        except NotifierError as error:
            _LOGGER.error("The sounder stopped while it should sound. %s", error)  # noqa: TRY400
            self._bell()
            return False
        finally:
            if mending is not None:
                await _ended(mending)
        return True

    def _turn_up(self) -> None:
        """Turn the volume up beside the sound, which does not wait for it."""
        if self._volume is not None and (self._turning_up is None or self._turning_up.done()):
            self._turning_up = self._started(self._volume.force_up(), "volume")

    # -- the voice and the tick ------------------------------------------------------------------

    def _prepare_line(self) -> str:
        """Have the sentence made that belongs to the sound; give it."""
        alert = self._sounding.foremost
        line = "" if alert is None or alert.priority is Priority.CAUTION else spoken_line(alert)
        if self._voice is not None and line:
            self._voice.prepare(line)
        return line

    async def _say_line(self) -> None:
        line = self._prepare_line()
        spoken = None if self._voice is None else self._voice.ready(line)
        if spoken is not None:
            with contextlib.suppress(NotifierError):  # the sound that comes next tells of it
                self._playback = await self._player.start(spoken)
                await self._finished(self._playback)

    async def _tick(self) -> None:
        with contextlib.suppress(NotifierError):
            await self._player.finish(await self._player.start(self._files.tick))
        await self._tell_trouble()

    # -- trying it without a sound ---------------------------------------------------------------

    async def _test_again_and_again(self) -> None:
        wait_s = FIRST_TEST_AFTER_S
        while True:
            await self._context.sleep(wait_s)
            wait_s = self._options.self_test_every_s
            try:
                await self._prove()
            except NotifierError:  # told as trouble already; it is tried again more often
                async with self._lock:
                    await self._retune()
            except Exception as error:  # the next test must come all the same
                _LOGGER.exception("The self-test of the sounder failed")
                self._report(f"Its self-test failed: {type(error).__name__}: {error}")

    async def _prove(self) -> str | None:
        """Play silence with every player; None if that would be, or was, in the way of a sound."""
        proved: list[str | NotifierError] = []

        async def prove() -> None:
            try:
                proved.append(await self._player.prove(self._files.silence))
            except NotifierError as error:
                proved.append(error)

        async with self._lock:
            if self._mute is not None:
                raise self._mute
            if self._playing is not None:
                return None
            await self._stop()
            proving = self._task = self._started(prove(), "sound: prove")
        try:
            await asyncio.wait({proving})
        finally:
            await _ended(proving)
        await self._prove_parts()
        if not proved:
            return None  # a sound came in between
        if isinstance(proved[0], NotifierError):
            raise proved[0]
        return proved[0]

    async def _prove_parts(self) -> None:
        if self._voice is not None:
            self._voice.probe()
        if self._volume is not None:
            await self._volume.probe()
        await self._tell_trouble()

    async def _mend(self) -> None:
        while True:
            await self._player.try_failed(self._files.silence)
            await self._tell_trouble()
            if self._player.trouble is None:
                self._mute = None
                return
            await self._context.sleep(MEND_EVERY_S)

    # -- telling what is wrong -------------------------------------------------------------------

    async def _tell_trouble(self) -> None:
        troubles = self._lesser_troubles()
        if (trouble := self._player.trouble) is not None:
            troubles.insert(0, f"{trouble} {await self._hint(trouble)}".rstrip())
        self._report(" ".join(troubles) or None)

    def _lesser_troubles(self) -> list[str]:
        """What is wrong that does not keep it from sounding."""
        parts = (self._volume, self._voice)
        return [part.trouble for part in parts if part is not None and part.trouble is not None]

    async def _hint(self, trouble: str) -> str:
        """Name the devices there are, once for each trouble."""
        if self._options.players is not None:
            return ""
        if self._explained is None or self._explained[0] != trouble:
            self._explained = (trouble, await devices_hint(self._context.sleep))
        return self._explained[1]

    def _report(self, text: str | None) -> None:
        if text != self._reported:
            self._reported = text
            self._context.report(text)

    def _started(self, work: Coroutine[Any, Any, None], name: str) -> "asyncio.Task[None]":
        task = asyncio.get_running_loop().create_task(work, name=name)
        task.add_done_callback(_log_fault)
        return task


async def _ended(task: "asyncio.Task[None]") -> None:
    """End it and wait until it has cleared up; asked twice, it is not disturbed in that."""
    if not task.done() and not task.cancelling():
        task.cancel()
    await asyncio.wait({task})


def _log_fault(task: "asyncio.Task[None]") -> None:
    if not task.cancelled() and (fault := task.exception()) is not None:
        _LOGGER.error("The sounder: %s failed", task.get_name(), exc_info=fault)


def _volume(options: SoundOptions, context: NotifierContext) -> Volume | None:
    if options.volume_control is None:
        return None
    return Volume(
        options.volume_control,
        card=options.volume_card or card_of(options.device),
        percent=options.volume_percent,
        sleep=context.sleep,
    )
