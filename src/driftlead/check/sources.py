"""What a source's wire is worth, judged by what was heard on it. Pure."""

from collections.abc import Mapping
from typing import Final

from driftlead.check.finding import Finding, Level
from driftlead.check.hearing import Hearing
from driftlead.nmea.rejects import Reject
from driftlead.sources.settings import SerialSettings, SourceSettings

_NOTABLE_PART: Final = 0.02
_WRONG_SPEED: Final = (
    "If it is a serial port, try another baud: 4800 is NMEA 0183, 38400 its high speed and AIS,"
    " 9600 many receivers on USB. Else the two wires (A and B) may be crossed."
)
_REMEDIES: Final[Mapping[Reject, str]] = {
    Reject.NO_START: _WRONG_SPEED,
    Reject.TOO_LONG: _WRONG_SPEED,
    Reject.BAD_ADDRESS: _WRONG_SPEED,
    Reject.BAD_CHECKSUM: "The wire is noisy or two talkers share it: check the connections and the"
    " ground, and join talkers by a multiplexer.",
    Reject.NO_CHECKSUM: "If this talker sends none, set [nmea] require_checksum = false.",
}
_OTHER_REMEDY: Final = "Look at the lines themselves: driftlead record FILE --for 10s."


def judge_source(hearing: Hearing, settings: SourceSettings, heard_s: float) -> Finding:
    """Judge one source after listening for ``heard_s`` seconds."""
    what = f"source {hearing.name}"
    if hearing.lines == 0:
        if not hearing.health.open:
            return Finding(Level.FAIL, what, hearing.health.detail)
        return Finding(
            Level.FAIL,
            what,
            f"{hearing.health.detail} Nothing came in within {heard_s:.0f} s.",
            _silent_remedy(settings),
        )
    decoder = hearing.decoder
    understood = sum(decoder.accepted.values())
    rejected = sum(decoder.rejected.values())
    said = f"{hearing.lines} lines in {heard_s:.0f} s"
    if understood == 0:
        why = f", rejected: {_counts(decoder.rejected)}" if rejected else ""
        unused = _counts(decoder.unsupported)
        other = f", of no use here: {unused}" if unused else ""
        remedy = _remedy(decoder.rejected) if rejected else "Switch on RMC and GGA in the talker."
        return Finding(Level.FAIL, what, f"{said}, none understood{why}{other}.", remedy)
    text = f"{said}: {_counts(decoder.accepted)}."
    if rejected > _NOTABLE_PART * hearing.lines:
        text = f"{text} Rejected: {_counts(decoder.rejected)}."
        return Finding(Level.LOOK, what, text, _remedy(decoder.rejected))
    return Finding(Level.OK, what, text)


def _counts(counts: Mapping[Reject, int] | Mapping[str, int]) -> str:
    ordered = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    return ", ".join(f"{str(name).replace('_', ' ')} {count}" for name, count in ordered)


def _remedy(rejected: Mapping[Reject, int]) -> str:
    most = max(rejected, key=lambda reason: rejected[reason])
    return _REMEDIES.get(most, _OTHER_REMEDY)


def _silent_remedy(settings: SourceSettings) -> str:
    if isinstance(settings, SerialSettings):
        return (
            "Check that the talker is on and the wires are on the right pins."
            f" A baud other than {settings.baud} may be silent too: NMEA 0183 has 4800 or 38400."
        )
    return "Check that the sender is on, sends to this port, and is in the same network."
