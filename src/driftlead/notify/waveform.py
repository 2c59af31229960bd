"""The sounds: a 520 Hz square wave in a rhythm for each priority, as WAV bytes. Pure.

The tone: NFPA 72, 18.4.5.3 asks for a square wave of 520 Hz +-10 % where sleepers are to be woken,
for its odd harmonics wake far more people than the usual high beep. The rhythm: three half-second
pulses and a pause (ISO 8201, "T-3") mean "evacuate", and four short ones carbon monoxide, so the
rhythms here are none of these. The alarm is short, short, long: the letter U, which the
International Code of Signals gives as "You are running into danger". The tick that all is well is
the same tone, once, so short and soft that it tells only those who listen for it.
"""

import io
import sys
import wave
from array import array
from collections.abc import Mapping

from attrs import frozen

from driftlead.alerts.alert import Priority

RATE_HZ = 48_000
_PERIOD_SAMPLES = 92  # a whole, even number: equal half waves and no beat with the sample rate
TONE_HZ = RATE_HZ / _PERIOD_SAMPLES
"""521.7 Hz."""
_PEAK = round(0.8 * 32_767)  # filters in the sound card overshoot a square's edges by a tenth
_RAMP_S = 0.004  # long enough not to click, too short to hear as a swell


@frozen(kw_only=True)
class Rhythm:
    """Pulses, each as seconds of sound and seconds of silence after it, and how often they come."""

    pulses_s: tuple[tuple[float, float], ...]
    repeats: int

    @property
    def cycle_s(self) -> float:
        """Seconds from one repeat to the next."""
        return sum(on_s + off_s for on_s, off_s in self.pulses_s)

    @property
    def duration_s(self) -> float:
        """Seconds in all."""
        return self.cycle_s * self.repeats


RHYTHMS: Mapping[Priority, Rhythm] = {
    Priority.ALARM: Rhythm(pulses_s=((0.2, 0.15), (0.2, 0.15), (0.9, 0.4)), repeats=4),
    Priority.WARNING: Rhythm(pulses_s=((0.4, 0.2), (0.4, 3.0)), repeats=2),
    Priority.CAUTION: Rhythm(pulses_s=((0.3, 0.2),), repeats=1),
}
"""Repeats only make the files long enough that the gap between two plays is seldom heard."""

TICK = Rhythm(pulses_s=((0.04, 0.36),), repeats=1)
"""All is well. The pause makes the file long enough for every player to play it."""
TICK_DB = -26.0
"""How soft the tick is, against a sound at its loudest."""

LOUDNESS_DB = (-12.0, -6.0, 0.0)
"""The steps of loudness, softest first, against the loudest. 6 dB is twice the amplitude; some
10 dB are heard as twice as loud (common practice)."""
LOUDEST = len(LOUDNESS_DB) - 1


def rhythm_wav(rhythm: Rhythm, *, gain_db: float = 0.0) -> bytes:
    """``rhythm`` as a WAV file, 16 bit mono at ``RATE_HZ``; a ``gain_db`` of 0 is the loudest."""
    peak = round(_PEAK * 10.0 ** (min(gain_db, 0.0) / 20.0))
    samples = array("h")
    for on_s, off_s in rhythm.pulses_s:
        samples.extend(_tone(on_s, peak))
        samples.extend(_silence(off_s))
    return _wav(samples * rhythm.repeats)


def silent_wav(duration_s: float) -> bytes:
    """``duration_s`` seconds of silence as a WAV file, to try a player without waking anybody."""
    return _wav(_silence(duration_s))


def _tone(duration_s: float, peak: int) -> "array[int]":
    half = _PERIOD_SAMPLES // 2
    count = round(duration_s * RATE_HZ)
    period = array("h", [peak] * half + [-peak] * half)
    tone = (period * (count // _PERIOD_SAMPLES + 1))[:count]
    ramp = round(_RAMP_S * RATE_HZ)
    for i in range(ramp):
        tone[i] = tone[i] * i // ramp
        tone[count - 1 - i] = tone[count - 1 - i] * i // ramp
    return tone


def _silence(duration_s: float) -> "array[int]":
    return array("h", [0]) * round(duration_s * RATE_HZ)


def _wav(samples: "array[int]") -> bytes:
    if sys.byteorder == "big":
        samples.byteswap()  # WAV is little endian
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(samples.itemsize)
        file.setframerate(RATE_HZ)
        file.writeframes(samples.tobytes())
    return out.getvalue()
