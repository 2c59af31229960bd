"""Settings of sources are refused as soon as they are written down."""

import ipaddress
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.sources.settings import (
    LogSettings,
    SerialSettings,
    SourceSettings,
    TcpSettings,
    UdpSettings,
)

KINDS: dict[str, tuple[Callable[..., SourceSettings], dict[str, Any]]] = {
    "serial": (SerialSettings, {"name": "n", "device": "/dev/ttyUSB0"}),
    "udp": (UdpSettings, {"name": "n"}),
    "tcp": (TcpSettings, {"name": "n", "host": "10.0.0.1"}),
    "log": (LogSettings, {"name": "n", "path": "a.log"}),
}


def make(kind: str, given: dict[str, Any]) -> SourceSettings:
    """Make settings that are good but for what is given."""
    maker, good = KINDS[kind]
    return maker(**good | given)


def test_defaults() -> None:
    """NMEA 0183 is 4800 baud; IANA has 10110 for nmea-0183; a log plays at its own pace."""
    assert SerialSettings(name="gps", device="/dev/ttyUSB0").baud == 4800
    assert UdpSettings(name="net").port == 10110
    assert ipaddress.ip_address(UdpSettings(name="net").bind).is_unspecified
    assert TcpSettings(name="net", host="plotter.local").port == 10110
    assert LogSettings(name="night", path="night.log.gz") == LogSettings(
        name="night", path=Path("night.log.gz"), pace=1.0
    )


@pytest.mark.parametrize(
    ("kind", "given"),
    [
        ("serial", {"device": "/dev/serial/by-id/usb-a_b:c", "baud": 38400}),
        ("udp", {"group": "239.192.0.4", "port": 60004, "bind": "192.168.1.5"}),
        ("tcp", {"host": "fe80::1", "port": 65535}),
        ("tcp", {"host": "b\xfccher.local"}),
        ("log", {"pace": 0}),
        ("log", {"pace": 0.25, "recorded_source": "gps"}),
    ],
)
def test_good(kind: str, given: dict[str, Any]) -> None:
    """What can be used is taken as it is."""
    settings = make(kind, given)
    assert {key: getattr(settings, key) for key in given} == given


@pytest.mark.parametrize(
    ("kind", "key", "value"),
    [
        ("serial", "device", "ttyUSB0"),
        ("serial", "device", ""),
        ("serial", "device", "/dev/tty\0"),
        ("serial", "device", 5),
        ("serial", "baud", 4801),
        ("serial", "baud", 0),
        ("serial", "baud", "4800"),
        ("serial", "baud", True),
        ("udp", "port", 0),
        ("udp", "port", 65536),
        ("udp", "port", "10110"),
        ("udp", "bind", "localhost"),
        ("udp", "bind", "::1"),
        ("udp", "bind", 7),
        ("udp", "group", "10.0.0.1"),
        ("udp", "group", "239.192.0"),
        ("udp", "group", ""),
        ("tcp", "host", ""),
        ("tcp", "host", "a host"),
        ("tcp", "host", "tcp://10.0.0.1"),
        ("tcp", "host", "a..b"),
        ("tcp", "host", "x" * 64),
        ("tcp", "host", None),
        ("tcp", "port", -1),
        ("log", "pace", -0.1),
        ("log", "pace", float("nan")),
        ("log", "pace", float("inf")),
        ("log", "pace", "1"),
        ("log", "recorded_source", "!command"),
        *((kind, "name", name) for kind in KINDS for name in ("", "a b", "!x", "#x", "g\n", 3)),
    ],
)
def test_refused(kind: str, key: str, value: object) -> None:
    """What cannot be used is refused with the key, the value and a remedy."""
    with pytest.raises(UserInputError) as raised:
        make(kind, {key: value})
    assert f"{key} = {value!r}" in raised.value.message
    assert raised.value.remedy


@given(st.text(max_size=20))
def test_names(name: str) -> None:
    """A name is taken just if a recording can hold it unquoted: no blanks, no ! and no #."""
    plain = bool(name) and all(
        char.isascii() and (char.isalnum() or char in "_.-") for char in name
    )
    try:
        UdpSettings(name=name)
    except UserInputError:
        assert not plain
    else:
        assert plain


def test_imports() -> None:
    """Settings and the protocol are light: reading a configuration loads neither of these."""
    check = (
        "import sys, driftlead.sources.settings, driftlead.sources.base;"
        "print([m for m in ('serial', 'asyncio', 'socket', 'gzip', 'pynmea2') if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", check], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
