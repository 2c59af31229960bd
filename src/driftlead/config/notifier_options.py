"""Whether each notifier is of a kind there is, with options it takes, before any is built.

A daemon starts all the same, and tells of such a notifier as failed: a watch must be kept. So this
stands apart from what keeps a configuration from being loaded, and is told beside it.
"""

from collections.abc import Iterable, Mapping
from importlib import import_module
from pathlib import Path
from typing import Final

from driftlead.config.model import Config
from driftlead.config.shown import nearest
from driftlead.errors import ConfigError
from driftlead.notify.options import structure_options
from driftlead.notify.registry import known_kinds
from driftlead.notify.settings import NotifierSettings

_OPTIONS: Final[Mapping[str, tuple[str, str]]] = {
    "log": ("log", "LogOptions"),
    "sound": ("sound_options", "SoundOptions"),
    "gpio": ("gpio_options", "GpioOptions"),
    "webhook": ("webhook", "WebhookOptions"),
    "mqtt": ("mqtt", "MqttOptions"),
    "nmea": ("nmea_out", "NmeaOptions"),
}
"""Where the options of our own kinds are; a plug-in judges its own when it is built."""


def notifier_problems(config: Config, file: Path) -> dict[str, str]:
    """Give what is wrong with the notifiers of ``file``, by their names, in a line each."""
    return {
        settings.name: " ".join(lines)
        for number, settings in enumerate(config.notifiers, start=1)
        if (lines := problems_of(settings, f"{file}: [[notifier]] #{number}"))
    }


def problems_of(settings: NotifierSettings, where: str) -> list[str]:
    """Give what is wrong with one, in lines that begin with ``where``."""
    kinds = known_kinds()
    if settings.kind not in kinds:
        remedy = nearest(settings.kind, kinds) or f"Known here: {', '.join(kinds)}."
        return [f'{where} kind = "{settings.kind}": There is no such kind of notifier. {remedy}']
    if settings.kind not in _OPTIONS:
        return []
    module, name = _OPTIONS[settings.kind]
    options = getattr(import_module(f"driftlead.notify.{module}"), name)
    try:
        structure_options(options, settings.options, notifier=settings.name)
    except ConfigError as error:
        return list(_lines(error, settings.name, where))
    return []


def _lines(error: ConfigError, name: str, where: str) -> Iterable[str]:
    *first, last = (line.removeprefix(f"notifier {name!r}: ") for line in error.problems)
    yield from (f"{where}: {line}" for line in first)
    yield f"{where}: {last} {error.remedy}".rstrip()
