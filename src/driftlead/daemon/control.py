"""The control server: requests in, answers out, and nobody who talks to it can harm the watch."""

import asyncio
import logging
import socket
from collections.abc import Awaitable, Callable
from typing import Final

from driftlead.daemon.control_protocol import (
    MAX_REQUEST_BYTES,
    Answer,
    Request,
    answer_to_line,
    parse_request,
    refusal,
)
from driftlead.errors import DriftleadError, UserInputError

_LOGGER = logging.getLogger(__name__)
IDLE_S: Final = 5.0
MAX_CLIENTS: Final = 16
_LAST_ANSWERS_S: Final = 2.0
_MOST_DISCARDED: Final = 64


class ControlServer:
    """Serves on a listening socket; ``answer`` carries a request out."""

    def __init__(
        self, answer: Callable[[Request], Awaitable[Answer]], *, idle_s: float = IDLE_S
    ) -> None:
        self._answer = answer
        self._idle_s = idle_s
        self._server: asyncio.Server | None = None
        self._clients: set[asyncio.Task[None]] = set()
        self._answering: set[asyncio.Task[None]] = set()

    async def start(self, listening: socket.socket) -> None:
        """Serve from now on."""
        self._server = await asyncio.start_unix_server(
            self._accept, sock=listening, limit=MAX_REQUEST_BYTES
        )

    async def close(self) -> None:
        """Take no more requests; those being carried out are still answered."""
        if self._server is not None:
            self._server.close()
        for task in self._clients - self._answering:
            task.cancel()
        if self._clients:
            await asyncio.wait(self._clients, timeout=_LAST_ANSWERS_S)
        for task in self._clients:
            task.cancel()
        await asyncio.gather(*self._clients, return_exceptions=True)

    def _accept(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        if len(self._clients) >= 4 * MAX_CLIENTS:
            writer.close()
            return
        task = asyncio.get_running_loop().create_task(self._serve(reader, writer), name="control")
        self._clients.add(task)
        task.add_done_callback(self._clients.discard)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            if len(self._clients) > MAX_CLIENTS:
                await self._turn_away(
                    f"{MAX_CLIENTS} others are talking to the daemon.", reader, writer
                )
                return
            while await self._one(reader, writer):
                pass
        except OSError:
            pass  # gone, or asleep: its own affair
        except Exception:  # whatever a client brings about must stay with that client
            _LOGGER.exception("A request failed")
        finally:
            writer.close()

    async def _one(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> bool:
        """Answer one request; whether there may be another."""
        try:
            async with asyncio.timeout(self._idle_s):
                line = await reader.readline()
        except ValueError:
            await self._turn_away(
                f"The request is longer than {MAX_REQUEST_BYTES} bytes.", reader, writer
            )
            return False
        if not line.strip():
            return bool(line)
        task = asyncio.current_task()
        assert task is not None  # noqa: S101 - this is a coroutine
        self._answering.add(task)
        try:
            try:
                answer = await self._answer(parse_request(line))
            except DriftleadError as error:
                answer = refusal(error)
            await self._send(writer, answer)
        finally:
            self._answering.discard(task)
        return line.endswith(b"\n") and self._server is not None and self._server.is_serving()

    async def _turn_away(
        self, why: str, reader: asyncio.StreamReader, writer: asyncio.StreamWriter
    ) -> None:
        await self._send(writer, refusal(UserInputError(why, remedy="Try again.")))
        writer.write_eof()
        # Hanging up on what was not read would take the answer back (the client sees a reset).
        async with asyncio.timeout(self._idle_s):
            for _ in range(_MOST_DISCARDED):
                if not await reader.read(MAX_REQUEST_BYTES):
                    break

    async def _send(self, writer: asyncio.StreamWriter, answer: Answer) -> None:
        writer.write(answer_to_line(answer))
        async with asyncio.timeout(self._idle_s):
            await writer.drain()
