"""From settings to a source."""

import asyncio

from driftlead.sources.base import Clock, Emit, OnHealth, Sleep, Source
from driftlead.sources.log_file import LogSource
from driftlead.sources.serial_port import SerialSource
from driftlead.sources.settings import (
    LogSettings,
    SerialSettings,
    SourceSettings,
    TcpSettings,
    UdpSettings,
)
from driftlead.sources.tcp import TcpSource
from driftlead.sources.udp import UdpSource


def build_source(
    settings: SourceSettings,
    *,
    emit: Emit,
    clock: Clock,
    on_health: OnHealth,
    sleep: Sleep = asyncio.sleep,
) -> Source:
    """Make the source the settings ask for; nothing is opened before it runs."""
    match settings:
        case SerialSettings():
            return SerialSource(settings, emit=emit, clock=clock, on_health=on_health, sleep=sleep)
        case UdpSettings():
            return UdpSource(settings, emit=emit, clock=clock, on_health=on_health, sleep=sleep)
        case TcpSettings():
            return TcpSource(settings, emit=emit, clock=clock, on_health=on_health, sleep=sleep)
        case LogSettings():
            return LogSource(settings, emit=emit, clock=clock, on_health=on_health, sleep=sleep)
