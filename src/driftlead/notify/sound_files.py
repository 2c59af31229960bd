"""The sounds on disk, written once, so that the night needs neither a pen nor time to think."""

from collections.abc import Mapping
from pathlib import Path

from driftlead.alerts.alert import Priority
from driftlead.errors import NotifierError
from driftlead.notify.player import SoundFile
from driftlead.notify.waveform import LOUDNESS_DB, RHYTHMS, TICK, TICK_DB, rhythm_wav, silent_wav

_SILENCE_S = 0.2


class SoundFiles:
    """Every sound at every step of loudness, the tick, and a silence to try a player with.

    Raises NotifierError, for the notifier ``name``, if they cannot be written.
    """

    def __init__(self, folder: Path, *, name: str) -> None:
        self._folder = folder
        self._name = name
        self._sounds: Mapping[tuple[Priority, int], SoundFile] = {
            (priority, step): self._written(
                f"{priority.value}-{step}.wav",
                rhythm_wav(rhythm, gain_db=gain_db),
                rhythm.duration_s,
            )
            for priority, rhythm in RHYTHMS.items()
            for step, gain_db in enumerate(LOUDNESS_DB)
        }
        self.tick = self._written("tick.wav", rhythm_wav(TICK, gain_db=TICK_DB), TICK.duration_s)
        self.silence = self._written("silence.wav", silent_wav(_SILENCE_S), _SILENCE_S)

    def sound(self, priority: Priority, step: int) -> SoundFile:
        """Give the sound of ``priority`` at a step of loudness; beyond the last, the last."""
        return self._sounds[priority, max(0, min(step, len(LOUDNESS_DB) - 1))]

    def _written(self, name: str, data: bytes, duration_s: float) -> SoundFile:
        """Write a file unless it is already there, so that a read-only disk keeps its voice."""
        path = self._folder / name
        try:
            if not (path.is_file() and path.read_bytes() == data):
                path.parent.mkdir(parents=True, exist_ok=True)
                part = path.with_suffix(".part")
                part.write_bytes(data)
                part.replace(path)
        except OSError as error:
            raise NotifierError(
                f"Notifier {self._name!r} cannot write its sound {path}: "
                f"{error.strerror or error}.",
                remedy="Give driftlead a state folder it may write, with 8 MB free.",
            ) from error
        return SoundFile(path=path, duration_s=duration_s)
