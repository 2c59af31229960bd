"""Keeping alerts until they got through: queue, disk, attempts and waits together."""

import asyncio
import logging
import random
from collections.abc import Awaitable, Callable
from contextlib import suppress
from pathlib import Path
from typing import Final
from urllib.parse import quote

from driftlead.alerts.alert import Alert
from driftlead.errors import NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.notify.durable_queue import LIMIT, DurableQueue, QueuedAlert
from driftlead.notify.durable_queue_file import QueueFile
from driftlead.notify.payload import alert_body
from driftlead.notify.signature import idempotency_key, timestamp_of
from driftlead.notify.within import OutOfTimeError, run_within

_LOGGER = logging.getLogger(__name__)

FIRST_DELAY_S: Final = 1.0
LONGEST_DELAY_S: Final = 30.0
LONGEST_WISH_S: Final = 300.0
"""How long a receiver may ask us to wait."""
CLOSE_GRACE_S: Final = 3.0


class TryAgainError(Exception):
    """An attempt failed in a way that may pass; ``after_s`` is the receiver's wish, if any."""

    def __init__(self, message: str, *, remedy: str, after_s: float = 0.0) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy
        self.after_s = after_s


class NotTakenError(Exception):
    """The receiver will never take this: trying again would not mend it."""

    def __init__(self, message: str, *, remedy: str) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy


class Troubles:
    """Joins what several parts of one notifier have to report, the first in the alphabet first."""

    def __init__(self, report: Callable[[str | None], None]) -> None:
        self._report = report
        self._texts: dict[str, str] = {}
        self._told: str | None = None

    def say(self, part: str, text: str | None) -> None:
        """Take a part's trouble, or None when it has none."""
        if text is None:
            self._texts.pop(part, None)
        else:
            self._texts[part] = text
        verdict = self._texts[min(self._texts)] if self._texts else None
        if verdict != self._told:
            self._told = verdict
            self._report(verdict)


class QueueSender:
    """Sends what waits, the most urgent first, for as long as it takes.

    ``attempt`` sends one entry, or raises TryAgainError or NotTakenError. Between attempts it
    waits, longer and longer up to ``LONGEST_DELAY_S``, half of it drawn by lot; a new alert is
    tried at once, unless the receiver itself asked for time. Failing for ``fault_after_s`` is
    reported. What another run left in the file is sent from the start.
    """

    def __init__(
        self,
        context: NotifierContext,
        attempt: Callable[[QueuedAlert], Awaitable[None]],
        *,
        fault_after_s: float,
        troubles: Troubles,
        draw: Callable[[], float] = random.random,
        limit: int = LIMIT,
    ) -> None:
        """Open the queue's file. Must run within the event loop."""
        self._context = context
        self._attempt = attempt
        self._fault_after_s = fault_after_s
        self._troubles = troubles
        self._draw = draw
        self._file = QueueFile(queue_path(context))
        self._loaded = False
        self._queue = DurableQueue(limit=limit)
        self._sending = asyncio.Lock()
        self._wake = asyncio.Event()
        self._at_rest = asyncio.Event()
        self._obeying = False
        self._failing_since_s: float | None = None
        self._task: asyncio.Task[None] | None = None
        try:
            self._adopt(self._file.load())
        except NotifierError as error:
            self._troubles.say("disk", _without_disk(error))
        if self._queue.head is not None:
            _LOGGER.warning(
                "Notifier %s: %d alerts of an earlier run wait to be sent",
                context.name,
                len(self._queue.entries),
            )
            self._start()

    @property
    def waiting(self) -> tuple[QueuedAlert, ...]:
        """Everything that has not been sent, in order of arrival."""
        return self._queue.entries

    def has(self, alert: Alert) -> bool:
        """Whether anything of ``alert`` has not been sent yet."""
        return any((entry.name, entry.instance) == alert.key for entry in self._queue.entries)

    async def take(self, alert: Alert) -> None:
        """Take ``alert`` as the message of ``payload``. Returns and raises as ``put`` does."""
        body = alert_body(alert, boat=self._context.boat)
        await self.put(
            alert,
            idempotency_key=idempotency_key(alert, body),
            timestamp=timestamp_of(alert),
            body=body,
        )

    async def put(self, alert: Alert, *, idempotency_key: str, timestamp: str, body: bytes) -> None:
        """Return when the alert is safe on the disk, or has been sent.

        Raises NotifierError when neither can be had; it is tried further all the same.
        """
        entry, dropped = self._queue.put(
            alert, idempotency_key=idempotency_key, timestamp=timestamp, body=body
        )
        for victim in dropped:
            _LOGGER.warning(
                "Too much waits for notifier %s; dropped: %s %s is %s",
                self._context.name,
                victim.priority.value,
                victim.name,
                victim.state.value,
            )
        trouble = await self._save()
        self._start()
        if not self._obeying:
            self._at_rest.clear()
        self.wake()
        if trouble is None:
            return
        try:
            await self._send(entry)
        except TryAgainError as error:
            raise NotifierError(
                f"{error.message} Nor is it safe on the disk: {trouble.message}",
                remedy=f"{error.remedy} {trouble.remedy}",
            ) from None

    def wake(self) -> None:
        """Try again now: something has changed."""
        self._wake.set()

    async def close(self) -> None:
        """Let what is on its way arrive, for some seconds at most; the rest stays on the disk."""
        task, self._task = self._task, None
        if task is not None:
            with suppress(OutOfTimeError):
                await run_within(self._wait_for_rest(), CLOSE_GRACE_S, self._context.sleep)
            task.cancel()
            await asyncio.wait({task})
        await asyncio.to_thread(self._file.close)

    def _start(self) -> None:
        if self._task is None:
            name = f"queue {self._context.name}"
            self._task = asyncio.get_running_loop().create_task(self._run(), name=name)

    async def _run(self) -> None:
        delay_s = FIRST_DELAY_S
        while True:
            self._wake.clear()
            entry = self._queue.head
            if entry is None:
                delay_s = FIRST_DELAY_S
                self._at_rest.set()
                await self._wake.wait()
                self._at_rest.clear()
                continue
            try:
                await self._send(entry)
            except TryAgainError as error:
                self._at_rest.set()
                await self._pause(delay_s, error.after_s)
                self._at_rest.clear()
                delay_s = min(2 * delay_s, LONGEST_DELAY_S)
            else:
                delay_s = FIRST_DELAY_S

    async def _pause(self, delay_s: float, wish_s: float) -> None:
        if wish_s > 0:
            self._obeying = True
            await self._context.sleep(min(wish_s, LONGEST_WISH_S))
            self._obeying = False
            return
        # Half fixed, half drawn: a fleet that lost its receiver does not return as one.
        wait_s = delay_s * (0.5 + 0.5 * self._draw())
        with suppress(OutOfTimeError):
            await run_within(self._wait_for_wake(), wait_s, self._context.sleep)

    async def _wait_for_wake(self) -> None:
        await self._wake.wait()

    async def _wait_for_rest(self) -> None:
        await self._at_rest.wait()

    async def _send(self, entry: QueuedAlert) -> None:
        """Try once. Raises TryAgainError; anything else means that the entry is done with."""
        async with self._sending:
            if entry not in self._queue:
                return
            try:
                await self._attempt(entry)
            except TryAgainError as error:
                self._has_failed(error)
                raise
            except NotTakenError as error:
                _LOGGER.critical(
                    "Notifier %s: not taken, and given up: %s %s is %s. %s",
                    self._context.name,
                    entry.priority.value,
                    entry.name,
                    entry.state.value,
                    error.message,
                )
                self._troubles.say("sending", f"{error.message} {error.remedy}".rstrip())
            except Exception as error:
                _LOGGER.exception("Notifier %s: an attempt broke", self._context.name)
                trouble = TryAgainError(
                    f"An attempt broke: {type(error).__name__}.",
                    remedy="The log says where; report it as a fault of the program.",
                )
                self._has_failed(trouble)
                raise trouble from error
            else:
                self._failing_since_s = None
                self._troubles.say("sending", None)
            self._queue.remove(entry)
        await self._save()

    def _has_failed(self, error: TryAgainError) -> None:
        now_s = self._context.clock()
        if self._failing_since_s is None:
            self._failing_since_s = now_s
        if now_s - self._failing_since_s >= self._fault_after_s:
            text = f"{error.message} What waits is kept and sent as soon as it can be."
            self._troubles.say("sending", f"{text} {error.remedy}".rstrip())

    async def _save(self) -> NotifierError | None:
        """Bring the disk up to date; give what hinders it."""
        try:
            if not self._loaded:
                self._adopt(await asyncio.to_thread(self._file.load))
            await asyncio.to_thread(self._file.save, lambda: self._queue.entries)
        except NotifierError as error:
            self._troubles.say("disk", _without_disk(error))
            return error
        self._troubles.say("disk", None)
        return None

    def _adopt(self, older: list[QueuedAlert]) -> None:
        if not self._loaded:
            self._loaded = True
            self._queue.adopt(older)


def queue_path(context: NotifierContext) -> Path:
    """Where the queue of this notifier is kept."""
    return context.state_dir / f"waiting-{quote(context.name, safe='')}.db"


def _without_disk(error: NotifierError) -> str:
    return f"{error.message} They are sent, but would not outlive a restart. {error.remedy}"
