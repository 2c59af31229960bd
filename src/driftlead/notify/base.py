"""The contract of everything that carries an alert to people.

A plug-in is a class with ``from_options`` (see ``NotifierClass``), named by an entry point in the
group ``driftlead.notifiers``. ``driftlead.testing.NotifierContract`` proves that it keeps this
contract.
"""

from collections.abc import Awaitable, Callable, Mapping
from pathlib import Path
from typing import Any, Protocol, runtime_checkable

from attrs import frozen

from driftlead.alerts.alert import Alert, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.call import Call
from driftlead.core.inputs import Command
from driftlead.core.reply import Reply


@runtime_checkable
class Notifier(Protocol):
    """Carries alerts to people. This one method is all a notifier must have."""

    async def notify(self, alert: Alert) -> None:
        """Carry ``alert`` as it stands after its latest change.

        Called at every change: raised, priority changed, silenced, acknowledged, rectified,
        normal. The same alert may come again (a failed call is repeated, and so is an alert that
        nobody answers), and changes that happen faster than the notifier works are skipped in
        favour of the newest.
        Calls never overlap, unless a call was cancelled and would not end.
        Raises NotifierError, with a remedy, when the alert could not be carried.
        """


@runtime_checkable
class HearsCalls(Protocol):
    """A notifier that can tell more than that there is an alert: how loudly, and why now."""

    async def called(self, call: Call) -> None:
        """Carry ``call.alert`` at ``call.loudness``; it is called in place of ``notify``.

        All that is said of ``notify`` holds. Only such a notifier gets the calls whose reason is
        ``louder``.
        """


@runtime_checkable
class HearsAllsWell(Protocol):
    """A notifier that can show that the watch is being kept: a lamp, a soft tick, a ping."""

    async def alls_well(self, tick: AllsWell) -> None:
        """Show it, briefly. Dropped while there is an alert to carry. Errors as of ``notify``."""


@runtime_checkable
class Lasting(Protocol):
    """A notifier whose messages outlast the program: on a telephone, in a log, on a server.

    With ``lasts`` true it is not told again after a restart what it has carried already. Without,
    as a sounder is, it is told of every alert that still sounds.
    """

    @property
    def lasts(self) -> bool:
        """Whether what it has carried is still there after a restart."""


@runtime_checkable
class Closable(Protocol):
    """A notifier that holds something: a pin, a connection, a running player."""

    async def close(self) -> None:
        """Let go of everything. May be called more than once."""


@runtime_checkable
class Checkable(Protocol):
    """A notifier that can prove that it works, for ``driftlead check``."""

    async def check(self) -> str:
        """Try it without raising a false alarm and say in one sentence what was proved.

        Raises NotifierError, with a remedy, when it does not work.
        """


@runtime_checkable
class HasTimeout(Protocol):
    """A notifier whose ``notify`` may need another time than the dispatcher's own limit."""

    @property
    def timeout_s(self) -> float:
        """Seconds after which a ``notify`` that has not ended is cancelled as failed."""


@runtime_checkable
class GivesCommands(Protocol):
    """A notifier by which somebody can answer: what it hears becomes a command to the core."""

    def give_commands_to(self, on_command: Callable[[Command], Reply] | None) -> None:
        """Call ``on_command`` in the event loop with each command from now on; None: no more.

        ``on_command`` answers at once, and whether it was refused is told where the command came
        from. Without it, every command is refused.
        """


@frozen(kw_only=True)
class NotifierContext:
    """What a notifier gets from the daemon.

    ``clock`` is monotonic seconds and ``sleep`` waits on that clock: use them, and no other, so
    that tests can turn time by hand. ``state_dir`` exists and may be written. ``report`` takes
    the text of a failure in the background, or None when it works again; a failure inside
    ``notify`` is raised instead. ``at_least`` is the lowest priority the owner wants to hear of
    here: alerts of less are not sent, except changes of one that was sent before.
    """

    name: str
    boat: str
    state_dir: Path
    clock: Callable[[], float]
    sleep: Callable[[float], Awaitable[None]]
    report: Callable[[str | None], None]
    at_least: Priority = Priority.CAUTION

    def wants(self, alert: Alert) -> bool:
        """Whether ``alert`` has a priority the owner wants to hear of here."""
        return alert.priority.rank >= self.at_least.rank


class NotifierClass(Protocol):
    """What an entry point of the group ``driftlead.notifiers`` names."""

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Notifier:
        """Build the notifier from the owner's options.

        Raises ConfigError for options it cannot use and NotifierError when it cannot be built,
        each with a remedy.
        """
