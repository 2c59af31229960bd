"""The files that the configuration names: what is wrong with them, before and while we watch."""

import logging
from collections.abc import Callable, Iterator
from typing import Final

from driftlead.check.finding import Finding, Level
from driftlead.config.load import core_settings
from driftlead.config.model import Config
from driftlead.core.inputs import Fault
from driftlead.core.settings import CoreSettings
from driftlead.daemon.neighbourhood import with_neighbourhood
from driftlead.daemon.tides import with_tide
from driftlead.errors import DriftleadError

FILE_UNREADABLE: Final = "file_unreadable"
_LOGGER = logging.getLogger(__name__)
_READERS: Final[tuple[tuple[str, str, Callable[[CoreSettings, Config], CoreSettings]], ...]] = (
    ("around", "Drag alarms name no dangers.", with_neighbourhood),
    ("tide", "The watch does not look ahead at the tide.", with_tide),
)


def with_files(settings: CoreSettings, config: Config) -> tuple[CoreSettings, tuple[Fault, ...]]:
    """Put what the configured files say into the settings, so that recordings carry it.

    A file that cannot be read is left out and told by a fault: it must not keep a watch from being
    kept. It is read once, so it is mended by a restart.
    """
    faults = []
    for key, what_for, read in _READERS:
        try:
            settings = read(settings, config)
        except DriftleadError as error:
            text = f"{what_for} {error} Then restart driftlead."
            _LOGGER.warning("%s", text)
            faults.append(Fault(name=FILE_UNREADABLE, instance=key, text=text))
    return settings, tuple(faults)


def check_files(config: Config) -> list[Finding]:
    """Read each file that the configuration names, as the daemon reads it; one finding for each."""
    return list(_findings(config))


def _findings(config: Config) -> Iterator[Finding]:
    web = config.web
    paths = {"tide": config.tide, "around": None if web is None else web.around}
    settings = core_settings(config)
    for key, what_for, read in _READERS:
        if paths[key] is None:
            continue
        try:
            read(settings, config)
        except DriftleadError as error:
            yield Finding(Level.FAIL, f"file {key}", f"{error.message} {what_for}", error.remedy)
        else:
            yield Finding(Level.OK, f"file {key}", f"{paths[key]} is read.")
    if web is not None and web.certificate is not None and web.key is not None:
        from driftlead.web.tls import server_context  # noqa: PLC0415  # not every boat has a page

        try:
            server_context(web.certificate, web.key)
        except DriftleadError as error:
            yield Finding(
                Level.FAIL, "file certificate", f"{error.message} There is no page.", error.remedy
            )
        else:
            yield Finding(Level.OK, "file certificate", f"{web.certificate} fits its key.")
