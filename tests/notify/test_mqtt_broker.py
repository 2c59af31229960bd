"""Alerts by MQTT to a real broker that is killed, hangs, or loses the boat."""

import asyncio
import gc
import json
import shutil
import subprocess
import sys
import textwrap
from collections.abc import AsyncIterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import pytest_asyncio
from attrs import evolve
from paho.mqtt import client as paho

from driftlead.alerts.alert import AlertState, Priority
from driftlead.errors import NotifierError
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.notify.mqtt import MqttNotifier, MqttOptions
from driftlead.testing import FakeTime, NotifierContract, make_alert, make_context

if TYPE_CHECKING:
    from tests.notify.conftest import Broker

LIMIT_S = 20.0
BASE = "driftlead/corvid"
STATUS, DRAG = f"{BASE}/status", f"{BASE}/alerts/drag"


class Subscriber:
    """Another client of the broker: somebody ashore."""

    def __init__(self, port: int) -> None:
        self._loop = asyncio.get_running_loop()
        self._got: asyncio.Queue[Any] = asyncio.Queue()
        self._subscribed = asyncio.Event()
        self._client = paho.Client(paho.CallbackAPIVersion.VERSION2)
        self._client.on_message = self._on_message
        self._client.on_subscribe = self._on_subscribe
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._client.subscribe("#", qos=1)

    def _on_message(self, _client: object, _data: object, message: Any) -> None:
        self._loop.call_soon_threadsafe(self._got.put_nowait, message)

    def _on_subscribe(self, *_: object) -> None:
        self._loop.call_soon_threadsafe(self._subscribed.set)

    async def ready(self) -> None:
        """Wait until the broker knows what this one wants."""
        await asyncio.wait_for(self._subscribed.wait(), LIMIT_S)

    async def hears(self, topic: str) -> Any:
        """Wait for the next message, which must be on ``topic``."""
        message = await asyncio.wait_for(self._got.get(), LIMIT_S)
        assert message.topic == topic
        return message

    def close(self) -> None:
        """Leave."""
        self._client.disconnect()
        self._client.loop_stop()
        self._client.reinitialise()  # closes its sockets


class Afloat:
    """What the tests need of a boat: her time, her notifiers, and who listens ashore."""

    def __init__(self, broker: "Broker", folder: Path) -> None:
        self.broker = broker
        self.time = FakeTime()
        self.reports: list[str | None] = []
        self._folder = folder
        self._closing: list[Any] = []

    def notifier(self, **options: Any) -> MqttNotifier:
        """Build a notifier on the fake clock; it is closed after the test."""
        context = make_context(
            self._folder,
            clock=self.time.clock,
            sleep=self.time.sleep,
            report=self.reports.append,
        )
        settings: dict[str, Any] = {"host": "127.0.0.1", "port": self.broker.port}
        made = MqttNotifier(MqttOptions(**(settings | options)), context, draw=lambda: 1.0)
        self._closing.append(made.close)
        return made

    async def subscriber(self) -> Subscriber:
        """Let somebody ashore listen to everything; closed after the test."""
        made = Subscriber(self.broker.port)

        async def close() -> None:
            made.close()

        self._closing.append(close)
        await made.ready()
        return made

    async def close(self) -> None:
        """Close everything."""
        async with asyncio.timeout(LIMIT_S):
            while self._closing:
                await self._closing.pop()()


@pytest_asyncio.fixture
async def afloat(broker: "Broker", tmp_path: Path) -> AsyncIterator[Afloat]:
    """A boat with a broker that has not been started."""
    made = Afloat(broker, tmp_path)
    yield made
    await made.close()


async def sent(notifier: MqttNotifier) -> None:
    """Wait until everything has been published."""
    async with asyncio.timeout(LIMIT_S):
        while notifier._sender.waiting:  # noqa: ASYNC110 - it has no event for just that
            await asyncio.sleep(0)


@pytest.mark.asyncio
async def test_whoever_subscribes_later_finds_what_stands(afloat: Afloat) -> None:
    """Status and alerts are retained; the check is not."""
    afloat.broker.start()
    notifier = afloat.notifier()
    await notifier.check()
    await notifier.notify(make_alert())
    await sent(notifier)
    await notifier.notify(make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED))
    await sent(notifier)
    ashore = await afloat.subscriber()
    found = {}
    for _ in range(2):
        message = await asyncio.wait_for(ashore._got.get(), LIMIT_S)
        assert message.retain
        found[message.topic] = message.payload
    assert found[STATUS] == b"online"
    assert json.loads(found[DRAG])["state"] == "active_acknowledged"
    assert ashore._got.empty()


@pytest.mark.asyncio
async def test_a_broker_killed_and_restarted_is_told_everything_again(afloat: Afloat) -> None:
    """It has forgotten what it held; what came meanwhile is published too, each in its order."""
    afloat.broker.start()
    notifier = afloat.notifier()
    await notifier.notify(make_alert())
    await notifier.notify(make_alert(name="fix_poor", priority=Priority.CAUTION))
    await sent(notifier)
    afloat.broker.kill()
    await afloat.time.until_sleeping(1.0)
    await notifier.notify(make_alert(state=AlertState.ACTIVE_ACKNOWLEDGED))
    await notifier.notify(make_alert(number=2))
    afloat.broker.start()
    ashore = await afloat.subscriber()
    await afloat.time.advance(1.0)
    assert (await ashore.hears(STATUS)).payload == b"online"
    heard = []
    for topic in (DRAG, f"{BASE}/alerts/fix_poor", DRAG):
        body = json.loads((await ashore.hears(topic)).payload)
        heard.append((body["name"], body["number"], body["state"]))
    assert heard == [
        ("drag", 1, "active_unacknowledged"),
        ("fix_poor", 1, "active_unacknowledged"),
        ("drag", 2, "active_unacknowledged"),
    ]
    await sent(notifier)
    assert afloat.reports == []


@pytest.mark.asyncio
async def test_a_lost_connection_is_seen_ashore_by_the_last_will(afloat: Afloat) -> None:
    """The broker says for the boat that she is offline, until she is back."""
    afloat.broker.start()
    notifier = afloat.notifier()
    await notifier.check()
    ashore = await afloat.subscriber()
    assert (await ashore.hears(STATUS)).payload == b"online"
    assert notifier._link._session is not None
    notifier._link._session.cut()
    will = await ashore.hears(STATUS)
    assert will.payload == b"offline"
    await afloat.time.until_sleeping(1.0)
    await afloat.time.advance(1.0)
    assert (await ashore.hears(STATUS)).payload == b"online"
    await notifier.close()
    assert (await ashore.hears(STATUS)).payload == b"offline"


BOAT = """
import asyncio, sys, time
from pathlib import Path
from driftlead.notify.mqtt import MqttNotifier
from driftlead.testing import make_alert, make_context

async def run():
    context = make_context(Path(sys.argv[1]), clock=time.monotonic, sleep=asyncio.sleep)
    notifier = MqttNotifier.from_options({"host": "127.0.0.1", "port": int(sys.argv[2])}, context)
    await notifier.check()
    await notifier.notify(make_alert())
    await asyncio.Event().wait()

asyncio.run(run())
"""


@pytest.mark.asyncio
async def test_a_dead_boat_is_seen_ashore(afloat: Afloat, tmp_path: Path) -> None:
    """Killed with SIGKILL, she says nothing more, and the broker says it for her."""
    afloat.broker.start()
    ashore = await afloat.subscriber()
    boat = await asyncio.create_subprocess_exec(
        sys.executable, "-c", textwrap.dedent(BOAT), str(tmp_path), str(afloat.broker.port)
    )
    assert (await ashore.hears(STATUS)).payload == b"online"
    await ashore.hears(f"{BASE}/check")
    await ashore.hears(DRAG)
    boat.kill()
    assert (await ashore.hears(STATUS)).payload == b"offline"
    await asyncio.wait_for(boat.wait(), LIMIT_S)
    later = await afloat.subscriber()
    found = [await asyncio.wait_for(later._got.get(), LIMIT_S) for _ in range(2)]
    assert {(m.topic, m.payload[:7], m.retain) for m in found} == {
        (STATUS, b"offline", True),
        (DRAG, b'{"schem', True),
    }


@pytest.mark.asyncio
async def test_a_broker_that_hangs_holds_nobody_up(afloat: Afloat) -> None:
    """Taking an alert and closing end in time, and the alert stays on the disk."""
    afloat.broker.start()
    notifier = afloat.notifier()
    await notifier.check()
    afloat.broker.hang()
    async with asyncio.timeout(LIMIT_S):
        await notifier.notify(make_alert())
        await afloat.time.until_sleeping(10.0)
        closing = asyncio.create_task(notifier.close())
        for grace_s in (3.0, 2.0):
            await afloat.time.until_sleeping(grace_s)
            await afloat.time.advance(grace_s)
        await closing
    assert len(notifier._sender.waiting) == 1


@pytest.mark.filterwarnings("ignore:unclosed <ssl.SSLSocket:ResourceWarning")
@pytest.mark.asyncio
async def test_the_wrong_password_is_told_as_that(afloat: Afloat, tmp_path: Path) -> None:
    """And the right one is taken, over TLS with the authority of the owner."""
    programs = [shutil.which("mosquitto_passwd"), shutil.which("openssl")]
    if not all(programs):
        pytest.skip("mosquitto_passwd and openssl are needed to make the credentials")
    users, cert, key = tmp_path / "users", tmp_path / "cert.pem", tmp_path / "key.pem"
    kind = ["-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    named = ["-days", "2", "-subj", "/CN=localhost", "-addext", "subjectAltName=IP:127.0.0.1"]
    for words in (
        [programs[0], "-c", "-b", str(users), "corvid", "right"],
        [programs[1], "req", *kind, *named, "-keyout", str(key), "-out", str(cert)],
    ):
        subprocess.run([str(w) for w in words], check=True, capture_output=True)  # noqa: ASYNC221
    afloat.broker.config += (
        f"certfile {cert}\nkeyfile {key}\nallow_anonymous false\npassword_file {users}\n"
    )
    afloat.broker.start()

    def build(password: str, **options: Any) -> MqttNotifier:
        file = tmp_path / password
        file.write_text(f"{password}\n")
        return afloat.notifier(username="corvid", password_file=file, **options)

    with pytest.raises(NotifierError, match="the broker refuses: Not authorized") as caught:
        await build("wrong", ca_file=cert).check()
    assert "password" in caught.value.remedy
    with pytest.raises(NotifierError, match=r"TLS failed: self.signed certificate"):
        await build("right", tls=True).check()
    with pytest.raises(NotifierError, match=r"127\.0\.0\.1"):
        await build("right").check()
    assert "over TLS" in await build("right", ca_file=cert).check()
    await afloat.close()
    gc.collect()  # paho leaves the socket of a failed handshake to be collected: while ignored


class TestMqttKeepsTheContractWithARealBroker(NotifierContract):
    """The MQTT notifier is a proper notifier, paho and all."""

    @pytest.fixture(autouse=True)
    def _running(self, broker: "Broker") -> None:
        broker.start()
        self._broker = broker

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build it for the broker."""
        options = {"host": "127.0.0.1", "port": self._broker.port}
        return MqttNotifier.from_options(options, context)

    def make_broken_notifier(self, context: NotifierContext) -> Notifier:
        """Build it for a port nobody listens on, and without a disk to keep alerts on."""
        nowhere = evolve(context, state_dir=context.state_dir / "nowhere")
        return MqttNotifier.from_options({"host": "127.0.0.1", "port": 9}, nowhere)
