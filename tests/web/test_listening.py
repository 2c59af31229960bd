"""The stream: what goes on, as it goes on."""

import asyncio
import socket
from contextlib import AsyncExitStack
from typing import Any

import pytest

from driftlead.web.listening import MOST, MOST_OF_ONE
from driftlead.web.live import MOST_MISSED


@pytest.mark.asyncio
async def test_it_begins_with_how_she_lies_and_tells_it_again_each_second(serve: Any) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=2)
        async with rig.stream(rig.client()) as stream:
            _, first = await stream.next("now")
            assert first["run_s"] == 2.0
            for second in (3.0, 4.0, 5.0):
                await rig.time.advance(1.0)
                _, now = await stream.next("now")
                assert now["run_s"] == second
            assert stream.last_id is None


@pytest.mark.asyncio
async def test_a_beat_comes_at_once_and_every_two_seconds(serve: Any) -> None:
    async with serve() as rig, rig.stream(rig.client()) as stream:
        beats = [(await stream.next("beat"))[1]["run_s"]]
        await rig.time.advance(1.0)
        await rig.time.advance(1.0)
        beats.append((await stream.next("beat"))[1]["run_s"])
        await rig.time.advance(1.0)
        await rig.time.advance(1.0)
        beats.append((await stream.next("beat"))[1]["run_s"])
        # The clock of the beats runs from when it began to serve, not from when one listens.
        assert beats == [0.0, 1.0, 3.0]


@pytest.mark.asyncio
async def test_there_is_no_beat_when_the_core_does_not_answer(
    serve: Any, caplog: pytest.LogCaptureFixture
) -> None:
    """The page then knows that what it shows is old."""
    async with serve() as rig, rig.stream(rig.client()) as stream:
        await stream.next("beat")
        for broken in (RuntimeError("broken"), None):
            rig.deck.broken, rig.deck.stopping = broken, broken is None
            for _ in range(10):
                await rig.time.advance(1.0)
        assert caplog.text.count("How she lies cannot be told") == 1
        rig.deck.broken, rig.deck.stopping = None, False
        await rig.time.advance(1.0)
        _, now = await stream.next()
        assert now["run_s"] == 21.0


@pytest.mark.asyncio
async def test_alerts_and_changes_of_state_come_as_they_happen_each_with_its_id(
    serve: Any,
) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        async with rig.stream(client) as stream:
            await client.post("commands", rig.command("let_go", rode_m=30.0))
            _, state = await stream.next("state")
            assert state["event"]["state"] == "let_go"
            assert stream.last_id == state["id"] == f"{rig.server._live.run_id}.1"
            await client.post("commands", rig.command("drill"))
            _, alert = await stream.next("alert")
            assert alert["event"]["name"] == "drill"
            assert stream.last_id == alert["id"]


@pytest.mark.parametrize("how", ["header", "query"])
@pytest.mark.asyncio
async def test_one_who_was_away_is_told_what_he_missed_and_nothing_twice(
    serve: Any, how: str
) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        async with rig.stream(client) as stream:
            await client.post("commands", rig.command("let_go"))
            await stream.next("state")
            seen = stream.last_id
        for rode_m in (30.0, 35.0):
            await client.post("commands", rig.command("veer", rode_m=rode_m))
        await client.post("commands", rig.command("drill"))
        headers = {"Last-Event-ID": seen} if how == "header" else None
        path = "stream" if how == "header" else f"stream?after={seen}"
        async with rig.stream(client, path, headers=headers) as stream:
            kinds = [await stream.next("state", "alert") for _ in range(3)]
            assert [kind for kind, _ in kinds] == ["state", "state", "alert"]
            # An id the browser remembers comes before the one of the address.
            await stream.next("now")


@pytest.mark.asyncio
async def test_one_who_heard_another_run_is_told_all_of_this_one(serve: Any) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        await client.post("commands", rig.command("let_go"))
        async with rig.stream(client, headers={"Last-Event-ID": "00000000.77"}) as stream:
            _, state = await stream.next("state")
            assert state["event"]["name"] == "let_go"


class Slow:
    """A client that reads only when it is told to, over a socket that holds little."""

    def __init__(self, port: int) -> None:
        self.socket = socket.socket()
        self.socket.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        self.socket.connect(("127.0.0.1", port))
        self.socket.setblocking(False)
        self.socket.send(b"GET /api/v1/stream HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")

    async def read_until(self, text: bytes) -> bytes:
        """All that comes until there is this."""
        heard = b""
        async with asyncio.timeout(20.0):
            while text not in heard:
                piece = await asyncio.get_running_loop().sock_recv(self.socket, 65_536)
                assert piece, "it was hung up on"
                heard += piece
        return heard


async def tell_large_glances(rig: Any, count: int) -> int:
    """Let seconds pass in which so much is told that a few fill every buffer; how many did."""
    for number in range(count):
        if not rig.server._live.listeners:
            return number
        rig.server._live._boat_name = f"number {number} " + "x" * 100_000
        await rig.time.advance(1.0)
    return count


@pytest.mark.asyncio
async def test_a_slow_client_misses_glances_but_no_alert(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        slow = Slow(rig.server.port)
        with slow.socket:
            await slow.read_until(b"event: beat")
            assert await tell_large_glances(rig, 8) == 8
            await client.post("commands", rig.command("drill"))
            assert await tell_large_glances(rig, 5) == 5
            heard = await slow.read_until(b"event: alert")
            assert heard.count(b"event: now") < 6
            # Awake again, it is told how she lies now.
            await rig.time.advance(1.0)
            await slow.read_until(b'"run_s":14.0')


@pytest.mark.asyncio
async def test_a_client_that_takes_nothing_is_hung_up_on(serve: Any) -> None:
    async with serve() as rig:
        slow = Slow(rig.server.port)
        with slow.socket:
            await slow.read_until(b"event: beat")
            told = await tell_large_glances(rig, 100)
            assert MOST_MISSED < told < MOST_MISSED + 10
            with pytest.raises((ConnectionError, AssertionError)):
                await slow.read_until(b"no such event")


@pytest.mark.asyncio
async def test_one_device_may_listen_a_few_times_and_no_more(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        async with AsyncExitStack() as streams:
            for _ in range(MOST_OF_ONE):
                await streams.enter_async_context(rig.stream(client))
            status, problem = await client.get("stream")
            assert (status, problem["code"]) == (429, "busy")
            await streams.enter_async_context(rig.stream(await rig.paired("Another")))
        # Those that went are noticed with the next word to them.
        await rig.time.advance(1.0)
        await rig.time.advance(1.0)
        async with rig.stream(client) as stream:
            await stream.next("now")


@pytest.mark.asyncio
async def test_there_is_an_end_to_how_many_listen(serve: Any) -> None:
    async with serve() as rig, AsyncExitStack() as streams:
        for n in range(MOST):
            if n % MOST_OF_ONE == 0:
                client = await rig.paired(f"device {n}")
            await streams.enter_async_context(rig.stream(client))
        status, problem = await (await rig.paired("one more")).get("stream")
        assert (status, problem["code"]) == (429, "busy")
        # They are all still told.
        await rig.time.advance(1.0)
        assert rig.server._live.listeners == MOST


@pytest.mark.asyncio
async def test_when_the_daemon_stops_every_stream_ends(serve: Any) -> None:
    async with serve() as rig, rig.stream(rig.client()) as stream:
        await stream.next("now")
        await rig.server.close()
        with pytest.raises(EOFError):
            await stream.next("no such event")
