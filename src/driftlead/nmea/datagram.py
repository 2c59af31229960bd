r"""The lines of one datagram: plain NMEA over UDP, or IEC 61162-450.

A 450 datagram begins with five letters and a NUL that say what it carries: ``UdPbC`` sentences
with TAG blocks; ``RaUdP`` and ``RrUdP`` pieces of a binary image (from memory of the standard).
"""

from typing import Final

from driftlead.nmea.framing import LineFramer

_SENTENCES: Final = b"UdPbC\0"
_HEADER_BYTES: Final = len(_SENTENCES)


def datagram_lines(data: bytes) -> list[str]:
    """Cut ``data`` into lines; the last needs no line end. TAG blocks stay in the text.

    A datagram with another 450 header carries no sentences and gives no lines.
    """
    if data.startswith(_SENTENCES):
        data = data[_HEADER_BYTES:]
    elif _has_450_header(data):
        return []
    framer = LineFramer()
    return framer.feed(data) + framer.flush()


def _has_450_header(data: bytes) -> bool:
    header = data[:_HEADER_BYTES]
    return header.endswith(b"\0") and header[:-1].isalpha() and len(header) == _HEADER_BYTES
