"""A part takes each piece of text whole or not at all."""

import errno
import os
from pathlib import Path

import pytest

from driftlead.journal.part_file import PartFile


def test_a_file_that_exists_is_never_opened_as_a_new_part(tmp_path: Path) -> None:
    """It would be written over."""
    (tmp_path / "part").write_text("old")
    with pytest.raises(FileExistsError):
        PartFile(tmp_path / "part")
    assert (tmp_path / "part").read_text() == "old"


def test_a_torn_piece_that_could_not_be_taken_back_is_taken_back_later(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk fails in the middle of a piece, and at once again in cutting it off."""
    part = PartFile(tmp_path / "part")
    part.write(b"first\n")
    real_pwrite = os.pwrite

    def fail_in_the_middle(handle: int, data: bytes, offset: int) -> int:
        if len(data) < 6:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        return real_pwrite(handle, data[:6], offset)

    def fail(handle: int, length: int) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO))

    with monkeypatch.context() as patch:
        patch.setattr(os, "pwrite", fail_in_the_middle)
        patch.setattr(os, "ftruncate", fail)
        with pytest.raises(OSError, match=os.strerror(errno.EIO)):
            part.write(b"second\n")
        assert part.path.read_bytes() == b"first\nsecond"
        with pytest.raises(OSError, match=os.strerror(errno.EIO)):
            part.write(b"3\n")
    part.write(b"4\n")
    part.close()
    assert part.path.read_bytes() == b"first\n4\n"
    assert part.size_bytes == 8


def test_a_write_that_goes_in_bits_is_completed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """POSIX lets write take less than it was given (``man 2 write``)."""
    part = PartFile(tmp_path / "part")
    real_pwrite = os.pwrite
    monkeypatch.setattr(os, "pwrite", lambda h, data, offset: real_pwrite(h, data[:3], offset))
    part.write(b"1234567\n")
    part.write(b"89\n")
    part.close()
    assert part.path.read_bytes() == b"1234567\n89\n"
