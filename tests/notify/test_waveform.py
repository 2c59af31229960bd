"""The sounds, measured as a microphone would: tone, harmonics, duty and rhythm."""

import io
import itertools
import wave

import numpy as np
import numpy.typing as npt
import pytest
from scipy.signal import find_peaks

from driftlead.alerts.alert import Priority
from driftlead.notify.waveform import (
    LOUDEST,
    LOUDNESS_DB,
    RHYTHMS,
    TICK,
    TICK_DB,
    TONE_HZ,
    rhythm_wav,
    silent_wav,
)

Samples = npt.NDArray[np.float64]

SETTLED_S = 0.01  # past the ramp


def decoded(wav: bytes) -> tuple[int, Samples]:
    """Return the sample rate and the samples, full scale being 1."""
    with wave.open(io.BytesIO(wav)) as file:
        assert file.getnchannels() == 1
        assert file.getsampwidth() == 2
        data = np.frombuffer(file.readframes(file.getnframes()), dtype="<i2")
        assert len(data) == file.getnframes()
        return file.getframerate(), data / 32768.0


def pulses(rate_hz: int, samples: Samples) -> list[tuple[float, float]]:
    """Measure start and end of every stretch of sound, in seconds, from the envelope alone."""
    loud = np.flatnonzero(np.abs(samples) > 0.05)
    # Within a pulse the wave is never quiet for longer than 2 ms.
    breaks = np.flatnonzero(np.diff(loud) > 0.002 * rate_hz)
    starts = np.concatenate(([loud[0]], loud[breaks + 1]))
    ends = np.concatenate((loud[breaks], [loud[-1]])) + 1
    return [(float(a) / rate_hz, float(b) / rate_hz) for a, b in zip(starts, ends, strict=True)]


def rhythm(priority: Priority) -> list[tuple[float, float]]:
    """Measure seconds on and seconds off of every pulse; the last pause lasts to the file's end."""
    rate_hz, samples = decoded(rhythm_wav(RHYTHMS[priority]))
    found = pulses(rate_hz, samples)
    next_starts = [start for start, _ in found[1:]] + [len(samples) / rate_hz]
    return [
        (end - start, later - end) for (start, end), later in zip(found, next_starts, strict=True)
    ]


def longest_pulse(priority: Priority) -> tuple[int, Samples]:
    """Return the longest pulse without its ramps."""
    rate_hz, samples = decoded(rhythm_wav(RHYTHMS[priority]))
    start, end = max(pulses(rate_hz, samples), key=lambda pulse: pulse[1] - pulse[0])
    return rate_hz, samples[
        round((start + SETTLED_S) * rate_hz) : round((end - SETTLED_S) * rate_hz)
    ]


@pytest.mark.parametrize("priority", Priority)
def test_the_tone_is_520_hz_within_a_tenth(priority: Priority) -> None:
    """NFPA 72, 18.4.5.3: 520 Hz +-10 %. Measured from the zero crossings, not the construction."""
    rate_hz, tone = longest_pulse(priority)
    rising = np.flatnonzero((tone[:-1] < 0) & (tone[1:] >= 0))
    tone_hz = rate_hz * (len(rising) - 1) / (rising[-1] - rising[0])
    assert 468.0 <= tone_hz <= 572.0
    assert tone_hz == pytest.approx(TONE_HZ, rel=1e-6)


@pytest.mark.parametrize("priority", Priority)
def test_the_spectrum_is_that_of_a_square_wave(priority: Priority) -> None:
    """Fourier: a square wave has the odd harmonics at 1/n of the fundamental and no even ones."""
    rate_hz, tone = longest_pulse(priority)
    rising = np.flatnonzero((tone[:-1] < 0) & (tone[1:] >= 0))
    whole = tone[rising[0] : rising[-1]]  # whole periods, so that every harmonic is in one bin
    spectrum = np.abs(np.fft.rfft(whole))
    peaks, _ = find_peaks(spectrum, height=0.02 * spectrum.max())
    lowest = int(peaks[0])
    assert lowest * rate_hz / len(whole) == pytest.approx(520.0, rel=0.1)
    assert spectrum.argmax() == lowest
    for odd in (3, 5, 7, 9):
        assert spectrum[odd * lowest] / spectrum[lowest] == pytest.approx(1 / odd, rel=0.03)
    for even in (2, 4, 6, 8):
        assert spectrum[even * lowest] / spectrum[lowest] < 0.005


@pytest.mark.parametrize("priority", Priority)
def test_the_wave_is_as_long_above_as_below_zero_and_flat_topped(priority: Priority) -> None:
    """Duty 50 %: no direct current through the loudspeaker. Flat tops: a square, not a sine."""
    _, tone = longest_pulse(priority)
    whole = tone[: len(tone) // 92 * 92]
    assert float(np.mean(whole > 0)) == pytest.approx(0.5, abs=0.005)
    assert float(np.mean(whole)) == pytest.approx(0.0, abs=0.005)
    assert float(np.mean(np.abs(whole) > 0.99 * np.abs(whole).max())) > 0.99


@pytest.mark.parametrize("priority", Priority)
def test_it_is_loud_but_leaves_room_for_overshoot(priority: Priority) -> None:
    """A band-limited square overshoots its top by 9 % (Gibbs), and that must not clip."""
    _, tone = longest_pulse(priority)
    assert 0.75 <= np.abs(tone).max() <= 1 / 1.09


@pytest.mark.parametrize("priority", Priority)
def test_pulses_begin_and_end_with_a_short_ramp(priority: Priority) -> None:
    """From silence to full in 2 to 5 ms, so that nothing clicks and nothing swells."""
    rate_hz, samples = decoded(rhythm_wav(RHYTHMS[priority]))
    top = np.abs(samples).max()
    edges = np.flatnonzero(samples)
    for pulse in (samples[edges[0] :], samples[: edges[-1] + 1][::-1]):
        assert abs(pulse[0]) < 0.02
        full_s = float(np.flatnonzero(np.abs(pulse) >= 0.98 * top)[0]) / rate_hz
        assert 0.002 <= full_s <= 0.005


def test_the_rhythms_are_as_published_in_the_table() -> None:
    """Short, short, long for the alarm; two and a rest for the warning; one for the caution."""
    for priority in Priority:
        expected = RHYTHMS[priority].pulses_s * RHYTHMS[priority].repeats
        measured = rhythm(priority)
        assert len(measured) == len(expected)
        for (on_s, off_s), (want_on_s, want_off_s) in zip(measured, expected, strict=True):
            assert on_s == pytest.approx(want_on_s, abs=0.005)
            assert off_s == pytest.approx(want_off_s, abs=0.005)
        assert len(rhythm_wav(RHYTHMS[priority])) == pytest.approx(
            RHYTHMS[priority].duration_s * 48_000 * 2, abs=1000
        )


def test_the_alarm_is_the_letter_u() -> None:
    """Dot, dot, dash: International Code of Signals, U, "You are running into danger" (memory).

    A dash is at least twice as long as a dot, and the letter repeats with a longer gap.
    """
    cycle = rhythm(Priority.ALARM)[:3]
    dot_s, dash_s = cycle[0][0], cycle[2][0]
    assert cycle[1][0] == pytest.approx(dot_s, abs=0.01)
    assert dash_s >= 2 * dot_s
    assert cycle[2][1] > cycle[0][1]


def same_rhythm(
    ours: list[tuple[float, float]], other: list[tuple[float, float]], tolerance: float
) -> bool:
    """Tell whether ``other`` appears anywhere in ``ours`` repeated, each time within tolerance."""
    endless = ours * (len(other) // len(ours) + 2)
    return any(
        all(
            abs(on_s - want_on_s) <= tolerance * want_on_s
            and abs(off_s - want_off_s) <= tolerance * want_off_s
            for (on_s, off_s), (want_on_s, want_off_s) in zip(endless[at:], other)  # noqa: B905
        )
        for at in range(len(ours))
    )


# ISO 8201 / NFPA 72 temporal three, and the carbon monoxide temporal four; common practice.
T3 = [(0.5, 0.5), (0.5, 0.5), (0.5, 1.5)]
T4 = [(0.1, 0.1), (0.1, 0.1), (0.1, 0.1), (0.1, 5.0)]


def test_the_comparison_would_recognise_a_fire_alarm() -> None:
    """The next test can fail."""
    assert same_rhythm([(0.52, 0.48), (0.5, 1.45), (0.49, 0.5)], T3, 0.1)


@pytest.mark.parametrize("priority", Priority)
def test_no_rhythm_is_that_of_a_fire_or_gas_alarm(priority: Priority) -> None:
    """Even at three times the tolerance of ISO 8201 (10 %) nobody is sent out of the boat."""
    assert not same_rhythm(rhythm(priority), T3, 0.3)
    assert not same_rhythm(rhythm(priority), T4, 0.3)
    # Nor three equal pulses and a pause in any other tempo.
    cycle = RHYTHMS[priority].pulses_s
    assert not (len(cycle) == 3 and len({on_s for on_s, _ in cycle}) == 1)


def test_the_three_rhythms_are_distinct() -> None:
    """In none of them does another one appear."""
    measured = {priority: rhythm(priority) for priority in Priority}
    for one, other in itertools.permutations(Priority, 2):
        cycle = measured[other][: len(RHYTHMS[other].pulses_s)]
        assert not same_rhythm(measured[one], cycle, 0.3)


def test_the_more_urgent_the_more_sound() -> None:
    """The share of time filled with sound grows from warning to alarm."""

    def share(priority: Priority) -> float:
        pairs = rhythm(priority)
        return sum(on_s for on_s, _ in pairs) / sum(on_s + off_s for on_s, off_s in pairs)

    assert share(Priority.ALARM) > 0.6
    assert share(Priority.WARNING) < 0.3


def rms_db(wav: bytes) -> float:
    """Measure how loud the sound is against full scale."""
    _, samples = decoded(wav)
    return float(10.0 * np.log10(np.mean(np.square(samples))))


@pytest.mark.parametrize("priority", Priority)
def test_each_step_is_louder_by_the_decibels_it_says_and_the_last_is_the_loudest(
    priority: Priority,
) -> None:
    """20 dB are ten times the amplitude, by definition; a step is to be heard, so 3 dB at least."""
    assert LOUDNESS_DB[LOUDEST] == 0.0
    top_db = rms_db(rhythm_wav(RHYTHMS[priority]))
    steps_db = [rms_db(rhythm_wav(RHYTHMS[priority], gain_db=db)) for db in LOUDNESS_DB]
    assert steps_db == pytest.approx([top_db + db for db in LOUDNESS_DB], abs=0.05)
    assert all(louder - softer >= 3.0 for softer, louder in itertools.pairwise(steps_db))
    # More than the loudest would clip: there is no such sound.
    assert rhythm_wav(RHYTHMS[priority], gain_db=6.0) == rhythm_wav(RHYTHMS[priority])


def test_equal_requests_give_equal_bytes() -> None:
    """The files are made once and compared at every start."""
    for priority, gain_db in itertools.product(Priority, LOUDNESS_DB):
        rhythm_ = RHYTHMS[priority]
        assert rhythm_wav(rhythm_, gain_db=gain_db) == rhythm_wav(rhythm_, gain_db=gain_db)


def test_the_tick_is_one_soft_short_pulse_like_no_alert() -> None:
    """Shorter than any pulse of an alert, and below a quarter of the amplitude of the softest."""
    rate_hz, samples = decoded(rhythm_wav(TICK, gain_db=TICK_DB))
    loud = np.flatnonzero(np.abs(samples) > 0.001)
    on_s = float(loud[-1] - loud[0] + 1) / rate_hz
    assert on_s == pytest.approx(TICK.pulses_s[0][0], abs=0.002)
    shortest_s = min(on for each in RHYTHMS.values() for on, _ in each.pulses_s)
    assert on_s <= shortest_s / 4
    softest = np.abs(decoded(rhythm_wav(RHYTHMS[Priority.CAUTION], gain_db=LOUDNESS_DB[0]))[1])
    assert np.abs(samples).max() <= 0.25 * softest.max()


def test_silence_is_silent_and_as_long_as_asked() -> None:
    """It tries a player without waking anybody."""
    rate_hz, samples = decoded(silent_wav(0.25))
    assert len(samples) == 0.25 * rate_hz
    assert not samples.any()
