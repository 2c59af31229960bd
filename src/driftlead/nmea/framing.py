"""A byte stream cut into lines, in bounded memory whatever arrives."""

from typing import Final

MAX_LINE_BYTES: Final = 1024
"""No line from a wire is longer. A sentence has 82 characters by the standard and a TAG block some
more; what is far longer is binary, noise, or a port at the wrong speed."""


class LineFramer:
    """Cuts one stream into lines at CR, LF or CRLF; how the stream was chunked makes no difference.

    Empty lines are dropped. A line of more than ``longest_bytes`` is dropped up to its line end
    and counted in ``overlong``. Lines are latin-1 text: one character for each byte, so that no
    byte can be lost or raise.
    """

    def __init__(self, longest_bytes: int = MAX_LINE_BYTES) -> None:
        self._longest_bytes = longest_bytes
        self.overlong: int = 0
        self._gathered = bytearray()
        self._dropping = False

    def feed(self, data: bytes) -> list[str]:
        """Take the next bytes of the stream; the lines that ended within them."""
        # CRLF becomes two line ends with an empty line between, which is dropped: so a CRLF torn
        # apart by the chunking needs no memory of the CR.
        *ended, rest = data.replace(b"\r", b"\n").split(b"\n")
        lines = []
        for piece in ended:
            self._gather(piece)
            if self._gathered:
                lines.append(self._gathered.decode("latin-1"))
                self._gathered.clear()
            self._dropping = False
        self._gather(rest)
        return lines

    def flush(self) -> list[str]:
        """End the stream: its last line if that had no line end. The framer is then as new.

        ``overlong`` goes on counting.
        """
        return self.feed(b"\n")

    def _gather(self, piece: bytes) -> None:
        if self._dropping:
            return
        if len(self._gathered) + len(piece) > self._longest_bytes:
            self.overlong += 1
            self._dropping = True
            self._gathered.clear()
        else:
            self._gathered += piece
