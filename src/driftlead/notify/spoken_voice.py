"""A voice made by espeak-ng, sentence by sentence, into sound files like any other."""

import asyncio
import hashlib
import logging
import shutil
import wave
from collections.abc import Awaitable, Callable
from pathlib import Path

from driftlead.errors import NotifierError
from driftlead.notify.player import SoundFile
from driftlead.notify.program import run_program

_LOGGER = logging.getLogger(__name__)
PROGRAM = "espeak-ng"
LIMIT_S = 10.0
_SPEAK = ("-s", "140", "-a", "200", "--stdin", "-w")  # slow and loud
_SHORTEST_S = 0.3


class Voice:
    """Makes sentences beforehand, so that no sound ever waits for one.

    ``trouble`` says why there is no voice. It is told, but a silent voice never stops a sound.
    """

    def __init__(self, folder: Path, *, sleep: Callable[[float], Awaitable[None]]) -> None:
        self._folder = folder
        self._sleep = sleep
        self._ready: dict[str, SoundFile] = {}
        self._making: asyncio.Task[None] | None = None
        self.trouble: str | None = None

    def probe(self) -> None:
        """Look whether the program is there."""
        self.trouble = (
            None
            if shutil.which(PROGRAM)
            else f"There is no voice: {PROGRAM} is not installed. Install it (sudo apt install"
            f" {PROGRAM}) or take 'voice' out."
        )

    def prepare(self, line: str) -> None:
        """Begin to make ``line``, unless it is made or another one is in the making."""
        if line in self._ready or (self._making is not None and not self._making.done()):
            return
        self._making = asyncio.get_running_loop().create_task(self._make(line), name="voice")

    def ready(self, line: str) -> SoundFile | None:
        """Give the sound of ``line``, None as long as it is not made."""
        return self._ready.get(line)

    async def close(self) -> None:
        """Stop making."""
        if self._making is not None:
            self._making.cancel()
            await asyncio.wait({self._making})
            self._making = None

    async def _make(self, line: str) -> None:
        digest = hashlib.sha256(line.encode()).hexdigest()[:12]
        path = self._folder / f"spoken-{digest}.wav"
        part = path.with_suffix(".part")
        try:
            await run_program(
                (PROGRAM, *_SPEAK, str(part)), limit_s=LIMIT_S, sleep=self._sleep, stdin=line
            )
            duration_s = _duration_s(part)
            part.replace(path)
        except NotifierError as error:
            self.trouble = f"There is no voice: {error.message} Reinstall {PROGRAM}."
        except (OSError, EOFError, wave.Error) as error:
            self.trouble = f"There is no voice: {PROGRAM} made no sound of it ({error})."
        except Exception as error:  # whatever it is, the sound goes on without a voice
            _LOGGER.exception("The voice failed")
            self.trouble = f"There is no voice: {type(error).__name__}: {error}."
        else:
            self.trouble = None
            self._ready[line] = SoundFile(path=path, duration_s=duration_s)


def _duration_s(path: Path) -> float:
    with wave.open(str(path)) as file:
        duration_s = float(file.getnframes() / file.getframerate())
    if duration_s < _SHORTEST_S:
        raise EOFError(f"{duration_s:.1f} s only")
    return duration_s
