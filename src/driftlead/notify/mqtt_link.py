"""The connection to a broker, kept up for as long as the notifier lives."""

import asyncio
import contextlib
import logging
import random
import ssl
from collections.abc import Callable, Coroutine
from typing import Any, Final

from attrs import frozen

from driftlead.notify.base import NotifierContext
from driftlead.notify.durable_queue_sender import FIRST_DELAY_S, LONGEST_DELAY_S, TryAgainError
from driftlead.notify.mqtt_session import Session, SessionError
from driftlead.notify.within import OutOfTimeError, run_within

_LOGGER = logging.getLogger(__name__)

ONLINE: Final = b"online"
OFFLINE: Final = b"offline"
_LEAVE_LIMIT_S: Final = 2.0
_CONNECTION_REMEDY: Final = "Check the boat's connection and that the broker is up."
_TLS_REMEDY: Final = "Check the broker's certificate and the boat's clock, or give 'ca_file'."


@frozen(kw_only=True)
class LinkSettings:
    """Where the broker is and how it is treated.

    ``timeout_s`` limits each wait for it; after ``fault_after_s`` without it that is reported.
    """

    host: str
    port: int
    keepalive_s: int
    timeout_s: float
    fault_after_s: float
    status_topic: str


class MqttLink:
    """Connects, and connects again whenever the connection is lost.

    ``make_client`` gives a client of paho, made ready but not connected, whose last will is
    ``OFFLINE`` on the status topic. Every new connection first tells the broker that the boat is
    online and what it had taken before, for it may have been restarted and have forgotten.
    ``say`` takes the reason why there is no broker, None when there is; ``on_up`` is called at
    every new connection.
    """

    def __init__(
        self,
        settings: LinkSettings,
        context: NotifierContext,
        *,
        make_client: Callable[[], Any],
        say: Callable[[str | None], None],
        on_up: Callable[[], None],
        draw: Callable[[], float] = random.random,
    ) -> None:
        """Begin to connect. Must run within the event loop."""
        self._settings = settings
        self._context = context
        self._make_client = make_client
        self._say = say
        self._on_up = on_up
        self._draw = draw
        self._where = f"MQTT broker {settings.host}:{settings.port}"
        self._session: Session | None = None
        self._held: dict[str, bytes] = {}
        self._why = SessionError("not connected yet", remedy=_CONNECTION_REMEDY)
        self._tried = asyncio.Event()
        self._task: asyncio.Task[None] | None = asyncio.get_running_loop().create_task(
            self._keep(), name=f"mqtt {context.name}"
        )

    @property
    def where(self) -> str:
        """The broker in words."""
        return self._where

    async def publish(self, topic: str, payload: bytes, *, retain: bool = True) -> None:
        """Return when the broker has taken it. Raises TryAgainError when it is not to be had."""
        await self._tried.wait()
        session = self._session
        if session is None:
            raise self._failure(self._why)
        try:
            await self._within(session.publish(topic, payload, retain=retain))
        except SessionError as error:
            # A broker that is slow to acknowledge may only seem to be there: connect anew.
            await session.end()
            raise self._failure(error) from None
        if retain:
            self._held[topic] = payload

    async def close(self) -> None:
        """Say that the boat is offline, and leave."""
        task, self._task = self._task, None
        if task is None:
            return
        session, self._session = self._session, None
        if session is not None:
            with contextlib.suppress(OutOfTimeError, SessionError):
                await run_within(self._leave(session), _LEAVE_LIMIT_S, self._context.sleep)
        task.cancel()
        await asyncio.wait({task})
        if session is not None:
            await session.end()  # the task may have been cancelled while it did just that

    async def _leave(self, session: Session) -> None:
        await session.publish(self._settings.status_topic, OFFLINE, retain=True)
        session.goodbye()
        await session.lost

    async def _keep(self) -> None:
        down_since_s = self._context.clock()
        delay_s = FIRST_DELAY_S
        while True:
            session = Session(self._make_client())
            try:
                await self._open(session)
                up_since_s = self._context.clock()
                self._session = session
                self._say(None)
                self._tried.set()
                self._on_up()
                error = await session.lost
                down_since_s = self._context.clock()
                if down_since_s - up_since_s >= LONGEST_DELAY_S:
                    delay_s = FIRST_DELAY_S
            except SessionError as refusal:
                error = refusal
            except Exception as fault:
                _LOGGER.exception("Notifier %s: the connection broke", self._context.name)
                error = SessionError(type(fault).__name__, remedy="The log says more.")
            finally:
                self._session = None
                await session.end()
            self._why = error
            self._tried.set()
            if self._context.clock() - down_since_s >= self._settings.fault_after_s:
                told = self._failure(error)
                self._say(f"{told.message} {told.remedy}")
            await self._context.sleep(delay_s * (0.5 + 0.5 * self._draw()))
            delay_s = min(2 * delay_s, LONGEST_DELAY_S)

    async def _open(self, session: Session) -> None:
        settings = self._settings
        try:
            await self._within(session.open(settings.host, settings.port, settings.keepalive_s))
        except ssl.SSLError as error:
            why = getattr(error, "verify_message", "") or error.args[-1]
            raise SessionError(f"TLS failed: {why}", remedy=_TLS_REMEDY) from None
        except (OSError, ValueError) as error:  # ValueError: a name that cannot be one
            text = f"cannot connect: {getattr(error, 'strerror', None) or error}"
            raise SessionError(text, remedy=_CONNECTION_REMEDY) from None
        for topic, payload in ((settings.status_topic, ONLINE), *self._held.items()):
            await self._within(session.publish(topic, payload, retain=True))

    async def _within(self, work: Coroutine[Any, Any, None]) -> None:
        limit_s = self._settings.timeout_s
        try:
            await run_within(work, limit_s, self._context.sleep)
        except OutOfTimeError:
            raise SessionError(
                f"no answer within {limit_s:g} s", remedy=_CONNECTION_REMEDY
            ) from None

    def _failure(self, error: SessionError) -> TryAgainError:
        return TryAgainError(f"{self._where}: {error.text}.", remedy=error.remedy)
