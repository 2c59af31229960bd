"""Where each field stands in its sentence, as pynmea2 declares it."""

from decimal import Decimal

import pynmea2


class THS(pynmea2.TalkerSentence):  # type: ignore[misc]  # pynmea2 is untyped
    """True heading and status, which pynmea2 does not know yet (IEC 61162-1)."""

    fields = (("Heading", "heading", Decimal), ("Mode indicator", "mode"))


def field_index(kind: str, name: str) -> int:
    """Index of field ``name`` in sentence ``kind``, counted after the address."""
    sentence = pynmea2.TalkerSentence.sentence_types[kind]
    index: int = sentence.name_to_idx[name]
    return index


def known_kinds() -> frozenset[str]:
    """Every sentence type pynmea2 has a declaration for."""
    return frozenset(pynmea2.TalkerSentence.sentence_types)
