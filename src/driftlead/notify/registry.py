"""Finding and building notifiers by kind, from entry points, each loaded only when asked for."""

import inspect
from collections.abc import Mapping
from importlib.metadata import EntryPoint, entry_points

from driftlead.errors import ConfigError, DriftleadError, NotifierError
from driftlead.notify.base import Notifier, NotifierClass, NotifierContext
from driftlead.notify.settings import NotifierSettings

GROUP = "driftlead.notifiers"


def known_kinds() -> tuple[str, ...]:
    """Every kind of notifier that is installed, sorted. Loads none of them."""
    return tuple(sorted(_found()))


def build_notifier(settings: NotifierSettings, context: NotifierContext) -> Notifier:
    """Build the notifier ``settings`` ask for.

    Raises ConfigError for an unknown kind or unusable options and NotifierError when the
    plug-in cannot be loaded or built; both name the notifier and the remedy.
    """
    kind = load_kind(settings.kind, notifier=settings.name)
    try:
        notifier = kind.from_options(settings.options, context)
    except DriftleadError:
        raise
    except Exception as error:  # a plug-in is a stranger's code: any fault of it is told as such
        raise NotifierError(
            f"Notifier {settings.name!r} of kind {settings.kind!r} cannot be built: "
            f"{type(error).__name__}: {error}.",
            remedy="Tell the plug-in's author; until then take this notifier out.",
        ) from error
    if not isinstance(notifier, Notifier):
        raise NotifierError(
            f"Notifier {settings.name!r}: what kind {settings.kind!r} builds has no notify().",
            remedy="Tell the plug-in's author; until then take this notifier out.",
        )
    return notifier


def load_kind(kind: str, *, notifier: str) -> NotifierClass:
    """Load the class behind ``kind``. Errors as for ``build_notifier``."""
    found = _found()
    if kind not in found:
        raise ConfigError(
            f"Notifier {notifier!r}: kind = {kind!r} is not known.",
            problems=(f"notifier {notifier!r}: kind = {kind!r} is not known.",),
            remedy=f"Known kinds are: {', '.join(sorted(found)) or 'none'}. "
            "Install the plug-in that brings it, or correct the kind.",
        )
    entry, *others = found[kind]
    if others:
        rivals = ", ".join(sorted(f"{e.value} ({_distribution(e)})" for e in found[kind]))
        raise NotifierError(
            f"Notifier {notifier!r}: kind {kind!r} is brought by several packages: {rivals}.",
            remedy="Uninstall all but one of them.",
        )
    return _loaded(entry, notifier)


def _loaded(entry: EntryPoint, notifier: str) -> NotifierClass:
    where = f"Notifier {notifier!r}: kind {entry.name!r} ({entry.value} of {_distribution(entry)})"
    try:
        loaded = entry.load()
    except ModuleNotFoundError as error:
        raise NotifierError(
            f"{where} needs the module {error.name!r}, which is not installed.",
            remedy=f"Install it, or reinstall {_distribution(entry)} with its extras.",
        ) from error
    except Exception as error:  # importing a plug-in runs a stranger's code
        raise NotifierError(
            f"{where} cannot be loaded: {type(error).__name__}: {error}.",
            remedy=f"Update or uninstall {_distribution(entry)}.",
        ) from error
    if not inspect.isclass(loaded) or not callable(getattr(loaded, "from_options", None)):
        raise NotifierError(
            f"{where} is not a class with from_options().",
            remedy=f"Update or uninstall {_distribution(entry)}.",
        )
    return loaded  # type: ignore[return-value] # checked by hand just above


def _found() -> Mapping[str, list[EntryPoint]]:
    found: dict[str, list[EntryPoint]] = {}
    for entry in entry_points(group=GROUP):
        found.setdefault(entry.name, []).append(entry)
    return found


def _distribution(entry: EntryPoint) -> str:
    return entry.dist.name if entry.dist is not None else "an unnamed package"
