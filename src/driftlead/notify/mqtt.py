"""Alerts on a broker (MQTT 3.1.1): the newest state of each held there, and whether we live."""

import contextlib
import importlib
import random
import shlex
import ssl
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Self

from attrs import frozen

from driftlead.alerts.alert import Alert
from driftlead.alerts.alls_well import AllsWell
from driftlead.errors import NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.notify.durable_queue import QueuedAlert
from driftlead.notify.durable_queue_sender import QueueSender, Troubles, TryAgainError
from driftlead.notify.mqtt_link import OFFLINE, LinkSettings, MqttLink
from driftlead.notify.mqtt_session import QOS_AT_LEAST_ONCE
from driftlead.notify.mqtt_topics import Topics, topic_problem, word_of
from driftlead.notify.options import Seconds, structure_options
from driftlead.notify.payload import alert_body, alls_well_body, check_alert
from driftlead.notify.secret import both_given, read_secret, unusable
from driftlead.notify.within import OutOfTimeError, run_within

_PING_LIMIT_S = 4.0  # a little less than the dispatcher has patience for
_PORT, _TLS_PORT = 1883, 8883
_LONGEST_CLIENT_ID = 23  # what every broker must take (MQTT 3.1.1, 3.1.3.1)


@frozen(kw_only=True)
class MqttOptions:
    """The owner's options.

    ``topic`` is what all topics begin with, by default ``driftlead/`` and the boat's name.
    The broker takes the boat for dead when it has not heard of it for one and a half times
    ``keepalive``. ``tls`` is also switched on by ``ca_file`` or ``cert_file``; a certificate is
    never left unverified. The password comes from a file or an environment variable. Not reaching
    the broker for ``fault_after`` is an alert.
    """

    host: str
    port: int | None = None
    topic: str | None = None
    client_id: str | None = None
    username: str | None = None
    password_file: Path | None = None
    password_env: str | None = None
    tls: bool = False
    ca_file: Path | None = None
    cert_file: Path | None = None
    key_file: Path | None = None
    keepalive_s: Seconds = 30.0
    timeout_s: Seconds = 10.0
    fault_after_s: Seconds = 60.0

    @property
    def uses_tls(self) -> bool:
        """Whether the connection is encrypted."""
        return self.tls or self.ca_file is not None or self.cert_file is not None

    def problems(self) -> list[str]:
        """Say what contradicts itself."""
        found = both_given("password", self.password_file, self.password_env)
        if any(char.isspace() or char in "/@" for char in self.host):
            found.append(f"option 'host': {self.host!r} is not a host name or address alone.")
        if self.port is not None and not 0 < self.port < 65536:
            found.append(f"option 'port': {self.port} is not 1 to 65535.")
        if self.topic is not None and (problem := topic_problem(self.topic)):
            found.append(f"option 'topic': {self.topic!r} cannot be used: {problem}.")
        has_password = self.password_file is not None or self.password_env is not None
        if has_password and self.username is None:
            found.append("option 'username' is missing: a password is of no use without it.")
        if self.key_file is not None and self.cert_file is None:
            found.append("option 'key_file' does nothing without 'cert_file'.")
        if not 5 <= self.keepalive_s <= 1200:
            found.append('option \'keepalive\' is not between "5s" and "20min".')
        return found


class MqttNotifier:
    """Publishes each alert, retained, on a topic of its own, with QoS 1.

    An alert is taken when it is on the disk (see ``durable_queue``), and published as soon as the
    broker is to be had. ``<topic>/status`` says ``online``, or ``offline`` after a stop; the broker
    itself puts ``offline`` there when the boat is heard no more.
    """

    def __init__(
        self,
        options: MqttOptions,
        context: NotifierContext,
        *,
        make_client: Callable[..., Any] | None = None,
        draw: Callable[[], float] = random.random,
    ) -> None:
        """Begin to connect. ``make_client`` stands in for paho's ``Client`` in tests."""
        boat = word_of(context.boat)
        self._options = options
        self._context = context
        self._topics = Topics(options.topic or f"driftlead/{boat}")
        self._client_id = options.client_id or f"driftlead-{boat}"[:_LONGEST_CLIENT_ID]
        self._password = read_secret(
            "password",
            file=options.password_file,
            env=options.password_env,
            notifier=context.name,
        )
        self._tls = _tls(options, context.name)
        self._paho = _load_paho()
        self._make = make_client or self._paho.Client
        troubles = Troubles(context.report)
        settings = LinkSettings(
            host=options.host,
            port=options.port or (_TLS_PORT if options.uses_tls else _PORT),
            keepalive_s=round(options.keepalive_s),
            timeout_s=options.timeout_s,
            fault_after_s=options.fault_after_s,
            status_topic=self._topics.status,
        )
        self._link = MqttLink(
            settings,
            context,
            make_client=self._client,
            say=lambda text: troubles.say("link", text),
            on_up=self._on_up,
            draw=draw,
        )
        self._sender = QueueSender(
            context,
            self._publish_queued,
            fault_after_s=options.fault_after_s,
            troubles=troubles,
            draw=draw,
        )

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Self:
        """Build it within the event loop and begin to connect.

        Raises ConfigError for unusable options and NotifierError without paho-mqtt.
        """
        return cls(structure_options(MqttOptions, options, notifier=context.name), context)

    @property
    def lasts(self) -> bool:
        """True: the broker holds what it has taken, and the disk the rest."""
        return True

    async def notify(self, alert: Alert) -> None:
        """Take ``alert``. Raises NotifierError if it is neither on the disk nor published."""
        await self._sender.take(alert)

    async def alls_well(self, tick: AllsWell) -> None:
        """Publish the sign of life, unless there is no broker: that is told as a fault already."""
        body = alls_well_body(tick, boat=self._context.boat)
        with contextlib.suppress(TryAgainError, OutOfTimeError):
            publishing = self._link.publish(self._topics.alls_well, body)
            await run_within(publishing, _PING_LIMIT_S, self._context.sleep)

    async def check(self) -> str:
        """Publish a message called ``check``, not retained, on a topic of its own.

        Raises NotifierError when the broker does not take it.
        """
        alert = check_alert("the broker", mono_s=self._context.clock())
        body = alert_body(alert, boat=self._context.boat)
        try:
            await self._link.publish(self._topics.check, body, retain=False)
        except TryAgainError as error:
            raise NotifierError(error.message, remedy=error.remedy) from None
        secured = "over TLS" if self._options.uses_tls else "without TLS"
        return f"{self._link.where} took a test message {secured} on {self._topics.check}."

    def still_has(self, alert: Alert) -> bool:
        """Whether anything of ``alert`` was taken but has not gone out yet."""
        return self._sender.has(alert)

    async def close(self) -> None:
        """Publish what is on its way, say that the boat is offline, and leave."""
        await self._sender.close()
        await self._link.close()

    async def _publish_queued(self, entry: QueuedAlert) -> None:
        await self._link.publish(self._topics.alert(entry.name, entry.instance), entry.body)

    def _on_up(self) -> None:
        self._sender.wake()

    def _client(self) -> Any:
        """Make a client ready to connect."""
        paho = self._paho
        client = self._make(
            paho.CallbackAPIVersion.VERSION2,
            client_id=self._client_id,
            clean_session=True,
            protocol=paho.MQTTv311,
            reconnect_on_failure=False,
        )
        client.connect_timeout = self._options.timeout_s
        client.will_set(self._topics.status, OFFLINE, qos=QOS_AT_LEAST_ONCE, retain=True)
        if self._options.username is not None:
            client.username_pw_set(self._options.username, self._password or None)
        if self._tls is not None:
            client.tls_set_context(self._tls)
        return client


def _pip() -> str:
    """How whoever runs this very Python installs something for it."""
    return f"{shlex.quote(sys.executable)} -m pip"


def _load_paho() -> Any:
    """Import paho-mqtt when it is first needed. Raises NotifierError if it is not installed."""
    try:
        paho = importlib.import_module("paho.mqtt.client")
    except ModuleNotFoundError as error:
        raise NotifierError(
            "The notifier 'mqtt' needs paho-mqtt, which is not installed.",
            remedy=f"Install it: {_pip()} install 'driftlead[mqtt]'.",
        ) from error
    if not hasattr(paho, "CallbackAPIVersion"):
        raise NotifierError(
            "The notifier 'mqtt' needs paho-mqtt 2.0 or newer.",
            remedy=f"Update it: {_pip()} install --upgrade 'driftlead[mqtt]'.",
        )
    return paho


def _tls(options: MqttOptions, name: str) -> ssl.SSLContext | None:
    if not options.uses_tls:
        return None
    file = options.ca_file
    try:
        context = ssl.create_default_context(cafile=file)
        if options.cert_file is not None:
            file = options.cert_file
            context.load_cert_chain(options.cert_file, options.key_file)
    except OSError as error:  # SSLError is one
        key = "ca_file" if file is options.ca_file else "cert_file"
        raise unusable(
            name,
            f"option {key!r}: {file} cannot be used: {error}.",
            "Give the certificate, and its key, in PEM form.",
        ) from error
    return context
