"""Playing sound files with other programs, watched closely: a silent player must not go unseen."""

import asyncio
import contextlib
import os
import shlex
import signal
import tempfile
from asyncio.subprocess import DEVNULL, Process
from collections.abc import Awaitable, Callable, Sequence
from pathlib import Path
from typing import IO

from attrs import frozen

from driftlead.errors import NotifierError
from driftlead.notify.within import OutOfTimeError, run_within

_STDERR_SHOWN = 300
_LEAST_PLAYED = 0.5  # of a sound's duration; a player that ends sooner has played nothing


@frozen(kw_only=True)
class SoundFile:
    """A sound on disk and how long it lasts."""

    path: Path
    duration_s: float


class Playback:
    """One run of a player program."""

    def __init__(
        self,
        *,
        index: int,
        process: Process,
        stderr: IO[bytes] | None,
        sound: SoundFile,
        began_s: float,
    ) -> None:
        self.index = index
        self.sound = sound
        self.began_s = began_s
        self._process = process
        self._stderr = stderr

    async def exit_code(self) -> int:
        """Wait for the program to end."""
        return await self._process.wait()

    def stderr_text(self) -> str:
        """Return the end of what it had to say."""
        if self._stderr is None:
            return ""
        size = self._stderr.seek(0, os.SEEK_END)
        self._stderr.seek(max(0, size - _STDERR_SHOWN))
        return " ".join(self._stderr.read().decode(errors="replace").split())

    def kill(self) -> None:
        """End it at once, with everything it started."""
        if self._process.returncode is None:
            # A player may be a script: the whole group goes, or its children would play on.
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self._process.pid, signal.SIGKILL)

    async def stop(self) -> None:
        """Kill it and clear up. May be called more than once."""
        self.kill()
        try:
            await self._process.wait()
        finally:
            if self._stderr is not None:
                self._stderr.close()


class Player:
    """Several player commands, tried in order; the sound file becomes the last argument.

    A command that has failed goes to the end of the order until it has been seen to work again,
    so that a player that hangs is not waited for again and again. ``trouble`` tells of it as long.
    The last ``spares`` of the commands are tried only where the others fail; nobody relies on
    them, so they are not proved and are no trouble of their own.
    ``settle_s``: a program still running after this long is taken to be playing.
    ``overrun_s``: a program running this much longer than the sound lasts hangs, and is killed.
    """

    def __init__(
        self,
        commands: Sequence[Sequence[str]],
        *,
        clock: Callable[[], float],
        sleep: Callable[[float], Awaitable[None]],
        settle_s: float,
        overrun_s: float,
        spares: int = 0,
    ) -> None:
        self._commands = [tuple(command) for command in commands]
        self._relied_on = range(len(self._commands) - spares)
        self._clock = clock
        self._sleep = sleep
        self._settle_s = settle_s
        self._overrun_s = overrun_s
        self._faults: dict[int, NotifierError] = {}

    @property
    def trouble(self) -> str | None:
        """What is wrong with the commands that have failed, and what sounds instead."""
        broken = any(index in self._faults for index in self._relied_on)
        return str(self._all_faults()) if broken else None

    async def start(self, sound: SoundFile) -> Playback:
        """Start playing with the first command that can. Raises NotifierError when none can."""
        order = sorted(range(len(self._commands)), key=lambda i: (i in self._faults, i))
        for index in order:
            try:
                playback = await self._launch(index, sound)
            except NotifierError as error:
                self._faults[index] = error
            else:
                return playback
        raise self._all_faults()

    async def finish(self, playback: Playback) -> None:
        """Wait until it has played to its end. Raises NotifierError if it fails or hangs."""
        limit_s = playback.sound.duration_s + self._overrun_s
        try:
            code = await run_within(playback.exit_code(), limit_s, self._sleep)
            self._judge(playback, code)
        except OutOfTimeError:
            self._faults[playback.index] = self._hung(playback, limit_s)
            raise self._faults[playback.index] from None
        except NotifierError as error:
            self._faults[playback.index] = error
            raise
        finally:
            await playback.stop()
        self._faults.pop(playback.index, None)
        if playback.index in self._relied_on:
            for spare in [index for index in self._faults if index not in self._relied_on]:
                del self._faults[spare]  # it may be tried again the next time

    async def prove(self, sound: SoundFile) -> str:
        """Play ``sound`` to its end with every command but the spares; say what works.

        Raises NotifierError if the first command does not work.
        """
        await self._try(self._relied_on, sound)
        if 0 in self._faults:
            raise self._faults[0]
        return f"{self._shown(0)} opened its device and played." + (
            f" But: {self.trouble}" if self.trouble else ""
        )

    async def try_failed(self, sound: SoundFile, *, beside: Playback | None = None) -> None:
        """Play ``sound`` with every command that has failed, to see whether it works again.

        ``beside`` is what plays meanwhile: its command will be proved by that.
        """
        busy = None if beside is None else beside.index
        failed = [i for i in self._relied_on if i in self._faults and i != busy]
        await self._try(failed, sound)

    async def _try(self, indexes: Sequence[int], sound: SoundFile) -> None:
        for index in indexes:
            try:
                await self.finish(await self._launch(index, sound))
            except NotifierError as error:
                self._faults[index] = error

    async def _launch(self, index: int, sound: SoundFile) -> Playback:
        stderr = _stderr_file()
        try:
            process = await asyncio.create_subprocess_exec(
                *self._commands[index],
                str(sound.path),
                stdin=DEVNULL,
                stdout=DEVNULL,
                stderr=DEVNULL if stderr is None else stderr,
                start_new_session=True,
            )
        except BaseException as error:
            if stderr is not None:
                stderr.close()
            if isinstance(error, OSError):
                raise self._not_started(index, error) from error
            raise
        playback = Playback(
            index=index, process=process, stderr=stderr, sound=sound, began_s=self._clock()
        )
        try:
            code = await run_within(playback.exit_code(), self._settle_s, self._sleep)
            self._judge(playback, code)
        except OutOfTimeError:
            pass  # still running: it is playing
        except BaseException:
            await playback.stop()
            raise
        return playback

    def _judge(self, playback: Playback, code: int) -> None:
        name = self._shown(playback.index)
        said = playback.stderr_text()
        if code != 0:
            raise NotifierError(
                f"{name} failed with exit code {code}{f': {said}' if said else ''}.",
                remedy=f"Run `{name} {playback.sound.path}` by hand; `aplay -L` lists devices.",
            )
        played_s = self._clock() - playback.began_s
        if played_s < _LEAST_PLAYED * playback.sound.duration_s:
            raise NotifierError(
                f"{name} ended after {played_s:.1f} s of {playback.sound.duration_s:.1f} s of "
                "sound without an error, so it has not played it.",
                remedy="Use a player that waits until the sound has been heard.",
            )

    def _all_faults(self) -> NotifierError:
        faults = [self._faults[index] for index in sorted(self._faults)]
        working = [i for i in range(len(self._commands)) if i not in self._faults]
        lead = f"Playing through {self._shown(working[0])}." if working else "No player works."
        texts = " ".join(fault.message for fault in faults)
        return NotifierError(f"{lead} {texts}", remedy=faults[0].remedy)

    def _not_started(self, index: int, error: OSError) -> NotifierError:
        name = self._shown(index)
        if isinstance(error, FileNotFoundError) and self._commands[index][0] == "aplay":
            return NotifierError(
                "The program aplay is not installed.",
                remedy="On a Raspberry Pi install alsa-utils: sudo apt install alsa-utils.",
            )
        return NotifierError(
            f"{name} cannot be started: {error.strerror or error}.",
            remedy="Install the program or correct the option 'players'.",
        )

    def _hung(self, playback: Playback, limit_s: float) -> NotifierError:
        said = playback.stderr_text()
        return NotifierError(
            f"{self._shown(playback.index)} had not ended {limit_s:g} s after it began and was "
            f"stopped{f'; it said: {said}' if said else ''}.",
            remedy="Something else may hold the sound device; name it with the option 'device'.",
        )

    def _shown(self, index: int) -> str:
        return shlex.join(self._commands[index])


def _stderr_file() -> IO[bytes] | None:
    """Open a file, not a pipe: it never fills up and stops a player whose words nobody reads."""
    try:
        return tempfile.TemporaryFile()
    except OSError:
        return None  # a full disk must not silence the alarm
