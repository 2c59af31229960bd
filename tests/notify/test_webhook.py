"""Webhooks to a receiver on the loopback."""

import asyncio
import hashlib
import hmac
import http.server
import json
import logging
import shutil
import ssl
import subprocess
import threading
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
from aiohttp import web
from aiohttp.test_utils import TestServer, unused_port

from driftlead.alerts.alert import AlertState
from driftlead.errors import ConfigError, NotifierError
from driftlead.notify.base import Notifier, NotifierContext
from driftlead.notify.webhook import WebhookNotifier, WebhookOptions
from driftlead.testing import FakeTime, NotifierContract, make_alert, make_context

SECRET = b"not a real secret"
ALERT = make_alert(utc_s=1_780_000_000.0)


class _Quiet(http.server.BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        self.send_response(204)
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - its own name
        """Say nothing."""


class TestWebhookKeepsTheContract(NotifierContract):
    """The webhook notifier is a proper notifier."""

    @pytest.fixture(autouse=True)
    def _receiver(self) -> Iterator[None]:
        with http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Quiet) as server:
            server.daemon_threads = True
            thread = threading.Thread(target=server.serve_forever, args=(0.01,))
            thread.start()
            self.url = f"http://127.0.0.1:{server.server_port}/hook"
            yield
            server.shutdown()
            thread.join()

    def make_notifier(self, context: NotifierContext) -> Notifier:
        """Build it for a receiver that takes everything."""
        return WebhookNotifier.from_options({"url": self.url}, context)

    def make_broken_notifier(self, context: NotifierContext) -> Notifier:
        """Build it for a receiver that is not there."""
        url = f"http://127.0.0.1:{unused_port()}/hook"
        return WebhookNotifier.from_options({"url": url, "retry_for": "1ms"}, context)


class Receiver:
    """A receiver that keeps what it gets and answers as it is told."""

    def __init__(self) -> None:
        self.got: list[tuple[dict[str, str], bytes]] = []
        self.answers: list[web.Response | Callable[[], Awaitable[web.Response]]] = []
        self.time = FakeTime()
        app = web.Application()
        app.router.add_route("*", "/hook", self._take)
        self.server = TestServer(app)
        self._made: list[WebhookNotifier] = []

    async def _take(self, request: web.Request) -> web.Response:
        assert request.method == "POST"
        self.got.append((dict(request.headers), await request.read()))
        answer = self.answers.pop(0) if self.answers else web.Response(status=200)
        return answer if isinstance(answer, web.Response) else await answer()

    def url(self) -> str:
        """Return the address to post to, with things that must never be shown."""
        return str(self.server.make_url("/hook")).replace("://", "://user:pa55@") + "?token=t0ken"

    def notifier(
        self, tmp_path: Path, *, draw: Callable[[], float] = lambda: 1.0, **options: Any
    ) -> WebhookNotifier:
        """Build a notifier for it on the fake clock; it is closed after the test."""
        context = make_context(tmp_path, clock=self.time.clock, sleep=self.time.sleep)
        made = WebhookNotifier(
            WebhookOptions(**({"url": self.url()} | options)), context, draw=draw
        )
        self._made.append(made)
        return made

    async def close(self) -> None:
        """Close everything."""
        for notifier in self._made:
            await notifier.close()
        await self.server.close()


@pytest_asyncio.fixture
async def receiver() -> AsyncIterator[Receiver]:
    """A receiver on the loopback."""
    made = Receiver()
    await made.server.start_server()
    yield made
    await made.close()


def secret_file(tmp_path: Path, secret: bytes = SECRET) -> Path:
    """Write the secret as an editor would, with a line end."""
    path = tmp_path / "secret"
    path.write_bytes(secret + b"\n")
    return path


def accepts(headers: dict[str, str], body: bytes, secret: bytes) -> bool:
    """Follow the recipe for receivers in ``driftlead.notify.signature``."""
    signed = headers["X-Driftlead-Timestamp"].encode() + b"." + body
    expected = "sha256=" + hmac.new(secret, signed, hashlib.sha256).hexdigest()
    return hmac.compare_digest(expected, headers["X-Driftlead-Signature"])


@pytest.mark.asyncio
async def test_the_alert_arrives_as_json(receiver: Receiver, tmp_path: Path) -> None:
    """With boat and figures, the time of the receiver's clock, and no signature without secret."""
    await receiver.notifier(tmp_path).notify(ALERT)
    ((headers, body),) = receiver.got
    assert headers["Content-Type"] == "application/json"
    assert headers["X-Driftlead-Timestamp"] == "1780000000"
    assert "X-Driftlead-Signature" not in headers
    assert json.loads(body)["boat"] == "Corvid"
    assert json.loads(body)["name"] == "drag"


@pytest.mark.asyncio
async def test_a_receiver_following_the_recipe_accepts_ours_and_refuses_forgeries(
    receiver: Receiver, tmp_path: Path
) -> None:
    """Another secret, another body and another time are all found out."""
    await receiver.notifier(tmp_path, secret_file=secret_file(tmp_path)).notify(ALERT)
    ((headers, body),) = receiver.got
    assert accepts(headers, body, SECRET)
    assert not accepts(headers, body, b"another secret")
    assert not accepts(headers, body.replace(b"alarm", b"calm!"), SECRET)
    assert not accepts(headers | {"X-Driftlead-Timestamp": "1780000001"}, body, SECRET)


@pytest.mark.asyncio
async def test_the_secret_may_come_from_the_environment(
    receiver: Receiver, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As service managers hand secrets out."""
    monkeypatch.setenv("HOOK_SECRET", SECRET.decode())
    await receiver.notifier(tmp_path, secret_env="HOOK_SECRET").notify(ALERT)  # noqa: S106
    assert accepts(*receiver.got[0], SECRET)


@pytest.mark.asyncio
@pytest.mark.parametrize("status", [500, 503, 429, 408])
async def test_a_passing_trouble_is_tried_again(
    receiver: Receiver, tmp_path: Path, status: int
) -> None:
    """After a second the same message comes again, with the same idempotency key."""
    receiver.answers = [web.Response(status=status)]
    notifying = asyncio.create_task(receiver.notifier(tmp_path).notify(ALERT))
    await receiver.time.until_sleeping(1.0)
    assert len(receiver.got) == 1
    await receiver.time.advance(1.0)
    await notifying
    first, second = receiver.got
    assert first[1] == second[1]
    assert first[0]["Idempotency-Key"] == second[0]["Idempotency-Key"]


@pytest.mark.asyncio
async def test_the_waits_double_up_to_a_limit_and_end_with_the_budget(
    receiver: Receiver, tmp_path: Path
) -> None:
    """1, 2, 4, 8, 15, 15 s make 45; the next 15 would pass the 60 s of the budget exactly."""
    receiver.answers = [web.Response(status=500) for _ in range(20)]
    notifying = asyncio.create_task(receiver.notifier(tmp_path, retry_for_s=59.0).notify(ALERT))
    for wait_s in (1.0, 2.0, 4.0, 8.0, 15.0, 15.0):
        await receiver.time.until_sleeping(wait_s)
        await receiver.time.advance(wait_s)
    with pytest.raises(NotifierError, match=r"the receiver answered 500 \(7 attempts\)") as caught:
        await notifying
    assert caught.value.remedy
    assert receiver.time.slept_s == [1.0, 2.0, 4.0, 8.0, 15.0, 15.0]


@pytest.mark.asyncio
@pytest.mark.parametrize(("drawn", "wait_s"), [(0.0, 0.5), (0.5, 0.75), (1.0, 1.0)])
async def test_half_of_each_wait_is_drawn_by_lot(
    receiver: Receiver, tmp_path: Path, drawn: float, wait_s: float
) -> None:
    """So that many boats do not come back in the same moment."""
    receiver.answers = [web.Response(status=500)]
    notifying = asyncio.create_task(receiver.notifier(tmp_path, draw=lambda: drawn).notify(ALERT))
    await receiver.time.until_sleeping(wait_s)
    await receiver.time.advance(wait_s)
    await notifying


@pytest.mark.asyncio
async def test_the_receivers_wish_to_wait_is_honoured(receiver: Receiver, tmp_path: Path) -> None:
    """Retry-After in seconds (RFC 9110, 10.2.3)."""
    receiver.answers = [web.Response(status=429, headers={"Retry-After": "30"})]
    notifying = asyncio.create_task(receiver.notifier(tmp_path).notify(ALERT))
    await receiver.time.until_sleeping(30.0)
    await receiver.time.advance(30.0)
    await notifying
    assert len(receiver.got) == 2


@pytest.mark.asyncio
@pytest.mark.parametrize("status", [400, 401, 404, 410])
async def test_a_refusal_fails_at_once(receiver: Receiver, tmp_path: Path, status: int) -> None:
    """To repeat it would not mend it; the remedy points at address and secret."""
    receiver.answers = [web.Response(status=status)]
    with pytest.raises(NotifierError, match=f"answered {status}") as caught:
        await receiver.notifier(tmp_path).notify(ALERT)
    assert "secret" in caught.value.remedy
    assert len(receiver.got) == 1


@pytest.mark.asyncio
async def test_a_redirect_is_not_followed(receiver: Receiver, tmp_path: Path) -> None:
    """It might lead the alert anywhere."""
    receiver.answers = [web.Response(status=307, headers={"Location": "/hook"})]
    with pytest.raises(NotifierError, match="answered 307") as caught:
        await receiver.notifier(tmp_path).notify(ALERT)
    assert caught.value.remedy == "Give the final address in 'url'."
    assert len(receiver.got) == 1


@pytest.mark.asyncio
async def test_a_receiver_that_does_not_answer_is_tried_again(
    receiver: Receiver, tmp_path: Path
) -> None:
    """One attempt has a limit of its own."""
    never = asyncio.Event()

    async def slow() -> web.Response:
        await never.wait()
        return web.Response(status=200)

    receiver.answers = [slow]
    notifying = asyncio.create_task(receiver.notifier(tmp_path, timeout_s=0.05).notify(ALERT))
    await receiver.time.until_sleeping(1.0)
    await receiver.time.advance(1.0)
    await notifying
    assert len(receiver.got) == 2
    never.set()


@pytest.mark.asyncio
async def test_a_lost_connection_is_tried_again(receiver: Receiver, tmp_path: Path) -> None:
    """The receiver hangs up in the middle."""
    port = unused_port()
    lines: list[bytes] = []

    async def hang_up(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        lines.append(await reader.readline())
        writer.close()
        await writer.wait_closed()

    notifier = receiver.notifier(tmp_path, url=f"http://127.0.0.1:{port}/hook")
    async with await asyncio.start_server(hang_up, "127.0.0.1", port):
        notifying = asyncio.create_task(notifier.notify(ALERT))
        await receiver.time.until_sleeping(1.0)
    await receiver.time.advance(1.0)
    await receiver.time.until_sleeping(2.0)
    await receiver.time.advance(60.0)
    with pytest.raises(NotifierError, match="cannot connect"):
        await notifying
    assert lines[0].startswith(b"POST /hook ")


@pytest.mark.asyncio
async def test_a_refused_connection_ends_with_its_reason(
    receiver: Receiver, tmp_path: Path
) -> None:
    """After the budget, with host and port."""
    port = unused_port()
    url = f"http://127.0.0.1:{port}/hook"
    with pytest.raises(NotifierError, match="cannot connect") as caught:
        await receiver.notifier(tmp_path, url=url, retry_for_s=0.5).notify(ALERT)
    assert f"http://127.0.0.1:{port}/..." in caught.value.message
    assert caught.value.remedy


@pytest.mark.asyncio
async def test_no_message_shows_what_an_address_may_hide(
    receiver: Receiver, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Password, path, query and secret stay out of errors and out of the log."""
    caplog.set_level(logging.DEBUG)
    path = secret_file(tmp_path)
    errors = []
    for status in (500, 404):
        receiver.answers = [web.Response(status=status)]
        with pytest.raises(NotifierError) as caught:
            await receiver.notifier(tmp_path, retry_for_s=0.1, secret_file=path).notify(ALERT)
        errors.append(str(caught.value))
    with pytest.raises(ConfigError) as refused:
        WebhookNotifier.from_options({"url": "ftp://user:pa55@x"}, make_context(tmp_path))
    options = WebhookOptions(url=receiver.url())
    shown = "".join([*errors, str(refused.value), *refused.value.problems, repr(options)])
    for hidden in ("pa55", "t0ken", "/hook", SECRET.decode()):
        assert hidden not in shown
        assert hidden not in "".join(
            r.getMessage() for r in caplog.records if "aiohttp" not in r.name
        )


def test_the_dispatcher_is_asked_for_enough_time(tmp_path: Path) -> None:
    """The whole budget, one last attempt, and something over."""
    notifier = WebhookNotifier.from_options(
        {"url": "https://example.invalid/hook", "retry_for": "2min", "timeout": "20s"},
        make_context(tmp_path),
    )
    assert notifier.timeout_s > 140.0


@pytest.mark.asyncio
async def test_the_check_posts_a_message_that_is_no_alert(
    receiver: Receiver, tmp_path: Path
) -> None:
    """It proves address, way and secret, once and without repeating."""
    notifier = receiver.notifier(tmp_path, secret_file=secret_file(tmp_path))
    assert "took a signed test message" in await notifier.check()
    ((headers, body),) = receiver.got
    assert accepts(headers, body, SECRET)
    assert json.loads(body)["name"] == "check"
    assert json.loads(body)["state"] == AlertState.NORMAL
    receiver.answers = [web.Response(status=500)]
    with pytest.raises(NotifierError, match=r"answered 500 \(1 attempt\)"):
        await notifier.check()


@pytest.mark.asyncio
async def test_an_unknown_certificate_is_refused_unless_its_authority_is_given(
    tmp_path: Path,
) -> None:
    """TLS is verified from the start; a receiver of one's own can be trusted by name."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("openssl is not installed, and makes the certificate")
    cert, key = tmp_path / "cert.pem", tmp_path / "key.pem"
    kind = ["-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1"]
    named = [
        "-nodes",
        "-days",
        "2",
        "-subj",
        "/CN=localhost",
        "-addext",
        "subjectAltName=IP:127.0.0.1",
    ]
    subprocess.run(  # noqa: ASYNC221 - before anything runs beside it
        [openssl, "req", *kind, *named, "-keyout", str(key), "-out", str(cert)],
        check=True,
        capture_output=True,
    )
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(cert, key)

    async def take(_: web.Request) -> web.Response:
        return web.Response(status=204)

    app = web.Application()
    app.router.add_post("/hook", take)
    server = TestServer(app, scheme="https")
    await server.start_server(ssl=context)
    url = str(server.make_url("/hook"))

    def build(**options: Any) -> WebhookNotifier:
        return WebhookNotifier.from_options({"url": url, **options}, make_context(tmp_path))

    strict, trusting, careless = build(), build(ca_file=str(cert)), build(verify_tls=False)
    with pytest.raises(NotifierError, match="TLS failed") as caught:
        await strict.notify(ALERT)
    assert "'ca_file'" in caught.value.remedy
    await trusting.notify(ALERT)
    await careless.notify(ALERT)
    for notifier in (strict, trusting, careless):
        await notifier.close()
    await server.close()


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({}, "'url' is required"),
        ({"url": "example.invalid"}, "'url' is not an http"),
        ({"url": "http://"}, "'url' is not an http"),
        ({"url": "http://x:99999/"}, "'url' is not an http"),
        ({"secret_file": "a", "secret_env": "B"}, "exclude each other"),
        ({"secret_file": "/nonexistent/secret"}, "/nonexistent/secret cannot be read"),
        ({"secret_env": "NOBODY_SETS_THIS"}, "'NOBODY_SETS_THIS' is not set"),
        ({"ca_file": "/nonexistent/ca.pem"}, "/nonexistent/ca.pem cannot be used"),
        ({"ca_file": "x", "verify_tls": False}, "'ca_file' does nothing"),
        ({"secret": "inline"}, "'secret' is not known"),
    ],
)
def test_options_that_cannot_be_used_are_told_with_a_remedy(
    options: dict[str, Any], told: str, tmp_path: Path
) -> None:
    """At the start, not with the first alert."""
    if options and "url" not in options:
        options = {"url": "https://example.invalid/hook", **options}
    with pytest.raises(ConfigError) as caught:
        WebhookNotifier.from_options(options, make_context(tmp_path))
    assert told in str(caught.value)
    assert caught.value.problems
    assert caught.value.remedy


def test_an_empty_secret_file_is_no_secret(tmp_path: Path) -> None:
    """It would sign with nothing and look signed."""
    options = {"url": "https://example.invalid/", "secret_file": str(secret_file(tmp_path, b""))}
    with pytest.raises(ConfigError, match="is empty"):
        WebhookNotifier.from_options(options, make_context(tmp_path))
