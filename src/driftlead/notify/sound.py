"""Waking the crew: the sound of the most urgent alert, over and over until somebody answers."""

import asyncio
import contextlib
import logging
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Self

from attrs import frozen

from driftlead.alerts.alert import Alert, Priority
from driftlead.errors import NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.notify.options import Commands, Seconds, structure_options
from driftlead.notify.player import Playback, Player, SoundFile
from driftlead.notify.sounding import Sounding
from driftlead.notify.waveform import RHYTHMS, rhythm_wav, silent_wav

_LOGGER = logging.getLogger(__name__)
_SILENCE_S = 0.2


@frozen(kw_only=True)
class SoundOptions:
    """The owner's options.

    ``device`` is the ALSA device aplay is to use (``aplay -L`` lists them); should it fail, the
    default device is tried. ``players`` replaces aplay by other commands, tried in order.
    """

    device: str | None = None
    players: Commands | None = None
    settle_s: Seconds = 0.3
    overrun_s: Seconds = 3.0
    retry_s: Seconds = 5.0

    def problems(self) -> list[str]:
        """``device`` belongs to aplay, and ``players`` replaces it."""
        if self.device is not None and self.players is not None:
            return ["option 'device' does nothing beside 'players': name the device in there."]
        return []

    @property
    def commands(self) -> tuple[tuple[str, ...], ...]:
        """The player commands, first choice first."""
        if self.players is not None:
            return self.players
        default = ("aplay", "-q")
        return (default,) if self.device is None else ((*default, "-D", self.device), default)


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
    and all are tried again every ``retry_s``.
    """

    def __init__(
        self,
        options: SoundOptions,
        context: NotifierContext,
        *,
        bell: Callable[[], None] = ring_terminal_bell,
    ) -> None:
        self._context = context
        self._retry_s = options.retry_s
        self._bell = bell
        self._player = Player(
            options.commands,
            clock=context.clock,
            sleep=context.sleep,
            settle_s=options.settle_s,
            overrun_s=options.overrun_s,
        )
        self._files = {
            priority: _written(
                context, f"{priority.value}.wav", rhythm_wav(rhythm), rhythm.duration_s
            )
            for priority, rhythm in RHYTHMS.items()
        }
        self._silence = _written(context, "silence.wav", silent_wav(_SILENCE_S), _SILENCE_S)
        self._sounding = Sounding()
        self._lock = asyncio.Lock()
        self._task: asyncio.Task[None] | None = None
        self._playback: Playback | None = None
        self._playing: Priority | None = None
        self._reported: str | None = None
        self._mute: NotifierError | None = None

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Self:
        """Build it and write the sound files, unless they are there already.

        Raises ConfigError for unusable options and NotifierError if the files cannot be written.
        """
        return cls(structure_options(SoundOptions, options, notifier=context.name), context)

    async def notify(self, alert: Alert) -> None:
        """Start, change or stop the sound. Raises NotifierError if it should sound and cannot."""
        self._sounding.update(alert, wanted=self._context.wants(alert))
        async with self._lock:
            await self._retune()
            if self._mute is not None and self._sounding.most_urgent is not None:
                raise self._mute

    async def check(self) -> str:
        """Play silence through every player. Raises NotifierError if the first one cannot."""
        async with self._lock:
            if self._playing is not None:
                return "It is sounding at this moment."
            await self._stop()
            proved = await self._player.prove(self._silence)
            self._report(self._player.trouble)
        return f"{proved} (Silence: only your ears can prove that it is loud enough.)"

    async def close(self) -> None:
        """Stop sounding."""
        async with self._lock:
            await self._stop()

    async def _retune(self) -> None:
        wanted = self._sounding.most_urgent
        if wanted is self._playing and self._task is not None and not self._task.done():
            return
        await self._stop()
        if wanted is not None:
            await self._start(wanted)
            self._playing = wanted
            self._task = asyncio.create_task(self._keep_on(wanted), name="sound")
        elif self._player.trouble is not None:
            self._task = asyncio.create_task(self._try_failed(), name="sound: try again")

    async def _stop(self) -> None:
        task, self._task, self._playing = self._task, None, None
        playback, self._playback = self._playback, None
        if playback is not None:
            playback.kill()  # first and without waiting: whoever asks for silence wants it now
        if task is not None:
            task.cancel()
            await asyncio.wait({task})
        if playback is not None:
            await playback.stop()

    async def _keep_on(self, priority: Priority) -> None:
        while True:
            try:
                if self._playback is None:
                    await self._context.sleep(self._retry_s)
                elif await self._finished(self._playback) and priority is Priority.CAUTION:
                    self._sounding.cautions_were_heard()
                    self._playback = self._playing = None
                    return
                await self._start(priority)
            except Exception as error:  # whatever goes wrong, this task must go on
                _LOGGER.exception("The sounder failed")
                self._playback = None
                self._report(f"The sounder failed: {type(error).__name__}: {error}")

    async def _start(self, priority: Priority) -> None:
        self._playback = None
        try:
            self._playback = await self._player.start(self._files[priority])
        except NotifierError as error:
            if self._mute is None:
                _LOGGER.critical("The sounder is mute while it should sound. %s", error)
            self._mute = error
            self._bell()
            self._report(str(error))
            return
        self._mute = None
        if self._player.trouble is not None:
            self._report(self._player.trouble)

    async def _finished(self, playback: Playback) -> bool:
        try:
            await self._player.finish(playback)
        except NotifierError as error:
            _LOGGER.error("The sounder stopped while it should sound. %s", error)  # noqa: TRY400
            self._bell()
            self._report(self._player.trouble)
            return False
        self._report(self._player.trouble)
        return True

    async def _try_failed(self) -> None:
        await self._player.try_failed(self._silence)
        self._report(self._player.trouble)
        if self._player.trouble is None:
            self._mute = None

    def _report(self, text: str | None) -> None:
        if text != self._reported:
            self._reported = text
            self._context.report(text)


def _written(context: NotifierContext, name: str, data: bytes, duration_s: float) -> SoundFile:
    """Write the file unless it is already there, so that a read-only disk keeps its voice."""
    path = context.state_dir / "sounds" / name
    try:
        if not (path.is_file() and path.read_bytes() == data):
            path.parent.mkdir(parents=True, exist_ok=True)
            part = _part(path)
            part.write_bytes(data)
            part.replace(path)
    except OSError as error:
        raise NotifierError(
            f"Notifier {context.name!r} cannot write its sound {path}: {error.strerror or error}.",
            remedy="Give driftlead a state folder it may write, with 4 MB free.",
        ) from error
    return SoundFile(path=path, duration_s=duration_s)


def _part(path: Path) -> Path:
    return path.with_suffix(".part")
