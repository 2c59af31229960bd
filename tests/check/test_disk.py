"""Whether the disk takes what is to be written."""

import shutil
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest

from driftlead.check.disk import check_folder
from driftlead.check.finding import Level


@pytest.fixture
def free(monkeypatch: pytest.MonkeyPatch) -> Callable[[float], None]:
    """Pretend that so many bytes are free."""

    def pretend(count: float) -> None:
        monkeypatch.setattr(shutil, "disk_usage", lambda _: SimpleNamespace(free=count))

    return pretend


def test_a_folder_that_is_not_there_yet_is_judged_and_not_made(
    tmp_path: Path, free: Callable[[float], None]
) -> None:
    """A check run by root must not leave folders of root's."""
    free(5e9)
    folder = tmp_path / "a" / "b"
    finding = check_folder("journal", folder)
    assert finding.level is Level.OK
    assert "5.0 GB free" in finding.text
    assert not (tmp_path / "a").exists()


def test_a_file_in_the_way_fails(tmp_path: Path) -> None:
    """No folder can be made in it."""
    (tmp_path / "file").write_text("")
    assert check_folder("journal", tmp_path / "file" / "x").level is Level.FAIL


def test_a_folder_of_others_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the way to check as the right user."""
    monkeypatch.setattr("os.access", lambda *_: False)
    finding = check_folder("journal", tmp_path)
    assert finding.level is Level.FAIL
    assert "sudo -u driftlead" in finding.remedy


@pytest.mark.parametrize(
    ("free_bytes", "level"), [(10e6, Level.FAIL), (1e9, Level.LOOK), (3e9, Level.OK)]
)
def test_the_room_left_is_judged_by_what_recordings_may_take(
    tmp_path: Path, free: Callable[[float], None], free_bytes: float, level: Level
) -> None:
    """A cap above the room left fills the disk some night."""
    free(free_bytes)
    assert check_folder("recording", tmp_path, wanted_bytes=2_000_000_000).level is level
