"""Alerts by MQTT, with a pretended client in the place of paho's."""

import asyncio
import json
import ssl
import sys
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from attrs import evolve, field, frozen

from driftlead.alerts.alert import AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.errors import ConfigError, NotifierError
from driftlead.notify.base import HearsAllsWell, Lasting, Notifier, NotifierContext
from driftlead.notify.mqtt import MqttNotifier, MqttOptions
from driftlead.testing import FakeTime, NotifierContract, make_alert, make_context

LIMIT_S = 20.0
BASE = "driftlead/corvid"
WARNING = make_alert(name="fix_lost", priority=Priority.WARNING)
TICK = AllsWell(state="riding", sees=True, mono_s=1.0)


@frozen
class Code:
    """What paho says of a connection."""

    text: str = "Success"

    @property
    def is_failure(self) -> bool:
        """Whether it is bad."""
        return self.text != "Success"

    def __str__(self) -> str:
        return self.text


@frozen
class Sent:
    """What paho answers to a publish."""

    mid: int


@frozen
class Message:
    """What a broker got."""

    topic: str
    payload: bytes
    retain: bool = field(default=True)


class FakeBroker:
    """Answers clients as it is told, and keeps what it gets."""

    def __init__(self) -> None:
        self.clients: list[FakeClient] = []
        self.got: list[Message] = []
        self.refuses: Exception | None = None
        self.code = Code()
        self.acknowledges = True

    def client(self, *arguments: object, **settings: object) -> "FakeClient":
        """Stand in for the class of paho."""
        self.clients.append(FakeClient(self, arguments, settings))
        return self.clients[-1]

    def drop(self) -> None:
        """Lose the connection."""
        client = self.clients[-1]
        client.on_disconnect(client, None, None, None, None)


class FakeClient:
    """A client of paho, as far as we use one; it calls back from whatever thread calls it."""

    on_connect: Callable[..., None]
    on_disconnect: Callable[..., None]
    on_publish: Callable[..., None]
    connect_timeout: float

    def __init__(self, broker: FakeBroker, arguments: object, settings: dict[str, object]) -> None:
        self.broker = broker
        self.arguments = arguments
        self.settings = settings
        self.calls: list[tuple[object, ...]] = []
        self.mid = 0

    def connect(self, host: str, port: int, keepalive: int) -> None:
        """Be refused, or not."""
        self.calls.append(("connect", host, port, keepalive))
        if self.broker.refuses is not None:
            raise self.broker.refuses

    def loop_start(self) -> None:
        """Answer at once."""
        self.on_connect(self, None, None, self.broker.code, None)

    def publish(self, topic: str, payload: bytes, *, qos: int, retain: bool) -> Sent:
        """Take a message."""
        assert qos == 1
        self.broker.got.append(Message(topic, payload, retain))
        self.mid += 1
        if self.broker.acknowledges:
            self.on_publish(self, None, self.mid, None, None)
        return Sent(self.mid)

    def disconnect(self) -> None:
        """Leave."""
        self.calls.append(("disconnect",))
        self.on_disconnect(self, None, None, None, None)

    def loop_stop(self) -> None:
        """End the thread there never was."""
        self.calls.append(("loop_stop",))

    def reinitialise(self) -> None:
        """Close sockets there never were."""

    def socket(self) -> None:
        """Have none."""

    def will_set(self, *arguments: object, **settings: object) -> None:
        """Note the last will."""
        self.calls.append(("will", *arguments, settings))

    def username_pw_set(self, username: str, password: bytes | None) -> None:
        """Note who we say we are."""
        self.calls.append(("user", username, password))

    def tls_set_context(self, context: ssl.SSLContext) -> None:
        """Note how it is encrypted."""
        self.calls.append(("tls", context.verify_mode, context.check_hostname))


class TestMqttKeepsTheContract(NotifierContract):
    """The MQTT notifier is a proper notifier."""

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build it for a broker that takes everything."""
        return MqttNotifier(
            MqttOptions(host="broker"), context, make_client=FakeBroker().client, draw=lambda: 1.0
        )

    def make_broken_notifier(self, context: NotifierContext) -> Notifier:
        """Build it for a broker that is not there, and without a disk to keep alerts on."""
        broker = FakeBroker()
        broker.refuses = ConnectionRefusedError(111, "Connection refused")
        nowhere = evolve(context, state_dir=context.state_dir / "nowhere")
        return MqttNotifier(MqttOptions(host="broker"), nowhere, make_client=broker.client)


class Shore:
    """A pretended broker, and notifiers for it on a fake clock."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.broker = FakeBroker()
        self.time = FakeTime()
        self.reports: list[str | None] = []
        self._made: list[MqttNotifier] = []

    def notifier(self, **options: Any) -> MqttNotifier:
        """Build one; it is closed after the test."""
        context = make_context(
            self.folder,
            clock=self.time.clock,
            sleep=self.time.sleep,
            report=self.reports.append,
        )
        made = MqttNotifier(
            MqttOptions(**({"host": "broker"} | options)),
            context,
            make_client=self.broker.client,
            draw=lambda: 1.0,
        )
        self._made.append(made)
        return made

    async def close(self) -> None:
        """Close all."""
        async with asyncio.timeout(LIMIT_S):
            for notifier in self._made:
                await notifier.close()

    @property
    def alerts(self) -> list[tuple[str, str, bool]]:
        """The alerts the broker got: topic, state, whether it holds it."""
        return [
            (message.topic.removeprefix(f"{BASE}/alerts/"), state, message.retain)
            for message in self.broker.got
            if message.topic.startswith(f"{BASE}/alerts/")
            for state in [json.loads(message.payload)["state"]]
        ]

    @property
    def statuses(self) -> list[bytes]:
        """Every status the broker got."""
        return [m.payload for m in self.broker.got if m.topic == f"{BASE}/status"]


@pytest_asyncio.fixture
async def shore(tmp_path: Path) -> AsyncIterator[Shore]:
    """A pretended broker."""
    made = Shore(tmp_path)
    yield made
    await made.close()


async def at_rest(notifier: MqttNotifier) -> None:
    """Wait until nothing is being sent."""
    async with asyncio.timeout(LIMIT_S):
        await notifier._sender._at_rest.wait()


async def until(true: Callable[[], bool]) -> None:
    """Wait until it is so."""
    async with asyncio.timeout(LIMIT_S):
        while not true():  # noqa: ASYNC110 - what a test asks for has no event of its own
            await asyncio.sleep(0)


@pytest.mark.asyncio
async def test_an_alert_is_held_on_a_topic_of_its_own(shore: Shore) -> None:
    """As the JSON that a webhook gets, and with its newest state."""
    notifier = shore.notifier()
    for state in (AlertState.ACTIVE_UNACKNOWLEDGED, AlertState.NORMAL):
        await notifier.notify(make_alert(state=state))
        await at_rest(notifier)
    await notifier.notify(make_alert(name="source_silent", instance="gps", utc_s=1_780_000_000.0))
    await at_rest(notifier)
    assert shore.alerts == [
        ("drag", "active_unacknowledged", True),
        ("drag", "normal", True),
        ("source_silent/gps", "active_unacknowledged", True),
    ]
    assert json.loads(shore.broker.got[-1].payload)["t"] == "2026-05-28T20:26:40.000Z"


@pytest.mark.asyncio
async def test_the_boat_is_online_from_the_start_and_offline_after_the_stop(shore: Shore) -> None:
    """She takes leave; did she not, the broker would carry out her last will."""
    notifier = shore.notifier()
    await notifier.check()
    await notifier.close()
    assert shore.statuses == [b"online", b"offline"]
    (client,) = shore.broker.clients
    will = ("will", f"{BASE}/status", b"offline", {"qos": 1, "retain": True})
    assert client.calls[:3] == [will, ("connect", "broker", 1883, 30), ("disconnect",)]
    assert set(client.calls[3:]) == {("loop_stop",)}


@pytest.mark.asyncio
async def test_a_lost_connection_is_made_again_and_the_broker_told_what_it_may_have_forgotten(
    shore: Shore,
) -> None:
    """By a new client, so that nothing old can follow something newer."""
    notifier = shore.notifier()
    await notifier.notify(make_alert())
    await at_rest(notifier)
    shore.broker.got.clear()
    shore.broker.drop()
    await shore.time.until_sleeping(1.0)
    await shore.time.advance(1.0)
    await notifier.check()
    assert len(shore.broker.clients) == 2
    assert [message.topic for message in shore.broker.got] == [
        f"{BASE}/status",
        f"{BASE}/alerts/drag",
        f"{BASE}/check",
    ]
    assert shore.reports == []


@pytest.mark.asyncio
async def test_what_happens_without_a_broker_is_published_when_there_is_one(shore: Shore) -> None:
    """Also that there was an alarm which is over by then."""
    shore.broker.refuses = ConnectionRefusedError(111, "Connection refused")
    notifier = shore.notifier()
    for state in (AlertState.ACTIVE_UNACKNOWLEDGED, AlertState.NORMAL):
        await notifier.notify(make_alert(state=state))
        await notifier.notify(evolve(WARNING, state=state))
    await shore.time.until_sleeping(1.0)
    shore.broker.refuses = None
    await until(lambda: shore.time.slept_s.count(1.0) == 2)
    await shore.time.advance(1.0)
    await until(lambda: not notifier._sender.waiting)
    assert shore.alerts == [
        ("drag", "active_unacknowledged", True),
        ("drag", "normal", True),
        ("fix_lost", "normal", True),
    ]


@pytest.mark.asyncio
async def test_a_restart_publishes_what_the_last_run_could_not(shore: Shore) -> None:
    """It was on the disk meanwhile."""
    shore.broker.refuses = OSError(101, "Network is unreachable")
    notifier = shore.notifier()
    await notifier.notify(make_alert())
    await at_rest(notifier)
    await notifier.close()
    assert shore.alerts == []
    shore.broker.refuses = None
    again = shore.notifier()
    await at_rest(again)
    assert shore.alerts == [("drag", "active_unacknowledged", True)]


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("trouble", "code", "told"),
    [
        (ConnectionRefusedError(111, "Connection refused"), "Success", "Connection refused"),
        (ssl.SSLCertVerificationError(1, "certificate verify failed"), "Success", "TLS failed"),
        (UnicodeError("label too long"), "Success", "label too long"),
        (RuntimeError("oops"), "Success", "RuntimeError"),
        (None, "Not authorized", "the broker refuses: Not authorized"),
    ],
)
async def test_no_broker_for_a_minute_is_a_fault_until_there_is_one(
    shore: Shore, trouble: Exception | None, code: str, told: str
) -> None:
    """Even if there is nothing to publish; tried ever more slowly, half a minute at the most."""
    shore.broker.refuses, shore.broker.code = trouble, Code(code)
    notifier = shore.notifier()
    for wait_s in (1.0, 2.0, 4.0, 8.0, 16.0):
        await shore.time.until_sleeping(wait_s)
        await shore.time.advance(wait_s)
    assert shore.reports == []
    for _ in range(3):
        await shore.time.until_sleeping(30.0)
        await shore.time.advance(30.0)
    await shore.time.until_sleeping(30.0)
    (report,) = shore.reports
    assert str(report).startswith("MQTT broker broker:1883: ")
    assert told in str(report)
    with pytest.raises(NotifierError, match=told):
        await notifier.check()
    shore.broker.refuses, shore.broker.code = None, Code()
    await shore.time.advance(30.0)
    await until(lambda: len(shore.reports) == 2)
    assert shore.reports == [report, None]
    await notifier.check()


@pytest.mark.asyncio
async def test_a_broker_that_does_not_acknowledge_is_left_and_tried_anew(shore: Shore) -> None:
    """It may only seem to be there; the alert waits and goes out in the end."""
    notifier = shore.notifier()
    await notifier.check()
    shore.broker.acknowledges = False
    await notifier.notify(make_alert())
    await until(lambda: bool(shore.alerts))
    await shore.time.advance(10.0)
    assert len(notifier._sender.waiting) == 1
    shore.broker.drop()  # as the ended thread of paho would
    shore.broker.acknowledges = True
    # Both the queue and the connection wait a second by then.
    await until(lambda: shore.time.slept_s.count(1.0) == 2)
    await shore.time.advance(1.0)
    await until(lambda: not notifier._sender.waiting)
    assert shore.alerts == [("drag", "active_unacknowledged", True)] * 2


@pytest.mark.asyncio
async def test_the_sign_of_life_is_held_but_never_kept_for_later(shore: Shore) -> None:
    """An old one would tell a lie."""
    notifier = shore.notifier()
    assert isinstance(notifier, HearsAllsWell)
    await notifier.alls_well(TICK)
    assert shore.broker.got[-1].topic == f"{BASE}/alls_well"
    assert shore.broker.got[-1].retain
    assert json.loads(shore.broker.got[-1].payload)["alls_well"] is True
    shore.broker.refuses = ConnectionRefusedError(111, "Connection refused")
    shore.broker.drop()
    await shore.time.until_sleeping(1.0)
    await notifier.alls_well(TICK)
    assert notifier._sender.waiting == ()


@pytest.mark.asyncio
async def test_the_sign_of_life_does_not_wait_for_a_broker_that_hangs(shore: Shore) -> None:
    """The dispatcher gives it five seconds."""
    notifier = shore.notifier()
    await notifier.check()
    shore.broker.acknowledges = False
    ticking = asyncio.create_task(notifier.alls_well(TICK))
    await shore.time.until_sleeping(4.0)
    await shore.time.advance(4.0)
    await ticking
    shore.broker.acknowledges = True


@pytest.mark.asyncio
async def test_it_is_not_told_again_after_a_restart(shore: Shore) -> None:
    """The broker holds what it has taken."""
    notifier = shore.notifier()
    assert isinstance(notifier, Lasting)
    assert notifier.lasts


@pytest.mark.asyncio
async def test_the_check_is_not_held_and_tells_how_it_went(shore: Shore) -> None:
    """A test message must not be found later by somebody who takes it for news."""
    said = await shore.notifier().check()
    assert said == (
        "MQTT broker broker:1883 took a test message without TLS on driftlead/corvid/check."
    )
    assert shore.broker.got[-1].topic == f"{BASE}/check"
    assert not shore.broker.got[-1].retain


@pytest.mark.asyncio
async def test_the_owners_options_reach_the_client(
    shore: Shore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The certificate is verified; the password is shown nowhere."""
    monkeypatch.setenv("BROKER_PASSWORD", "pa55")
    notifier = shore.notifier(
        tls=True,
        topic="fleet/one",
        client_id="one",
        username="corvid",
        password_env="BROKER_PASSWORD",  # noqa: S106
        keepalive_s=15.0,
    )
    await notifier.check()
    (client,) = shore.broker.clients
    assert client.settings["client_id"] == "one"
    assert client.settings["reconnect_on_failure"] is False
    assert client.calls[:4] == [
        ("will", "fleet/one/status", b"offline", {"qos": 1, "retain": True}),
        ("user", "corvid", b"pa55"),
        ("tls", ssl.CERT_REQUIRED, True),
        ("connect", "broker", 8883, 15),
    ]
    assert "pa55" not in repr(notifier._options)


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({}, "'host' is required"),
        ({"host": "broker/x"}, "'host': 'broker/x' is not a host name"),
        ({"port": 0}, "'port': 0 is not 1 to 65535"),
        ({"topic": "a/#"}, "'topic': 'a/#' cannot be used: wildcards"),
        ({"password_env": "X"}, "'username' is missing"),
        ({"username": "u", "password_env": "X", "password_file": "y"}, "exclude each other"),
        ({"username": "u", "password_env": "NOBODY_SETS_THIS"}, "is not set"),
        ({"username": "u", "password": "inline"}, "'password' is not known"),
        ({"key_file": "x"}, "'key_file' does nothing"),
        ({"keepalive": "1s"}, "'keepalive' is not between"),
        ({"ca_file": "/nonexistent/ca.pem"}, "'ca_file': /nonexistent/ca.pem cannot be used"),
        ({"cert_file": "/nonexistent/c.pem"}, "'cert_file': /nonexistent/c.pem cannot be used"),
    ],
)
def test_options_that_cannot_be_used_are_told_with_a_remedy(
    options: dict[str, Any], told: str, tmp_path: Path
) -> None:
    """At the start, not with the first alert."""
    if options and "host" not in options:
        options = {"host": "broker", **options}
    with pytest.raises(ConfigError) as caught:
        MqttNotifier.from_options(options, make_context(tmp_path))
    assert told in str(caught.value)
    assert caught.value.problems
    assert caught.value.remedy


@pytest.mark.parametrize(("module", "remedy"), [(None, "pip install 'driftlead"), (1, "--upgrade")])
def test_without_paho_mqtt_of_today_the_remedy_is_to_install_it(
    module: object, remedy: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is an extra; version 1 has another interface."""
    monkeypatch.setitem(sys.modules, "paho.mqtt.client", module)
    with pytest.raises(NotifierError) as caught:
        MqttNotifier.from_options({"host": "broker"}, make_context(tmp_path))
    assert remedy in caught.value.remedy
    assert "driftlead[mqtt]" in caught.value.remedy
