"""The example that owners copy: right, complete, and true about the defaults."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from driftlead.config.load import build_config, load_config
from driftlead.config.tables import BUTTON, CREW, NOTIFIER, single_tables, source_tables
from driftlead.notify.gpio_options import GpioOptions
from driftlead.notify.log import LogOptions
from driftlead.notify.options import structure_options
from driftlead.notify.settings import NotifierSettings
from driftlead.notify.sound_options import SoundOptions
from driftlead.notify.webhook import WebhookOptions
from driftlead.sources.settings import SerialSettings, UdpSettings
from driftlead.watch.settings import BoatSettings

EXAMPLE = Path(__file__).resolve().parents[2] / "systemd" / "driftlead.example.toml"
TEXT = EXAMPLE.read_text(encoding="utf-8")

_DEFAULT = re.compile(r"^#(?=[a-z0-9_]+ = )", re.MULTILINE)
_FURTHER = re.compile(r"^# (?=[a-z0-9_]+ = |\[\[)", re.MULTILINE)


def with_all_lines() -> Mapping[str, Any]:
    """Take up every default and every further example."""
    return tomllib.loads(_DEFAULT.sub("", _FURTHER.sub("", TEXT)))


def test_example_is_a_right_configuration_of_the_sloop_corvid() -> None:
    """As it is copied, it loads; her measures are in it, in metres."""
    config = load_config(EXAMPLE)
    assert config.boat_name == "Corvid"
    assert config.watch.boat == BoatSettings(length_m=9.6, bow_height_m=1.1, antenna_aft_m=7.8)
    assert config.watch.tackle.rode_aboard_m == 60.0
    assert config.sources == (
        SerialSettings(name="gps", device="/dev/serial/by-id/usb-gnss-receiver-port0"),
        UdpSettings(name="wireless"),
    )
    assert [notifier.kind for notifier in config.notifiers] == ["log", "sound"]


def test_lines_shown_as_defaults_change_nothing_when_they_are_taken_up() -> None:
    """Every such line, in the tables that are there and beside the further examples alike."""
    further = tomllib.loads(_FURTHER.sub("", TEXT))
    assert with_all_lines() != further
    assert build_config(with_all_lines(), EXAMPLE) == build_config(further, EXAMPLE)


@pytest.mark.parametrize(
    ("key", "shown"),
    [
        ("length", BoatSettings().length_m),
        ("bow_height", BoatSettings().bow_height_m),
        ("antenna_aft", BoatSettings().antenna_aft_m),
    ],
)
def test_defaults_told_beside_the_measures_of_corvid_are_the_defaults(
    key: str, shown: float
) -> None:
    """These stand behind a value of her own, so they cannot be taken up."""
    assert re.search(rf"^{key} = .*; default {shown:g}m$", TEXT, re.MULTILINE)


def test_every_table_and_key_there_is_can_be_found_in_the_example() -> None:
    """It is the reference as well."""
    raw = with_all_lines()
    for name, table in single_tables(EXAMPLE.parent).items():
        assert set(raw[name]) == {key.name for key in table.keys}
    shown = {source["kind"]: source for source in raw["source"]}
    for kind, table in source_tables(EXAMPLE.parent).items():
        assert set(shown[kind]) == {"kind"} | {key.name for key in table.keys}
    own = {key.name for key in NOTIFIER.keys} - {"options"}
    assert all(own <= set(notifier) for notifier in raw["notifier"][:1])
    assert all(set(member) == {key.name for key in CREW.keys} for member in raw["crew"])
    assert all(set(button) == {key.name for key in BUTTON.keys} for button in raw["button"])


def test_every_kind_of_notifier_is_shown_with_options_it_takes() -> None:
    """Options are judged by the notifier when it is built, so the example is held to that too."""
    kinds: dict[str, Any] = {
        "log": LogOptions,
        "sound": SoundOptions,
        "gpio": GpioOptions,
        "webhook": WebhookOptions,
    }
    notifiers: tuple[NotifierSettings, ...] = build_config(with_all_lines(), EXAMPLE).notifiers
    assert [notifier.kind for notifier in notifiers] == list(kinds)
    for notifier in notifiers:
        structure_options(kinds[notifier.kind], notifier.options, notifier=notifier.name)
