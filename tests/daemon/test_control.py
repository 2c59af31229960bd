"""The control server, over a real socket."""

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest

from driftlead.config.model import ControlSettings
from driftlead.daemon.control import MAX_CLIENTS, ControlServer
from driftlead.daemon.control_protocol import MAX_REQUEST_BYTES, Answer, Request
from driftlead.daemon.control_socket import make_control_socket
from driftlead.errors import RefusedError

PATIENCE_S = 5.0


class Served:
    """A server, and clients of it."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "control.sock"
        self.requests: list[Request] = []
        self.error: Exception | None = None
        self.hold: asyncio.Event | None = None
        self.asked = asyncio.Event()

    async def answer(self, request: Request) -> Answer:
        """Answer as told."""
        self.requests.append(request)
        self.asked.set()
        if self.error is not None:
            raise self.error
        if self.hold is not None:
            await self.hold.wait()
        return Answer(ok=True, text="done")

    async def connect(self) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
        """Be one more client."""
        return await asyncio.open_unix_connection(str(self.path))

    async def say(self, data: bytes) -> list[Any]:
        """Say something, and hear everything until the server hangs up or has answered it."""
        reader, writer = await self.connect()
        writer.write(data)
        writer.write_eof()
        async with asyncio.timeout(PATIENCE_S):
            heard = await reader.read()
        writer.close()
        return [json.loads(line) for line in heard.splitlines()]


@asynccontextmanager
async def serving(folder: Path, *, idle_s: float = PATIENCE_S) -> AsyncIterator[Served]:
    """Serve meanwhile."""
    served = Served(folder)
    server = ControlServer(served.answer, idle_s=idle_s)
    listening = make_control_socket(ControlSettings(socket=served.path))
    await server.start(listening)
    try:
        yield served
    finally:
        async with asyncio.timeout(PATIENCE_S):
            await server.close()


STATUS = b'{"v":1,"status":true}\n'


@pytest.mark.asyncio
async def test_each_line_is_answered_by_a_line(folder: Path) -> None:
    """Several requests may come over one connection, and a bad one among them."""
    async with serving(folder) as served:
        answers = await served.say(STATUS + b"\nrubbish\n" + STATUS)
    assert [answer["ok"] for answer in answers] == [True, False, True]
    assert answers[1]["remedy"]


@pytest.mark.asyncio
async def test_a_refusal_is_answered_with_its_remedy(folder: Path) -> None:
    """What the core refuses is told as it said it."""
    async with serving(folder) as served:
        served.error = RefusedError("No anchor is down.", remedy="Let go first.")
        (answer,) = await served.say(STATUS)
    assert (answer["ok"], answer["done"]) == (False, False)
    assert (answer["text"], answer["remedy"]) == ("No anchor is down.", "Let go first.")


@pytest.mark.asyncio
async def test_a_request_without_end_is_cut_off(folder: Path) -> None:
    """The daemon keeps no more of it than the limit."""
    async with serving(folder) as served:
        (answer,) = await served.say(b"x" * (2 * MAX_REQUEST_BYTES + 10) + b"\n")
        assert "longer" in answer["text"]
        assert await served.say(STATUS)


@pytest.mark.asyncio
async def test_a_client_that_says_nothing_is_hung_up_on(folder: Path) -> None:
    """Sleepers must not fill the places of others."""
    async with serving(folder, idle_s=0.05) as served:
        reader, writer = await served.connect()
        async with asyncio.timeout(PATIENCE_S):
            assert await reader.read() == b""
        writer.close()
        assert await served.say(STATUS)


@pytest.mark.asyncio
async def test_too_many_clients_are_told_so(folder: Path) -> None:
    """And as soon as one has gone there is room again."""
    async with serving(folder) as served:
        clients = [await served.connect() for _ in range(MAX_CLIENTS)]
        for _, writer in clients:
            writer.write(STATUS)
        for reader, _ in clients:
            async with asyncio.timeout(PATIENCE_S):
                assert json.loads(await reader.readline())["ok"]
        (answer,) = await served.say(STATUS)
        assert "others" in answer["text"]
        reader, writer = clients.pop()
        writer.write_eof()
        async with asyncio.timeout(PATIENCE_S):
            assert await reader.read() == b""
        writer.close()
        assert (await served.say(STATUS))[0]["ok"]
        for _, writer in clients:
            writer.close()


@pytest.mark.asyncio
async def test_a_fault_of_ours_harms_only_the_one_who_asked(
    folder: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Its client is hung up on; the next one is served."""
    async with serving(folder) as served:
        served.error = ZeroDivisionError()
        assert await served.say(STATUS) == []
        assert "A request failed" in caplog.text
        served.error = None
        assert (await served.say(STATUS))[0]["ok"]


@pytest.mark.asyncio
async def test_closing_still_answers_what_is_being_done(folder: Path) -> None:
    """A command that is on its way to the disk when the daemon stops is answered."""
    served = Served(folder)
    served.hold = asyncio.Event()
    server = ControlServer(served.answer)
    await server.start(make_control_socket(ControlSettings(socket=served.path)))
    reader, writer = await served.connect()
    idle, idle_writer = await served.connect()
    writer.write(STATUS)
    async with asyncio.timeout(PATIENCE_S):
        await served.asked.wait()
        closing = asyncio.create_task(server.close())
        assert await idle.read() == b""
        served.hold.set()
        assert json.loads(await reader.readline())["ok"]
        await closing
    writer.close()
    idle_writer.close()
