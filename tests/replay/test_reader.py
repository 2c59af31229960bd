"""Reading logs: plain, compressed, torn, of every line end; recordings and bare sentences."""

import gzip
from functools import reduce
from pathlib import Path
from typing import Any

import pytest

from driftlead.errors import RecordingError
from driftlead.lines import StampedLine
from driftlead.recording.format import HEADER, RecordedInput, format_input, format_line
from driftlead.replay import reader as reader_module
from driftlead.replay.reader import BARE_SOURCE, LogReader, ReplayInput


def sentence(body: str) -> str:
    total = reduce(lambda sofar, char: sofar ^ ord(char), body, 0)
    return f"${body}*{total:02X}"


def zda(second: int) -> str:
    clock = f"{second // 3600:02d}{second // 60 % 60:02d}{second % 60:02d}"
    return sentence(f"GPZDA,{clock},01,06,2026,00,00")


def written(path: Path, data: str | bytes) -> Path:
    """Write a file as it is, or compressed if its name says so."""
    data = data.encode("latin-1") if isinstance(data, str) else data
    path.write_bytes(gzip.compress(data) if path.suffix == ".gz" else data)
    return path


def read(*paths: Path) -> tuple[list[ReplayInput], LogReader]:
    reader = LogReader.of(paths)
    return [item for batch in reader.batches() for item in batch], reader


def texts(items: list[ReplayInput]) -> list[str]:
    return [item.text for item in items if isinstance(item, StampedLine)]


RECORDED: list[Any] = [
    RecordedInput(0.0, "part", {"run": "a", "part": 0}),
    StampedLine(1.25, "gps", "$GPHDT,123.456,T*32"),
    StampedLine(1.5, "wind", "\x00\xff^ with all its bytes"),
    RecordedInput(2.0, "command", {"command": "veer", "rode_m": 30.0}),
    StampedLine(2.75, "gps", ""),
    RecordedInput(3.0, "end", {}),
]


def recording(items: list[Any]) -> str:
    lines = [HEADER]
    for item in items:
        if isinstance(item, StampedLine):
            lines.append(format_line(item))
        else:
            lines.append(format_input(item.mono_s, item.kind, item.data))
    return "".join(f"{line}\n" for line in lines)


# -- bare logs ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["night.nmea", "night.log", "night.nmea.gz"])
def test_a_bare_log_gives_its_lines_with_the_times_they_tell(tmp_path: Path, name: str) -> None:
    lines = [zda(10), "$GPHDT,123.456,T*32", zda(12), "\x00\xff garbage"]
    items, reader = read(written(tmp_path / name, "".join(f"{line}\r\n" for line in lines)))
    assert items == [
        StampedLine(0.0, BARE_SOURCE, lines[0]),
        StampedLine(0.0, BARE_SOURCE, lines[1]),
        StampedLine(2.0, BARE_SOURCE, lines[2]),
        StampedLine(2.0, BARE_SOURCE, lines[3]),
    ]
    assert not reader.recordings
    assert reader.faults == []


@pytest.mark.parametrize("block", [1, 2, 3, 7, 64, 8192])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_every_line_end_ends_a_line_wherever_the_blocks_fall(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, end: str, block: int
) -> None:
    monkeypatch.setattr(reader_module, "BLOCK", block)
    lines = [zda(second) for second in range(20)]
    plain = written(tmp_path / "night.nmea", "".join(line + end for line in lines))
    packed = written(tmp_path / "night.nmea.gz", plain.read_bytes())
    for path in (plain, packed):
        items, _reader = read(path)
        assert [item.mono_s for item in items] == [float(second) for second in range(20)]
        assert texts(items) == lines


def test_the_last_line_needs_no_end(tmp_path: Path) -> None:
    for end in ("\n", "\r\n", "\r"):
        items, reader = read(written(tmp_path / "night.nmea", zda(0) + end + zda(1)))
        assert texts(items) == [zda(0), zda(1)]
        assert reader.faults == []


def test_tag_blocks_hide_no_times(tmp_path: Path) -> None:
    lines = [f"\\s:GP0001,n:5*2E\\{zda(second)}" for second in range(3)]
    items, _reader = read(written(tmp_path / "night.nmea", "".join(f"{x}\n" for x in lines)))
    assert [item.mono_s for item in items] == [0.0, 1.0, 2.0]
    assert texts(items) == lines


def test_empty_lines_are_nothing(tmp_path: Path) -> None:
    """As a source drops them on the wire: they are no bad sentences."""
    items, _reader = read(written(tmp_path / "night.nmea", f"\n\r\n{zda(0)}\r\r\n\n{zda(1)}\n\n"))
    assert texts(items) == [zda(0), zda(1)]


def test_logs_are_read_one_after_the_other_and_time_goes_on(tmp_path: Path) -> None:
    first = written(tmp_path / "a.nmea", f"{zda(100)}\n{zda(101)}\n")
    second = written(tmp_path / "b.nmea.gz", f"{zda(103)}\n{zda(104)}\n")
    items, reader = read(first, second)
    assert [item.mono_s for item in items] == [0.0, 1.0, 3.0, 4.0]
    assert reader.read_bytes == reader.total_bytes


def test_a_line_without_end_and_a_log_after_it_are_two_lines(tmp_path: Path) -> None:
    first = written(tmp_path / "a.nmea", zda(100))
    second = written(tmp_path / "b.nmea", zda(101))
    assert texts(read(first, second)[0]) == [zda(100), zda(101)]


@pytest.mark.parametrize("name", ["night.nmea", "night.nmea.gz"])
def test_it_says_how_far_it_has_come(tmp_path: Path, name: str) -> None:
    path = written(tmp_path / name, "".join(f"{zda(second)}\n" for second in range(20_000)))
    reader = LogReader.of([path])
    assert reader.total_bytes == path.stat().st_size
    assert reader.read_bytes == 0
    steps = [reader.read_bytes for _batch in reader.batches()]
    assert len(steps) > 10
    assert steps == sorted(steps)
    # gzip reads ahead, by 128 KiB from Python 3.12 on, so a small .gz is soon wholly read.
    part = 1.0 if path.suffix == ".gz" else 0.2
    assert 0 < steps[0] <= part * path.stat().st_size
    assert reader.read_bytes == reader.total_bytes


def test_a_line_that_never_ends_is_one_line(tmp_path: Path) -> None:
    [item], _reader = read(written(tmp_path / "zeros.nmea", b"\0" * 300_000))
    assert isinstance(item, StampedLine)
    assert len(item.text) == 300_000


# -- recordings --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["watch.log", "watch.log.gz"])
@pytest.mark.parametrize("block", [1, 5, 8192])
def test_a_recording_gives_back_what_was_recorded(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, block: int
) -> None:
    monkeypatch.setattr(reader_module, "BLOCK", block)
    items, reader = read(written(tmp_path / name, recording(RECORDED)))
    assert items == RECORDED
    assert reader.recordings
    assert reader.faults == []


def test_parts_of_a_recording_are_read_one_after_the_other(tmp_path: Path) -> None:
    first = written(tmp_path / "1.log.gz", recording(RECORDED[:3]))
    second = written(tmp_path / "2.log", recording(RECORDED[3:]))
    assert read(first, second)[0] == RECORDED


@pytest.mark.parametrize("lost", [1, 2, 5, 9])
def test_a_recording_torn_in_its_last_line_is_read_up_to_there(tmp_path: Path, lost: int) -> None:
    text = recording(RECORDED[:4])
    path = written(tmp_path / "1.log", text[:-lost])
    whole = written(tmp_path / "2.log", recording(RECORDED[4:]))
    items, reader = read(path, whole)
    if lost == 1:  # only the line end is missing
        assert items == RECORDED
        assert reader.faults == []
    else:
        assert items == RECORDED[:3] + RECORDED[4:]
        assert reader.faults == [f"{path}, line 5, is torn; it was left out."]


def test_zeros_at_the_end_are_what_a_power_cut_leaves(tmp_path: Path) -> None:
    path = written(tmp_path / "1.log", recording(RECORDED[:4]) + "\0" * 512)
    items, reader = read(path)
    assert items == RECORDED[:4]
    assert reader.faults == [f"{path}, line 6, is torn; it was left out."]


@pytest.mark.parametrize("block", [16, 8192])
def test_a_line_damaged_in_the_middle_stops_it_and_is_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, block: int
) -> None:
    monkeypatch.setattr(reader_module, "BLOCK", block)
    lines = recording(RECORDED).split("\n")
    lines[3] = "1.5 wind"
    path = written(tmp_path / "watch.log", "\n".join(lines))
    with pytest.raises(RecordingError) as caught:
        read(path)
    assert str(path) in caught.value.message
    assert "line 4" in caught.value.message
    assert caught.value.remedy


def test_a_recording_of_a_newer_format_is_refused(tmp_path: Path) -> None:
    path = written(tmp_path / "watch.log", recording(RECORDED).replace("format 1", "format 2"))
    with pytest.raises(RecordingError, match="format 2"):
        read(path)


# -- damage ------------------------------------------------------------------------------------


@pytest.mark.parametrize("kept", [0.3, 0.7, 0.95])
@pytest.mark.parametrize("recorded", [True, False])
def test_of_a_compressed_log_cut_off_all_that_can_be_read_is_read(
    tmp_path: Path, kept: float, recorded: bool
) -> None:
    lines = [StampedLine(float(second), "gps", zda(second)) for second in range(3000)]
    text = recording(lines) if recorded else "".join(f"{line.text}\n" for line in lines)
    path = written(tmp_path / "night.gz", text)
    data = path.read_bytes()
    path.write_bytes(data[: int(kept * len(data))])
    items, reader = read(path)
    assert texts(items) == [line.text for line in lines[: len(items)]]
    # Compression is about even over such a log.
    assert len(items) > 0.9 * kept * len(lines)
    [fault] = reader.faults
    assert str(path) in fault
    assert "breaks off" in fault


def test_a_small_compressed_log_cut_off_is_read_too(tmp_path: Path) -> None:
    lines = [zda(second) for second in range(40)]
    path = written(tmp_path / "night.gz", "".join(f"{line}\n" for line in lines))
    path.write_bytes(path.read_bytes()[:-8])
    items, reader = read(path)
    assert texts(items) == lines
    assert len(reader.faults) == 1


def test_what_follows_a_log_that_breaks_off_is_read(tmp_path: Path) -> None:
    broken = written(tmp_path / "1.gz", f"{zda(0)}\n{zda(1)}\n")
    broken.write_bytes(broken.read_bytes()[:-4])
    whole = written(tmp_path / "2.gz", f"{zda(2)}\n")
    items, reader = read(broken, whole)
    assert texts(items) == [zda(0), zda(1), zda(2)]
    assert len(reader.faults) == 1
    assert reader.read_bytes == reader.total_bytes


def test_a_compressed_log_damaged_inside_breaks_off_there(tmp_path: Path) -> None:
    path = written(tmp_path / "n.gz", "".join(f"{zda(second * 7)}\n" for second in range(12_000)))
    data = bytearray(path.read_bytes())
    middle = len(data) // 2
    data[middle : middle + 64] = b"\xff" * 64
    path.write_bytes(data)
    items, reader = read(path)
    assert 1000 < len(items) < 12_000
    [fault] = reader.faults
    assert "breaks off" in fault
    assert reader.read_bytes == reader.total_bytes


def test_an_empty_file_is_of_any_kind(tmp_path: Path) -> None:
    """A power cut leaves a part that was begun and never written."""
    watch = written(tmp_path / "1.log", recording(RECORDED))
    empty = tmp_path / "2.log"
    empty.write_bytes(b"")
    hollow = tmp_path / "3.log.gz"
    hollow.write_bytes(b"")
    items, reader = read(watch, empty, hollow)
    assert items == RECORDED
    assert reader.recordings
    assert read(empty)[0] == []


# -- what is refused ---------------------------------------------------------------------------


def test_recordings_and_bare_logs_are_not_mixed(tmp_path: Path) -> None:
    watch = written(tmp_path / "watch.log", recording(RECORDED))
    night = written(tmp_path / "night.nmea", zda(0))
    for paths in ([watch, night], [night, watch]):
        with pytest.raises(RecordingError, match="one go") as caught:
            LogReader.of(paths)
        assert caught.value.remedy


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    path = tmp_path / "nowhere.nmea"
    with pytest.raises(RecordingError, match="cannot be read") as caught:
        LogReader.of([path])
    assert str(path) in caught.value.message
    assert "No such file" in caught.value.message
    assert caught.value.remedy


def test_a_folder_is_no_log(tmp_path: Path) -> None:
    with pytest.raises(RecordingError, match="cannot be read"):
        LogReader.of([tmp_path])


def test_a_gz_that_is_none_is_said_to_be_none(tmp_path: Path) -> None:
    path = tmp_path / "night.nmea.gz"
    path.write_bytes(zda(0).encode())
    with pytest.raises(RecordingError, match="gzip"):
        LogReader.of([path])
