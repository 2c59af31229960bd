"""Logs from disk: plain or .gz, our own recordings or bare NMEA, in batches of inputs."""

import codecs
import gzip
import io
import re
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from attrs import define, field

from driftlead.errors import RecordingError
from driftlead.lines import StampedLine
from driftlead.recording.format import RecordedInput, is_recording, parse_recorded
from driftlead.replay.stamps import TIMED, BareStamps

BLOCK: Final = 8 * 1024
"""Bytes read at a time: lines used up while the processor's cache still holds them."""
BARE_SOURCE: Final = "log"
"""The source name that lines of a bare log bear."""

_SENTENCE: Final = re.compile(rb"[$!][A-Z][A-Z0-9]{2,},")
_HEAD_BYTES: Final = 16
"""More than the part of a sentence that it is known by."""

ReplayInput = StampedLine | RecordedInput
Stream = io.BufferedReader | gzip.GzipFile


@define
class LogReader:
    """Reads logs one after the other.

    ``read_bytes`` of ``total_bytes`` says how far it has come (as stored, so compressed bytes
    count). ``faults`` are things a person should know that did not stop the reading.
    """

    paths: tuple[Path, ...]
    total_bytes: int = 0
    read_bytes: int = 0
    faults: list[str] = field(factory=list)
    recordings: bool = field(default=False, init=False)
    _stamps: BareStamps = field(factory=BareStamps, init=False)

    @classmethod
    def of(cls, paths: Sequence[Path]) -> "LogReader":
        """A reader of these files; raises RecordingError if one cannot be opened or kinds mix."""
        total = 0
        kinds = set()
        for path in paths:
            try:
                total += path.stat().st_size
                with _opened(path) as stream:
                    first = stream.readline(256)
            except (OSError, EOFError, zlib.error) as error:
                raise RecordingError(
                    f"{path} cannot be read: {_why(error)}.",
                    remedy="Check the name and that the file is a log or a .gz of one.",
                ) from error
            # A file that is empty since the power went, as they are then, is of any kind.
            if first:
                kinds.add(is_recording(first.decode("latin-1")))
        if len(kinds) > 1:
            raise RecordingError(
                "Recordings and bare NMEA logs cannot be replayed in one go.",
                remedy="Give files of one kind only.",
            )
        reader = cls(tuple(paths), total)
        reader.recordings = kinds == {True}
        return reader

    def check_sentences(self) -> None:
        """Raise RecordingError for a file in which no line is a sentence: it is no log at all."""
        for path in () if self.recordings else self.paths:
            if path.stat().st_size:
                _check_has_sentences(path)

    def batches(self) -> Iterator[list[ReplayInput]]:
        """The inputs in order. Raises RecordingError for a damaged recording, naming the line."""
        done = 0
        for path in self.paths:
            with path.open("rb") as stored:
                try:
                    for batch in self._file(path, _unpacked(path, stored)):
                        self.read_bytes = done + stored.tell()
                        yield batch
                except (OSError, EOFError, zlib.error) as error:
                    self.faults.append(
                        f"{path} breaks off: {_why(error)}. What came before was replayed."
                    )
            done += path.stat().st_size
            self.read_bytes = done

    def _file(self, path: Path, stream: Stream) -> Iterator[list[ReplayInput]]:
        return self._recording(path, stream) if self.recordings else self._bare(stream)

    def _bare(self, stream: Stream) -> Iterator[list[ReplayInput]]:
        stamps = self._stamps
        mono_s = stamps.mono_s
        for lines, _torn in _blocks(stream):
            batch: list[ReplayInput] = []
            for line in lines:
                if not line:
                    continue
                # Most lines have no time; asking only of the others saves a call for each.
                if line[3:6] in TIMED or line[0] == "\\":
                    mono_s = stamps.stamp(line)
                batch.append(StampedLine(mono_s, BARE_SOURCE, line))
            yield batch

    def _recording(self, path: Path, stream: Stream) -> Iterator[list[ReplayInput]]:
        number = 0
        for lines, torn in _blocks(stream):
            batch: list[ReplayInput] = []
            for line in lines:
                number += 1
                try:
                    item = parse_recorded(line)
                except RecordingError as error:
                    if torn:
                        # Power went while this line was written; the rest is sound.
                        self.faults.append(f"{path}, line {number}, is torn; it was left out.")
                        continue
                    raise RecordingError(
                        f"{path}, line {number}: {error.message}", remedy=error.remedy
                    ) from error
                if item is not None:
                    batch.append(item)
            yield batch


def _blocks(stream: Stream) -> Iterator[tuple[list[str], bool]]:
    """The lines without their ends, some at a time; True marks a last line that has no end.

    CR, LF and CRLF end a line. What can be read before a damage is given before the error comes
    (a text wrapper would throw it away).
    """
    latin_1 = codecs.getincrementaldecoder("latin-1")()
    decoder = io.IncrementalNewlineDecoder(latin_1, translate=True)
    rest = ""
    while data := stream.read1(BLOCK):
        lines = (rest + decoder.decode(data)).split("\n")
        rest = lines.pop()
        yield lines, False
    *lines, rest = (rest + decoder.decode(b"", final=True)).split("\n")
    if lines:
        yield lines, False
    if rest:
        yield [rest], True


def _check_has_sentences(path: Path) -> None:
    """Refuse what is no log at all; as a rule one of the first lines tells."""
    try:
        with _opened(path) as stream:
            before = b""
            while data := stream.read1(BLOCK):
                if _SENTENCE.search(before + data):
                    return
                before = data[-_HEAD_BYTES:]
    except (OSError, EOFError, zlib.error):
        return  # it breaks off; reading it will tell
    raise RecordingError(
        f"{path} is no log: there is no NMEA 0183 sentence in it.",
        remedy="Give a recording made by driftlead, or the log of a receiver.",
    )


def _opened(path: Path) -> Stream:
    if path.suffix == ".gz":
        return gzip.open(path, "rb")
    return path.open("rb")


def _unpacked(path: Path, stored: io.BufferedReader) -> Stream:
    if path.suffix == ".gz":
        return gzip.GzipFile(fileobj=stored, mode="rb")
    return stored


def _why(error: BaseException) -> str:
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    return str(error) or type(error).__name__
