"""The recorder: every input in order, in bounded parts, and no disk that fails stops the watch."""

import contextlib
import errno
import gzip
import os
import resource
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import RecordingError
from driftlead.journal import recorder as module
from driftlead.journal.part_file import PartFile
from driftlead.journal.recorder import HELD_BYTES, Recorder
from driftlead.journal.settings import RecordingSettings
from driftlead.lines import StampedLine
from driftlead.recording.format import HEADER, RecordedInput, parse_recorded

Faults = list[str | None]


@pytest.fixture
def settings(tmp_path: Path) -> RecordingSettings:
    """Give small parts and a small cap."""
    return RecordingSettings(
        directory=tmp_path / "nights", cap_bytes=10_000, part_bytes=1000, part_s=60.0
    )


@pytest.fixture
def faults() -> Faults:
    """Collect what the recorder reports, in order."""
    return []


@pytest.fixture
def recorder(settings: RecordingSettings, faults: Faults) -> Iterator[Recorder]:
    """Make a recorder that is not started yet."""
    made = Recorder(settings, on_fault=faults.append)
    yield made
    made.close(0.0)


def line(mono_s: float, text: str = "$GPGGA") -> StampedLine:
    """Make a line."""
    return StampedLine(mono_s, "gps", text)


def part(settings: RecordingSettings, sequence: int) -> list[str]:
    """Read the lines of a part, compressed or not."""
    plain = settings.directory / f"night-{sequence:06d}.log"
    packed = plain.with_name(plain.name + ".gz")
    raw = gzip.decompress(packed.read_bytes()) if packed.exists() else plain.read_bytes()
    assert raw.endswith(b"\n")
    return raw.decode("ascii").splitlines()


def names(settings: RecordingSettings) -> list[str]:
    """List the files of the folder."""
    return sorted(file.name for file in settings.directory.iterdir())


class Disk:
    """Stands between the recorder and the system: fails to write while ``error`` is set.

    Pieces of up to ``small_bytes`` can be written all the same.
    """

    def __init__(self) -> None:
        self.error: int | None = None
        self.small_bytes = 0

    def open(self, path: Path) -> PartFile:
        """Open a part on this disk."""
        disk = self

        class Part(PartFile):
            def write(self, data: bytes) -> None:
                if disk.error is not None and len(data) > disk.small_bytes:
                    raise OSError(disk.error, os.strerror(disk.error))
                super().write(data)

        return Part(path)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    """Put a disk that can be broken under the recorder."""
    made = Disk()
    monkeypatch.setattr(module, "PartFile", made.open)
    return made


@contextlib.contextmanager
def largest_file(size_bytes: int) -> Iterator[None]:
    """Let the system itself refuse to make any file larger, in the middle of a write if need be."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size_bytes, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_run_is_recorded_line_by_line(recorder: Recorder, settings: RecordingSettings) -> None:
    """The format header, what the run began with, every input, and the end."""
    recorder.start(1.5, header={"version": "0.1"})
    recorder.line(line(2.0, "$GPGGA,\xff"))
    recorder.input(2.25, "command", {"command": "weigh"})
    recorder.line(line(2.5))
    recorder.close(3.0)
    assert part(settings, 1) == [
        HEADER,
        '1.500000 !part {"part":1,"run":1,"version":"0.1"}',
        "2.000000 gps $GPGGA,^FF",
        '2.250000 !command {"command":"weigh"}',
        "2.500000 gps $GPGGA",
        "3.000000 !end {}",
    ]


def test_lines_wait_for_the_flush_and_inputs_do_not(
    recorder: Recorder, settings: RecordingSettings
) -> None:
    """A line costs no visit to the disk; a command is too rare and too dear to wait."""
    recorder.start(0.0, header={})
    recorder.line(line(1.0))
    assert len(part(settings, 1)) == 2
    recorder.flush()
    assert len(part(settings, 1)) == 3
    recorder.line(line(2.0))
    recorder.input(2.0, "tick", {})
    assert part(settings, 1)[3:] == ["2.000000 gps $GPGGA", "2.000000 !tick {}"]


def test_a_flood_of_lines_does_not_wait_in_memory(
    recorder: Recorder, settings: RecordingSettings
) -> None:
    """Much more than a second's worth is written without being asked."""
    recorder.start(0.0, header={})
    for number in range(2000):
        recorder.line(line(float(number), "x" * 80))
    assert len(part(settings, 1)) > 1000


def test_nothing_is_recorded_before_the_start_and_after_the_end(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """Stray lines while the daemon comes and goes do no harm."""
    recorder.line(line(0.0))
    recorder.input(0.0, "tick", {})
    recorder.flush()
    recorder.rotate(0.0, {})
    recorder.close(0.0)
    assert not settings.directory.exists()
    recorder.start(1.0, header={})
    recorder.close(2.0)
    before = part(settings, 1)
    recorder.line(line(3.0))
    recorder.input(3.0, "tick", {})
    recorder.flush()
    assert part(settings, 1) == before
    assert names(settings) == ["night-000001.log"]
    assert faults == []


@pytest.mark.parametrize(
    ("there", "sequence"),
    [
        ([], 1),
        (["night-000041.log"], 42),
        (["night-000007.log.gz", "night-000003.log"], 8),
        (["night-000009.log.gz.tmp", "notes.txt", "night-x.log"], 10),
        (["night-1234567.log.gz"], 1234568),
    ],
)
def test_a_run_begins_after_the_parts_on_the_disk(
    recorder: Recorder, settings: RecordingSettings, there: list[str], sequence: int
) -> None:
    """No part is ever written over."""
    settings.directory.mkdir()
    for name in there:
        (settings.directory / name).write_text("old")
    recorder.start(0.0, header={})
    assert recorder.sequence == sequence
    assert f'"run":{sequence}' in part(settings, sequence)[1]
    assert all((settings.directory / name).read_text() == "old" for name in there)


def test_a_part_is_full_by_size_or_by_time(recorder: Recorder, settings: RecordingSettings) -> None:
    """Whichever comes first; lines still waiting count."""
    assert not recorder.needs_rotation(0.0)
    recorder.start(100.0, header={})
    assert not recorder.needs_rotation(159.9)
    assert recorder.needs_rotation(160.0)
    recorder.line(line(101.0, "x" * 1000))
    assert recorder.needs_rotation(101.0)
    recorder.rotate(102.0, {})
    assert recorder.sequence == 2
    assert not recorder.needs_rotation(161.9)
    assert recorder.needs_rotation(162.0)


def test_parts_of_a_run_follow_each_other_without_a_gap(
    recorder: Recorder, settings: RecordingSettings
) -> None:
    """Each says which run it belongs to and which part of it it is."""
    settings.directory.mkdir()
    (settings.directory / "night-000004.log.gz").write_text("old")
    recorder.start(0.0, header={"state": "a"})
    recorder.line(line(1.0))
    recorder.rotate(2.0, {"state": "b", "part": 99})
    recorder.line(line(3.0))
    recorder.close(4.0)
    assert part(settings, 5)[1:] == [
        '0.000000 !part {"part":1,"run":5,"state":"a"}',
        "1.000000 gps $GPGGA",
    ]
    assert part(settings, 6)[1:] == [
        '2.000000 !part {"part":2,"run":5,"state":"b"}',
        "3.000000 gps $GPGGA",
        "4.000000 !end {}",
    ]


def test_a_second_run_of_the_same_recorder_has_parts_of_its_own(
    recorder: Recorder, settings: RecordingSettings
) -> None:
    """Its number is new even if the first run's part was taken away."""
    recorder.start(0.0, header={})
    recorder.close(1.0)
    (settings.directory / "night-000001.log").unlink()
    recorder.start(2.0, header={})
    assert recorder.sequence == 2
    assert part(settings, 2)[1] == '2.000000 !part {"part":1,"run":2}'


def test_finished_parts_are_compressed_and_the_open_one_is_not(
    recorder: Recorder, settings: RecordingSettings
) -> None:
    """What is in them stays the same, byte by byte."""
    recorder.start(0.0, header={})
    recorder.line(line(1.0))
    recorder.compress_finished()
    assert names(settings) == ["night-000001.log"]
    recorder.rotate(2.0, {})
    plain = (settings.directory / "night-000001.log").read_bytes()
    recorder.compress_finished()
    assert names(settings) == ["night-000001.log.gz", "night-000002.log"]
    with gzip.open(settings.directory / "night-000001.log.gz") as packed:
        assert packed.read() == plain
    recorder.line(line(3.0))
    recorder.close(4.0)
    assert len(part(settings, 2)) == 4
    recorder.compress_finished()
    assert names(settings) == ["night-000001.log.gz", "night-000002.log.gz"]


def test_equal_parts_compress_to_equal_files(tmp_path: Path) -> None:
    """Neither name nor time of compression is in them (RFC 1952: FLG and MTIME are zero)."""
    packed = []
    for folder in ("one", "two"):
        settings = RecordingSettings(directory=tmp_path / folder, cap_bytes=10_000, part_bytes=1000)
        recorder = Recorder(settings, on_fault=lambda _: None)
        recorder.start(0.0, header={})
        recorder.close(1.0)
        recorder.compress_finished()
        packed.append((settings.directory / "night-000001.log.gz").read_bytes())
    assert packed[0] == packed[1]
    assert packed[0][:8] == b"\x1f\x8b\x08\x00" + b"\0\0\0\0"


def test_what_a_killed_run_left_is_compressed_at_the_next_start(
    recorder: Recorder, settings: RecordingSettings
) -> None:
    """With its torn last line, and in spite of a half-written compressed file."""
    settings.directory.mkdir()
    torn = f"{HEADER}\n1.000000 gps $GPG".encode()
    (settings.directory / "night-000001.log").write_bytes(torn)
    (settings.directory / "night-000001.log.gz.tmp").write_bytes(b"\x1f\x8bhalf")
    recorder.compress_finished()
    assert "night-000001.log" in names(settings)  # before the start it may be another's open part
    recorder.start(5.0, header={})
    recorder.compress_finished()
    assert names(settings) == ["night-000001.log.gz", "night-000002.log"]
    with gzip.open(settings.directory / "night-000001.log.gz") as packed:
        assert packed.read() == torn


def test_a_compressed_file_that_got_its_name_wins_over_the_plain_one(
    recorder: Recorder, settings: RecordingSettings
) -> None:
    """The power went before the plain file was deleted, and took the plain file's end with it."""
    settings.directory.mkdir()
    (settings.directory / "night-000001.log").write_bytes(b"half")
    whole = gzip.compress(b"half and half\n")
    (settings.directory / "night-000001.log.gz").write_bytes(whole)
    recorder.start(0.0, header={})
    recorder.compress_finished()
    assert names(settings) == ["night-000001.log.gz", "night-000002.log"]
    assert (settings.directory / "night-000001.log.gz").read_bytes() == whole


def test_a_compression_that_fails_keeps_the_part_and_is_reported_with_the_next_flush(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """A folder stands where the compressed file is to be written."""
    recorder.start(0.0, header={})
    recorder.rotate(1.0, {})
    in_the_way = settings.directory / "night-000001.log.gz.tmp"
    in_the_way.mkdir()
    recorder.compress_finished()
    assert faults == []
    recorder.flush()
    assert len(faults) == 1
    assert faults[0] is not None
    assert "cannot be compressed" in faults[0]
    assert len(part(settings, 1)) == 2
    in_the_way.rmdir()
    recorder.compress_finished()
    recorder.flush()
    assert faults[1:] == [None]
    assert "night-000001.log" not in names(settings)


def test_the_oldest_parts_are_deleted_when_the_cap_is_passed(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """All files of a part go, and a file that is no part stays."""
    settings.directory.mkdir()
    for number in range(1, 7):
        (settings.directory / f"night-{number:06d}.log.gz").write_bytes(b"x" * 2000)
    (settings.directory / "night-000001.log").write_bytes(b"x" * 500)
    (settings.directory / "notes.txt").write_bytes(b"x" * 50_000)
    recorder.start(0.0, header={})
    assert recorder.prune(protect_from=None) == (1, 2)
    recorder.flush()
    assert faults == []
    assert names(settings) == [
        *[f"night-{number:06d}.log.gz" for number in range(3, 7)],
        "night-000007.log",
        "notes.txt",
    ]
    assert recorder.prune(protect_from=None) == ()


def test_parts_of_the_watch_that_is_on_are_kept_above_the_cap_and_that_is_reported(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """The recording of an accident must not be the one that is deleted."""
    settings.directory.mkdir()
    for number in (1, 2, 3):
        (settings.directory / f"night-{number:06d}.log.gz").write_bytes(b"x" * 6000)
    recorder.start(0.0, header={})
    assert recorder.prune(protect_from=2) == (1,)
    recorder.flush()
    assert len(faults) == 1
    assert faults[0] is not None
    assert "cap of 10000" in faults[0]
    recorder.flush()
    assert len(faults) == 1
    assert recorder.prune(protect_from=None) == (2,)
    recorder.flush()
    assert faults[1:] == [None]


def test_the_open_part_is_never_deleted(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """However large it is, and even if no watch is on."""
    recorder.start(0.0, header={})
    recorder.line(line(1.0, "x" * 20_000))
    recorder.flush()
    assert recorder.prune(protect_from=None) == ()
    assert recorder.prune(protect_from=99) == ()
    assert names(settings) == ["night-000001.log"]


def test_a_full_disk_raises_nothing_and_loses_nothing_if_it_is_short(
    recorder: Recorder, settings: RecordingSettings, faults: Faults, disk: Disk
) -> None:
    """One report at the beginning, one at the end, and then every line is there, in order."""
    recorder.start(0.0, header={})
    disk.error = errno.ENOSPC
    for second in range(1, 6):
        recorder.line(line(float(second)))
        recorder.flush()
    assert len(faults) == 1
    assert faults[0] is not None
    assert "night-000001.log" in faults[0]
    assert os.strerror(errno.ENOSPC) in faults[0]
    assert "1 lines are waiting, 0 lines are lost" in faults[0]
    disk.error = None
    recorder.flush()
    assert faults[1:] == [None]
    assert part(settings, 1)[2:] == [f"{second}.000000 gps $GPGGA" for second in range(1, 6)]
    assert recorder.lost_lines == 0


def test_a_disk_that_stays_full_loses_the_oldest_lines_and_the_recording_says_so(
    recorder: Recorder, settings: RecordingSettings, faults: Faults, disk: Disk
) -> None:
    """Memory is bounded, and nobody takes the recording for whole."""
    recorder.start(0.0, header={})
    disk.error = errno.ENOSPC
    count = 3 * HELD_BYTES // 1000
    for number in range(count):
        recorder.line(line(float(number), "x" * 1000))
    assert recorder._queued_bytes <= HELD_BYTES + 100_000
    disk.error = None
    recorder.flush()
    assert [fault is None for fault in faults] == [False, True]
    assert recorder.lost_lines > 0
    assert part(settings, 1)[2] == f"# {recorder.lost_lines} lines lost here"
    recorded = [parse_recorded(text) for text in part(settings, 1)[3:]]
    assert recorded == [line(float(n), "x" * 1000) for n in range(recorder.lost_lines, count)]


def test_a_part_is_not_finished_while_its_lines_wait_for_room(
    recorder: Recorder, settings: RecordingSettings, disk: Disk
) -> None:
    """What waits happened before the new part begins, and must stand before it."""
    recorder.start(0.0, header={})
    recorder.line(line(1.0, "x" * 500))
    disk.error = errno.ENOSPC
    disk.small_bytes = 200  # enough for a header
    recorder.rotate(60.0, {"try": 1})
    assert recorder.sequence == 1
    assert recorder.needs_rotation(60.0)
    disk.error = None
    recorder.rotate(61.0, {"try": 2})
    assert recorder.sequence == 2
    assert part(settings, 1)[2:] == ["1.000000 gps " + "x" * 500]
    assert part(settings, 2)[1] == '61.000000 !part {"part":2,"run":1,"try":2}'


def test_a_write_the_system_breaks_off_leaves_no_torn_line(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """The system stops in the middle of the piece; what was written of it is taken back."""
    recorder.start(0.0, header={})
    before = part(settings, 1)
    for number in range(50):
        recorder.line(line(float(number)))
    with largest_file(500):
        recorder.flush()
        assert part(settings, 1) == before
    assert len(faults) == 1
    recorder.flush()
    assert faults[1:] == [None]
    assert len(part(settings, 1)) == len(before) + 50


def test_a_part_whose_file_is_broken_is_given_up_for_a_new_one(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """Lines that could not be written are counted in the new part, not mixed into it."""
    recorder.start(0.0, header={})
    recorder.line(line(1.0))
    recorder.line(line(1.5))
    (settings.directory / "night-000001.log").unlink()
    recorder.flush()
    assert len(faults) == 1
    assert faults[0] is not None
    assert "removed" in faults[0]
    assert recorder.needs_rotation(1.5)
    recorder.rotate(2.0, {"state": "riding"})
    assert faults[1:] == [None]
    recorder.line(line(3.0))
    recorder.flush()
    assert recorder.lost_lines == 2
    assert part(settings, 2)[1:] == [
        '2.000000 !part {"part":2,"run":1,"state":"riding"}',
        "# 2 lines lost here",
        "3.000000 gps $GPGGA",
    ]


def test_a_folder_that_is_not_there_yet_is_tried_again(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """The run is recorded from its very start once the folder can be made."""
    settings.directory.write_text("in the way")
    recorder.start(0.0, header={"state": "a"})
    assert [fault is None for fault in faults] == [False]
    recorder.input(1.0, "command", {"command": "weigh"})
    assert not recorder.needs_rotation(1000.0)
    recorder.rotate(1.5, {"state": "b"})
    settings.directory.unlink()
    recorder.flush()
    assert faults[1:] == [None]
    assert recorder.sequence == 1
    assert part(settings, 1)[1:] == [
        '0.000000 !part {"part":1,"run":1,"state":"a"}',
        '1.000000 !command {"command":"weigh"}',
    ]


def test_a_new_part_that_cannot_be_begun_leaves_the_old_one_in_use(
    recorder: Recorder, settings: RecordingSettings, faults: Faults, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is reported, tried again, and leaves no empty file behind."""

    def no_more_files(path: Path) -> PartFile:
        raise OSError(errno.EACCES, os.strerror(errno.EACCES))

    recorder.start(0.0, header={})
    with monkeypatch.context() as patch:
        patch.setattr(module, "PartFile", no_more_files)
        recorder.rotate(1.0, {})
        recorder.line(line(2.0))
        recorder.flush()
        assert recorder.needs_rotation(2.0)
        recorder.rotate(2.0, {})
    assert [fault is None for fault in faults] == [False]
    assert names(settings) == ["night-000001.log"]
    recorder.rotate(3.0, {})
    assert faults[1:] == [None]
    assert part(settings, 1)[2:] == ["2.000000 gps $GPGGA"]
    assert recorder.sequence == 2


def test_a_full_disk_at_the_start_leaves_no_empty_parts(
    recorder: Recorder, settings: RecordingSettings, faults: Faults, disk: Disk
) -> None:
    """Each attempt would otherwise use up a number and a file."""
    disk.error = errno.ENOSPC
    recorder.start(0.0, header={})
    recorder.flush()
    recorder.flush()
    assert names(settings) == []
    assert recorder.sequence == 1
    disk.error = None
    recorder.flush()
    assert names(settings) == ["night-000001.log"]
    assert [fault is None for fault in faults] == [False, True]


def test_lines_that_could_not_be_written_by_the_end_are_counted(
    recorder: Recorder, faults: Faults, disk: Disk
) -> None:
    """Two lines and the end mark."""
    recorder.start(0.0, header={})
    disk.error = errno.EIO
    recorder.line(line(1.0))
    recorder.line(line(2.0))
    recorder.close(3.0)
    assert recorder.lost_lines == 3
    assert [fault is None for fault in faults] == [False]


def test_a_fault_may_be_recorded_by_the_one_who_hears_of_it(
    settings: RecordingSettings, disk: Disk
) -> None:
    """The daemon does so at once, from within the report."""

    def hear(text: str | None) -> None:
        made.input(9.0, "fault", {"text": "failed" if text else None})

    made = Recorder(settings, on_fault=hear)
    made.start(0.0, header={})
    disk.error = errno.ENOSPC
    made.line(line(1.0))
    made.flush()
    disk.error = None
    made.flush()
    made.close(10.0)
    assert part(settings, 1)[2:] == [
        "1.000000 gps $GPGGA",
        '9.000000 !fault {"text":"failed"}',
        '9.000000 !fault {"text":null}',
        "10.000000 !end {}",
    ]


def test_what_the_format_cannot_hold_is_counted_and_told_but_raises_nothing(
    recorder: Recorder, settings: RecordingSettings, faults: Faults
) -> None:
    """A fault of ours in recording must not end the watch."""
    recorder.start(0.0, header={})
    recorder.line(line(1.0, "\u20ac"))
    recorder.input(1.0, "weather", {})
    assert recorder.lost_lines == 2
    assert len(faults) == 1
    recorder.line(line(2.0))
    recorder.rotate(3.0, {})
    assert faults[1:] == [None]
    assert part(settings, 1)[2:] == ["# 2 lines lost here", "2.000000 gps $GPGGA"]


def test_a_header_that_is_not_json_is_refused_before_anything_is_written(
    recorder: Recorder, settings: RecordingSettings
) -> None:
    """It is settings and state, all ours: a mistake there must show in the first test."""
    with pytest.raises(RecordingError):
        recorder.start(0.0, header={"bad": object()})
    assert not settings.directory.exists()
    recorder.start(0.0, header={})
    with pytest.raises(RecordingError):
        recorder.rotate(1.0, {"bad": object()})
    assert recorder.sequence == 1


Step = tuple[str, Any]
steps = st.lists(
    st.one_of(
        st.tuples(st.just("line"), st.text(st.sampled_from("$G,*^\0\n\xff"), max_size=20)),
        st.tuples(st.just("input"), st.dictionaries(st.sampled_from("abc"), st.integers())),
        st.tuples(st.just("flush"), st.none()),
        st.tuples(st.just("rotate"), st.none()),
        st.tuples(st.just("compress"), st.none()),
        st.tuples(st.just("disk"), st.sampled_from([None, errno.ENOSPC, errno.EIO])),
    ),
    max_size=30,
)


@hypothesis.settings(deadline=None)
@given(steps)
def test_whatever_happens_the_recording_reads_back_in_order_without_what_was_lost(
    tmp_path_factory: pytest.TempPathFactory, steps: list[Step]
) -> None:
    """Under any failures every part can be read, nothing is doubled, and the losses add up."""
    settings = RecordingSettings(
        directory=tmp_path_factory.mktemp("nights"), cap_bytes=10**9, part_bytes=1000
    )
    disk = Disk()
    fed: list[StampedLine | RecordedInput] = []
    faults: Faults = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "PartFile", disk.open)
        recorder = Recorder(settings, on_fault=faults.append)
        recorder.start(0.0, header={})
        for mono_s, (step, value) in enumerate(steps):
            if step == "line":
                fed.append(line(float(mono_s), value))
                recorder.line(line(float(mono_s), value))
            elif step == "input":
                fed.append(RecordedInput(float(mono_s), "command", value))
                recorder.input(float(mono_s), "command", value)
            elif step == "rotate":
                recorder.rotate(float(mono_s), {})
            elif step == "disk":
                disk.error = value
            elif step == "compress":
                recorder.compress_finished()
            else:
                recorder.flush()
        disk.error = None
        recorder.close(1000.0)
    recorder.compress_finished()
    read = []
    for number in range(1, recorder.sequence + 1):
        texts = part(settings, number)
        assert texts[0] == HEADER
        assert f'"part":{number},"run":1' in texts[1]
        read += [item for text in texts[2:] if (item := parse_recorded(text)) is not None]
    assert read.pop() == RecordedInput(1000.0, "end", {})
    assert read == [item for item in fed if item in read]
    assert len(read) + recorder.lost_lines == len(fed)
    # Reports alternate, and end well.
    assert [fault is None for fault in faults] == [False, True] * (len(faults) // 2)
