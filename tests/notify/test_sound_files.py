"""The sounds on disk."""

from pathlib import Path

import pytest

from driftlead.alerts.alert import Priority
from driftlead.errors import NotifierError
from driftlead.notify.sound_files import SoundFiles
from driftlead.notify.waveform import LOUDEST, LOUDNESS_DB, RHYTHMS, rhythm_wav


def test_the_sound_files_are_written_once(tmp_path: Path) -> None:
    """A good file is left alone, a damaged one is put right."""
    SoundFiles(tmp_path / "sounds", name="test")
    alarm = tmp_path / "sounds" / f"alarm-{LOUDEST}.wav"
    warning = tmp_path / "sounds" / "warning-0.wav"
    assert alarm.read_bytes() == rhythm_wav(RHYTHMS[Priority.ALARM])
    written_at = (alarm.stat().st_ino, alarm.stat().st_mtime_ns)
    warning.write_bytes(b"damaged")
    SoundFiles(tmp_path / "sounds", name="test")
    assert (alarm.stat().st_ino, alarm.stat().st_mtime_ns) == written_at
    softest = rhythm_wav(RHYTHMS[Priority.WARNING], gain_db=LOUDNESS_DB[0])
    assert warning.read_bytes() == softest
    assert not list((tmp_path / "sounds").glob("*.part"))


def test_there_is_a_sound_for_every_step_and_beyond_the_last_it_is_the_loudest(
    tmp_path: Path,
) -> None:
    """Whoever escalates need not know how many steps there are."""
    files = SoundFiles(tmp_path, name="test")
    for priority in Priority:
        names = [files.sound(priority, step).path.stem for step in (-1, *range(LOUDEST + 1), 99)]
        steps = [0, *range(LOUDEST + 1), LOUDEST]
        assert names == [f"{priority.value}-{step}" for step in steps]


def test_they_fit_where_the_remedy_says_they_do(tmp_path: Path) -> None:
    """The remedy for a full disk asks for 8 MB."""
    SoundFiles(tmp_path, name="test")
    assert sum(path.stat().st_size for path in tmp_path.iterdir()) < 8_000_000


def test_a_folder_that_takes_no_files_is_told_at_the_start(tmp_path: Path) -> None:
    """Not first in the night; the error names the notifier and the file."""
    (tmp_path / "sounds").write_text("in the way")
    with pytest.raises(NotifierError, match=r"'cabin'.*/sounds/[a-z]+-0\.wav") as caught:
        SoundFiles(tmp_path / "sounds", name="cabin")
    assert caught.value.remedy
