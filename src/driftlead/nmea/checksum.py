"""The NMEA 0183 checksum: XOR of every character between the start and the ``*``."""


def checksum(body: str) -> int:
    """XOR of the characters of ``body`` (without ``$`` and without ``*hh``), 0..255.

    The whole sentence is folded as one big integer, halves onto halves: half the cost of a loop
    over characters, and every line read pays it. Characters beyond latin-1 count as ``?``.
    """
    word = int.from_bytes(body.encode("latin-1", "replace"), "big")
    # 1024 bits hold 128 characters, more than a legal sentence; longer ones fold in a loop.
    while word >> 1024:
        word = (word >> 1024) ^ (word & _LOW_1024)
    word ^= word >> 512
    word ^= word >> 256
    word ^= word >> 128
    word ^= word >> 64
    word ^= word >> 32
    word ^= word >> 16
    return (word ^ word >> 8) & 0xFF


_LOW_1024 = (1 << 1024) - 1
