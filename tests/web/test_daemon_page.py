"""The page of a whole daemon, and the verbs that let devices in and put them out."""

import asyncio
import datetime as dt
import json
import socket
import tempfile
from collections.abc import AsyncIterator, Iterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiohttp
import pytest
from click.testing import CliRunner, Result

from driftlead.cli.main import main
from driftlead.config.load import build_config
from driftlead.daemon.control_client import ask
from driftlead.daemon.control_protocol import WebRequest, parse_request
from driftlead.daemon.sd_notify import SdNotify
from driftlead.daemon.service import Service
from driftlead.errors import UserInputError
from driftlead.lines import StampedLine
from driftlead.simulate.nmea_writer import gga, rmc
from driftlead.sources.base import SourceHealth
from driftlead.testing import FakeTime, RecordingNotifier

PATIENCE_S = 20.0


class Ready(SdNotify):
    """Tells when the daemon is."""

    def __init__(self) -> None:
        super().__init__(None)
        self.event = asyncio.Event()

    def _send(self, text: str) -> None:
        if text == "READY=1":
            self.event.set()


class HandSource:
    """A source whose lines the test sends."""

    def __init__(self, settings: Any, **given: Any) -> None:
        self.name = settings.name
        self.given = given

    async def run(self) -> None:
        """Be open until cancelled."""
        self.given["on_health"](SourceHealth(self.name, True, "Open."))
        await asyncio.Event().wait()


class Daemon:
    """A daemon in this process, its page and its verbs."""

    def __init__(self, folder: Path, web: dict[str, Any] | None) -> None:
        self.folder = folder
        self.time = FakeTime()
        self.source: HandSource
        self.notifier = RecordingNotifier()
        raw: dict[str, Any] = {
            "boat": {"name": "Corvid", "length": "9.6m", "bow_height": "1.1m"},
            "tackle": {"chain": "45m", "chain_size": "8mm"},
            "source": [{"name": "gps", "kind": "udp", "port": 1}],
            "notifier": [{"kind": "pretended"}],
            "journal": {"path": "state/journal.db"},
            "recording": {"directory": "nights"},
            "control": {"socket": "control.sock"},
        }
        if web is not None:
            raw["web"] = web
        self.config = build_config(raw, folder / "driftlead.toml")
        self.ready = Ready()
        self.service = Service(
            self.config,
            monotonic=self.time.clock,
            sleep=self.time.sleep,
            systemd=self.ready,
            make_notifier=lambda *_: self.notifier,
            make_source=self._make_source,
        )

    def _make_source(self, settings: Any, **given: Any) -> HandSource:
        self.source = HandSource(settings, **given)
        return self.source

    async def lie(self, seconds: int) -> None:
        """Lie still for some seconds."""
        for second in range(seconds):
            utc = dt.datetime(2026, 6, 14, 20, 0, 0, tzinfo=dt.UTC) + dt.timedelta(seconds=second)
            lat_deg = 46.5 + 0.000002 * (second % 3)
            for text in (
                rmc(utc=utc, lat_deg=lat_deg, lon_deg=-31.2, sog_mps=0.0, cog_deg=0.0),
                gga(utc=utc, lat_deg=lat_deg, lon_deg=-31.2, satellites=11, hdop=0.9),
            ):
                self.source.given["emit"](StampedLine(self.source.given["clock"](), "gps", text))
            await self.time.advance(1.0)

    async def verb(self, *arguments: str) -> Result:
        """Run a verb as at the terminal."""
        where = ["--socket", str(self.config.control.socket)]
        return await asyncio.to_thread(CliRunner().invoke, main, [*arguments, *where])


def free_port() -> int:
    """A port nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


@pytest.fixture
def folder() -> Iterator[Path]:
    """A short path: that of a socket may have a hundred characters."""
    with tempfile.TemporaryDirectory(prefix="dl") as name:
        yield Path(name)


@asynccontextmanager
async def running(folder: Path, web: dict[str, Any] | None) -> AsyncIterator[Daemon]:
    """Run a daemon meanwhile."""
    daemon = Daemon(folder, web)
    task = asyncio.create_task(daemon.service.run())
    try:
        async with asyncio.timeout(PATIENCE_S):
            await daemon.ready.event.wait()
        yield daemon
    finally:
        daemon.service.request_stop()
        async with asyncio.timeout(PATIENCE_S):
            while not task.done():
                await daemon.time.advance(1.0)
                await asyncio.wait({task}, timeout=0.01)
        await task


async def pair(session: aiohttp.ClientSession, origin: str, pin: str) -> dict[str, str]:
    """Pair, and give the headers to act with."""
    headers = {"Origin": origin}
    body = {"pin": pin, "name": "Phone"}
    async with session.post("/api/v1/pair", json=body, headers=headers) as answer:
        assert answer.status == 200, await answer.text()
        return {**headers, "X-Csrf-Token": (await answer.json())["csrf"]}


def browser(port: int) -> aiohttp.ClientSession:
    """A browser."""
    jar = aiohttp.CookieJar(unsafe=True)
    return aiohttp.ClientSession(f"http://127.0.0.1:{port}", cookie_jar=jar)


@pytest.mark.asyncio
async def test_a_device_is_paired_by_the_verb_and_gives_commands_that_are_kept(
    folder: Path,
) -> None:
    port = free_port()
    async with running(folder, {"listen": f"0.0.0.0:{port}"}) as daemon, browser(port) as session:
        await daemon.lie(3)
        shown = await daemon.verb("pair")
        assert shown.exit_code == 0, shown.output
        pin = shown.output.split("PIN: ")[1].split("   ")[0]
        headers = await pair(session, f"http://127.0.0.1:{port}", pin)
        async with session.get("/api/v1/now") as answer:
            now = await answer.json()
        assert (now["boat"]["name"], now["state"]) == ("Corvid", "stowed")
        assert now["sources"][0] == now["sources"][0] | {"name": "gps", "open": True}
        body = {
            "command": "let_go",
            "rode_m": 30.0,
            "depth_m": 6.0,
            "key": "a-key-of-16-chars",
            "run_id": now["run_id"],
            "run_s": now["run_s"],
        }
        async with session.post("/api/v1/commands", json=body, headers=headers) as answer:
            assert await answer.json() == {
                "accepted": True,
                "saved": True,
                "text": "Let go: the drop point is marked, good to 3 m.",
                "remedy": "",
            }
        status = await asyncio.to_thread(ask, daemon.config.control.socket, {"status": True})
        assert status["status"]["state"] == "let_go"
        async with session.get("/api/v1/events") as answer:
            (event, *_) = (await answer.json())["events"]
        assert event["event"]["name"] == "let_go"
        async with session.post(
            "/api/v1/plan", json={"wind_mps": 5, "depth_m": 6}, headers=headers
        ) as answer:
            assert (await answer.json())["aboard_m"] == 45.0


@pytest.mark.asyncio
async def test_devices_are_listed_and_put_out_at_the_terminal(folder: Path) -> None:
    port = free_port()
    async with running(folder, {"listen": f"0.0.0.0:{port}"}) as daemon, browser(port) as session:
        assert "No device is paired" in (await daemon.verb("devices")).output
        pin = (await daemon.verb("pair")).output.split("PIN: ")[1].split("   ")[0]
        await pair(session, f"http://127.0.0.1:{port}", pin)
        (device,) = json.loads((await daemon.verb("devices", "--json")).output)
        assert device["name"] == "Phone"
        line = (await daemon.verb("devices")).output
        assert line.startswith(device["id"])
        assert line.endswith("Phone\n")
        wrong = await daemon.verb("devices", "--revoke", "nobody")
        assert wrong.exit_code == 1
        assert "No device 'nobody' is paired." in wrong.output
        out = await daemon.verb("devices", "--revoke", device["id"])
        assert out.output.startswith(f"{device['id']} is unpaired.")
        async with session.get("/api/v1/now") as answer:
            assert answer.status == 401


@pytest.mark.asyncio
async def test_a_drill_begun_from_the_page_leaves_its_result_there(folder: Path) -> None:
    """What the notifier has carried, and that it was ended; a second one meanwhile is refused."""
    port = free_port()
    async with running(folder, {"listen": f"127.0.0.1:{port}"}) as daemon, browser(port) as session:
        pin = (await daemon.verb("pair")).output.split("PIN: ")[1].split("   ")[0]
        headers = await pair(session, f"http://127.0.0.1:{port}", pin)

        async def get(path: str) -> Any:
            async with session.get(f"/api/v1/{path}") as answer:
                return await answer.json()

        async def drill(key: str, **fields: Any) -> Any:
            now = await get("now")
            asked = {"command": "drill", "key": f"a-key-of-16-chars-{key}", **fields}
            body = {**asked, "run_id": now["run_id"], "run_s": now["run_s"]}
            async with session.post("/api/v1/commands", json=body, headers=headers) as answer:
                return await answer.json()

        begun = await drill("1")
        assert begun["accepted"], begun
        assert "until somebody acknowledges" in begun["text"]
        again = await drill("2")
        assert not again["accepted"]
        assert (again["text"], again["remedy"]) == ("A drill is on already.", "Wait for its end.")
        assert await get("drill") == {"result": None}
        await daemon.time.advance(1.0)
        assert (await drill("3", over=True))["accepted"]
        async with asyncio.timeout(PATIENCE_S):
            while not (await get("now"))["drills"]:
                await daemon.time.advance(0.2)
        result = (await get("drill"))["result"]
        assert (result["number"], result["good"]) == (1, True)
        assert result["text"].startswith("The drill was ended, after")
        (part,) = result["parts"]
        assert (part["level"], part["what"]) == ("ok", "notifier pretended")
        assert part["text"].startswith("Arrived after")


@pytest.mark.asyncio
async def test_without_the_table_there_is_no_page_and_the_verbs_say_what_to_write(
    folder: Path,
) -> None:
    async with running(folder, None) as daemon:
        for verb in ("pair", "devices"):
            answer = await daemon.verb(verb)
            assert answer.exit_code == 1
            assert "This daemon serves no page." in answer.output
            assert "[web]" in answer.output


@pytest.mark.asyncio
async def test_a_page_that_cannot_be_served_is_an_alert_and_the_watch_is_kept(
    folder: Path,
) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        async with running(folder, {"listen": f"127.0.0.1:{port}"}) as daemon:
            status = await asyncio.to_thread(ask, daemon.config.control.socket, {"status": True})
            (alert,) = status["status"]["alerts"]
            assert (alert["name"], alert["instance"]) == ("notifier_failed", "page")
            shown = await daemon.verb("pair")
            assert "not served at the moment" in shown.output


@pytest.mark.parametrize(
    ("text", "request_"),
    [
        ('{"v":1,"web":"pair"}', WebRequest(what="pair")),
        ('{"v":1,"web":"devices"}', WebRequest(what="devices")),
        ('{"v":1,"web":"revoke","device":"x"}', WebRequest(what="revoke", device="x")),
    ],
)
def test_what_the_verbs_ask_is_understood(text: str, request_: WebRequest) -> None:
    assert parse_request(text.encode()) == request_


@pytest.mark.parametrize(
    "text",
    [
        *('{"v":1,"web":true}', '{"v":1,"web":"revoke"}', '{"v":1,"web":"pair","device":"x"}'),
        *('{"v":1,"web":["pair"]}', '{"v":1,"web":"pair","command":"weigh"}', '{"v":1,"web":null}'),
    ],
)
def test_what_is_no_request_of_the_page_is_refused(text: str) -> None:
    with pytest.raises(UserInputError):
        parse_request(text.encode())
