"""The list of sound devices."""

from pathlib import Path

import pytest

from driftlead.notify.sound_devices import device_names, devices_hint
from driftlead.testing import FakeTime

# The form of what aplay -L of alsa-utils 1.2 prints: names from the first column, then indented
# descriptions (aplay(1), and its source list_pcm; written down from memory).
LISTING = """null
    Discard all samples (playback) or generate zero samples (capture)
default:CARD=Speaker
    USB Speaker, USB Audio
    Default Audio Device
hw:CARD=Speaker,DEV=0
    USB Speaker, USB Audio
    Direct hardware device without any conversions
plughw:CARD=Speaker,DEV=0
    USB Speaker, USB Audio
    Hardware device with all software conversions
"""


def test_names_are_told_from_descriptions_and_the_useful_ones_come_first() -> None:
    """A device that converts suits any loudspeaker; null suits none."""
    assert device_names(LISTING) == [
        "default:CARD=Speaker",
        "plughw:CARD=Speaker,DEV=0",
        "hw:CARD=Speaker,DEV=0",
    ]
    assert device_names("") == []


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("body", "told"),
    [
        (f"printf '{LISTING}'", "ALSA finds: default:CARD=Speaker, plughw:"),
        ("printf 'null\\n    Discard\\n'", "no sound device: is the loudspeaker plugged in"),
        ("for i in 1 2 3 4 5 6 7 8 9 10 11 12 13 14; do echo hw:$i; done", "hw:12 and 2 more."),
        (
            "echo broken >&2; exit 1",
            "could not be listed: aplay -L failed with exit code 1: broken",
        ),
        (None, "could not be listed: aplay -L cannot be started"),
    ],
)
async def test_the_hint_names_them_or_says_why_it_cannot(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, body: str | None, told: str
) -> None:
    """It never fails: it only explains."""
    monkeypatch.setenv("PATH", str(tmp_path))
    if body is not None:
        (tmp_path / "aplay").write_text(f"#!/bin/sh\n{body}\n")
        (tmp_path / "aplay").chmod(0o755)
    assert told in await devices_hint(FakeTime().sleep)
