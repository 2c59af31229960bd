"""What docs/sound-and-pins.md says about sounds and pins is what they do."""

import re
from pathlib import Path

import pytest
from attrs import fields

from driftlead.alerts.alert import Priority
from driftlead.notify import gpio_options, lamp, sound, waveform
from driftlead.notify.button import BOUNCE_S
from driftlead.notify.gpio import FEED_LIMIT_S
from driftlead.notify.gpio_options import GpioOptions
from driftlead.notify.sound_options import SoundOptions

TEXT = (Path(__file__).resolve().parents[2] / "docs" / "sound-and-pins.md").read_text("utf-8")


def table(first_column: str) -> dict[str, list[str]]:
    """Read the table whose first column has this heading: rows by their first cell."""
    lines = TEXT.splitlines()
    (start,) = (n for n, line in enumerate(lines) if line.startswith(f"| {first_column} |"))
    rows: dict[str, list[str]] = {}
    for line in lines[start + 2 :]:
        if not line.startswith("|"):
            break
        first, *rest = (cell.strip() for cell in line.strip("|").split("|"))
        rows[first] = rest
    return rows


def beats(text: str) -> tuple[tuple[float, float], ...]:
    """Read ``0.2/0.15 0.9/0.4``."""
    pairs = (beat.split("/") for beat in text.split())
    return tuple((float(on), float(off)) for on, off in pairs)


def test_the_rhythms_are_those_of_the_table() -> None:
    """Every sound there is, and no other; what sounds once and what until answered."""
    rows = table("sound")
    rhythms = {priority.value: rhythm for priority, rhythm in waveform.RHYTHMS.items()}
    rhythms["tick"] = waveform.TICK
    assert {name: beats(row[0]) for name, row in rows.items()} == {
        name: rhythm.pulses_s for name, rhythm in rhythms.items()
    }
    assert rows["caution"][1] == "once"
    assert {rows[name][1] for name in ("alarm", "warning")} == {"until answered"}


def test_the_fire_alarm_is_told_as_iso_8201_has_it() -> None:
    """Three half seconds and a pause of one and a half; common practice."""
    told = re.search(r"ISO 8201: ([0-9./ ]+)\)", TEXT)
    assert told is not None
    assert beats(told[1]) == ((0.5, 0.5), (0.5, 0.5), (0.5, 1.5))


def test_the_steps_of_loudness_are_those_of_the_table() -> None:
    """And who begins at which."""
    rows = table("step")
    assert [float(row[0]) for row in rows.values()] == list(waveform.LOUDNESS_DB)
    for priority, step in sound.FIRST_STEP.items():
        assert priority.value in rows[str(step)][1]
    assert set(sound.FIRST_STEP) == set(Priority)
    assert f"The tick is at {waveform.TICK_DB:.0f} dB" in TEXT


def test_the_lamp_flashes_as_the_table_says() -> None:
    """Steady where it says steady."""
    shown = {
        what: lamp.STEADY if row[0] == "steady" else beats(row[0])
        for what, row in table("what is up").items()
    }
    assert shown == {
        "alarm, unanswered": lamp.ALARM,
        "warning, unanswered": lamp.WARNING,
        "over, but never answered": lamp.OVER,
        "answered, or a caution": lamp.STEADY,
    }


@pytest.mark.parametrize("options", [SoundOptions, GpioOptions])
def test_every_option_is_told(options: type[SoundOptions] | type[GpioOptions]) -> None:
    """By the name the owner writes."""
    for field in fields(options):
        name = field.name.removesuffix("_s")
        assert re.search(rf"^\|[^|]*`{name}`", TEXT, re.MULTILINE), name


def test_what_a_pin_may_show_is_told() -> None:
    """Each has its row."""
    assert {f"`{each.value}`" for each in gpio_options.Shows} == set(table("a pin that shows"))


def test_figures_in_the_text_are_those_of_the_code() -> None:
    """Tone, bounce, and how long a heartbeat may stay away."""
    assert f"{waveform.TONE_HZ:.1f} Hz" in TEXT
    assert f"within {BOUNCE_S * 1000:.0f} ms" in TEXT
    assert f"for {FEED_LIMIT_S:.0f} seconds" in TEXT
    assert f"0 to {gpio_options.LAST_PIN}" in TEXT


def test_the_level_at_the_bunk_is_told() -> None:
    """LSA Code 7.2.1.3: 75 dB(A) at the sleeping position, and 10 dB(A) above the ambient noise."""
    said = " ".join(TEXT.split())
    assert "at least 75 dB(A), and at least 10 dB(A) above the noise" in said
