"""Which card a device is on; what the mixer is told is tested with the sound."""

import pytest

from driftlead.notify.sound_volume import card_of


@pytest.mark.parametrize(
    ("device", "card"),
    [
        ("plughw:CARD=Device,DEV=0", "Device"),
        ("hw:1,0", "1"),
        ("plughw:2", "2"),
        ("sysdefault:CARD=Headphones", "Headphones"),
        ("default", None),
        ("", None),
        (None, None),
    ],
)
def test_the_card_is_read_from_the_device(device: str | None, card: str | None) -> None:
    """As ALSA names devices; a name without a card means the default card."""
    assert card_of(device) == card
