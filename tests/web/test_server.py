"""The server as a whole: started, kept and stopped, whatever is done to it."""

import asyncio
import socket
from typing import Any

import pytest

from driftlead.config.model import WebSettings
from driftlead.web.connections import IDLE_TICKS, MOST
from driftlead.web.server import RETRY_EVERY


def connect(port: int) -> socket.socket:
    """One more connection."""
    connection = socket.create_connection(("127.0.0.1", port))
    connection.setblocking(False)
    return connection


async def hung_up_on(connection: socket.socket) -> bool:
    """Whether the other end hangs up on it, sooner than the framework itself would."""
    try:
        async with asyncio.timeout(10.0):
            return await asyncio.get_running_loop().sock_recv(connection, 1) == b""
    except ConnectionError:
        return True


@pytest.mark.asyncio
async def test_an_address_that_is_taken_is_a_fault_and_is_tried_again(
    serve: Any, caplog: pytest.LogCaptureFixture
) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        async with serve(listen=f"127.0.0.1:{port}") as rig:
            (fault,) = rig.faults
            assert f"127.0.0.1:{port}" in fault
            assert rig.server.port is None
            for _ in range(RETRY_EVERY + 1):
                await rig.time.until_sleeping(1.0)
                await rig.time.advance(1.0)
            assert rig.faults == [fault, fault]
            assert caplog.text.count(fault) == 1
            other.close()
            for _ in range(RETRY_EVERY):
                await rig.time.until_sleeping(1.0)
                await rig.time.advance(1.0)
            assert rig.faults[2:] == [None]
            assert (await rig.client().get("session"))[0] == 200


@pytest.mark.asyncio
async def test_who_connects_and_asks_nothing_is_hung_up_on_and_who_listens_is_not(
    serve: Any,
) -> None:
    async with serve() as rig, rig.stream(rig.client()) as stream:
        with connect(rig.server.port) as idle:
            while len(rig.server._runner.server.connections) < 2:  # noqa: ASYNC110  # no event
                await asyncio.sleep(0)
            for _ in range(IDLE_TICKS + 1):
                await rig.time.advance(1.0)
                await stream.next("now")
            assert await hung_up_on(idle)
            for _ in range(IDLE_TICKS + 1):
                await rig.time.advance(1.0)
                await stream.next("now")


@pytest.mark.asyncio
async def test_one_connection_too_many_is_turned_away_and_the_others_stay(serve: Any) -> None:
    async with serve() as rig, rig.stream(rig.client()) as stream:
        await stream.next("now")
        others = [connect(rig.server.port) for _ in range(MOST - 1)]
        try:
            last = connect(rig.server.port)
            others.append(last)
            assert await hung_up_on(last)
            await rig.time.advance(1.0)
            await stream.next("now")
        finally:
            for each in others:
                each.close()


@pytest.mark.parametrize(
    "garbage",
    [
        b"\x00\xff\xfe\r\n\r\n",
        b"GET / HTTP/9.9\r\n\r\n",
        b"GET /" + b"x" * 10_000 + b" HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX: " + b"y" * 10_000 + b"\r\n\r\n",
        b"POST /api/v1/pair HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: -1\r\n\r\n",
        b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",
    ],
)
@pytest.mark.asyncio
async def test_what_is_no_request_harms_nobody_and_fills_no_log(
    serve: Any, garbage: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    async with serve() as rig:
        reader, writer = await asyncio.open_connection("127.0.0.1", rig.server.port)
        writer.write(garbage)
        async with asyncio.timeout(20.0):
            answer = await reader.read(4096)
        assert b" 200 " not in answer
        writer.close()
        assert (await rig.client().get("session"))[0] == 200
    assert caplog.text == ""


@pytest.mark.asyncio
async def test_a_body_that_never_comes_is_not_waited_for(
    serve: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("driftlead.web.body.LIMIT_S", 0.05)
    async with serve() as rig:
        reader, writer = await asyncio.open_connection("127.0.0.1", rig.server.port)
        writer.write(
            b"POST /api/v1/pair HTTP/1.1\r\nHost: 127.0.0.1\r\nSec-Fetch-Site: same-origin\r\n"
            b"Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{"
        )
        async with asyncio.timeout(20.0):
            answer = await reader.read(4096)
        assert b" 408 " in answer
        writer.close()


@pytest.mark.asyncio
async def test_an_event_that_cannot_be_told_does_not_reach_the_core(
    serve: Any, caplog: pytest.LogCaptureFixture
) -> None:
    async with serve() as rig:
        rig.server._live.history = None
        rig.server.tell(object())
        assert "cannot be told to the page" in caplog.text


def test_an_address_is_split_into_host_and_port() -> None:
    assert (WebSettings().host, WebSettings().port) == ("127.0.0.1", 8421)
    six = WebSettings(listen="[::]:80")
    assert (six.host, six.port) == ("::", 80)


@pytest.mark.asyncio
async def test_it_can_be_closed_before_it_was_started_and_twice(serve: Any) -> None:
    async with serve() as rig:
        another = rig.make()
        await another.close()
        await rig.server.close()
