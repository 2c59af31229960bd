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
from attrs import evolve

from driftlead.alerts.alert import AlertState
from driftlead.alerts.alls_well import AllsWell
from driftlead.errors import ConfigError, NotifierError
from driftlead.notify.base import HearsAllsWell, Lasting, Notifier, NotifierContext
from driftlead.notify.options import structure_options
from driftlead.notify.webhook import WebhookNotifier, WebhookOptions
from driftlead.testing import FakeTime, NotifierContract, make_alert, make_context

LIMIT_S = 20.0
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
        """Build it for a receiver that is not there, and without a disk to keep alerts on."""
        url = f"http://127.0.0.1:{unused_port()}/hook"
        nowhere = evolve(context, state_dir=context.state_dir / "nowhere")
        return WebhookNotifier.from_options({"url": url}, nowhere)


class Receiver:
    """A receiver that keeps what it gets and answers as it is told."""

    def __init__(self) -> None:
        self.got: list[tuple[dict[str, str], bytes]] = []
        self.answers: list[web.Response | Callable[[], Awaitable[web.Response]]] = []
        self.time = FakeTime()
        self.reports: list[str | None] = []
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

    def notifier(self, tmp_path: Path, **options: Any) -> WebhookNotifier:
        """Build a notifier for it on the fake clock; it is closed after the test."""
        context = make_context(
            tmp_path, clock=self.time.clock, sleep=self.time.sleep, report=self.reports.append
        )
        made = WebhookNotifier(
            WebhookOptions(**({"url": self.url()} | options)), context, draw=lambda: 1.0
        )
        self._made.append(made)
        return made

    async def send(self, tmp_path: Path, **options: Any) -> WebhookNotifier:
        """Send the alert, and wait until the first attempt at it is over."""
        notifier = self.notifier(tmp_path, **options)
        await notifier.notify(ALERT)
        await at_rest(notifier)
        return notifier

    async def close(self) -> None:
        """Close everything."""
        async with asyncio.timeout(LIMIT_S):
            for notifier in self._made:
                await notifier.close()
        await self.server.close()


async def at_rest(notifier: WebhookNotifier) -> None:
    """Wait until nothing is being sent."""
    async with asyncio.timeout(LIMIT_S):
        await notifier._sender._at_rest.wait()


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
    await receiver.send(tmp_path)
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
    await receiver.send(tmp_path, secret_file=secret_file(tmp_path))
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
    await receiver.send(tmp_path, secret_env="HOOK_SECRET")  # noqa: S106
    assert accepts(*receiver.got[0], SECRET)


@pytest.mark.asyncio
@pytest.mark.parametrize("status", [500, 503, 408, 425, 429, 302, 307])
async def test_a_trouble_that_may_pass_is_tried_again(
    receiver: Receiver, tmp_path: Path, status: int
) -> None:
    """The same message comes again with the same idempotency key; a redirect is not followed."""
    receiver.answers = [web.Response(status=status, headers={"Location": "/elsewhere"})]
    notifier = await receiver.send(tmp_path)
    assert len(receiver.got) == 1
    await receiver.time.until_sleeping(1.0)
    await receiver.time.advance(1.0)
    await at_rest(notifier)
    first, second = receiver.got
    assert first == second
    assert notifier._sender.waiting == ()
    assert receiver.reports == []


@pytest.mark.asyncio
async def test_a_restart_repeats_the_same_message_with_the_same_key(
    receiver: Receiver, tmp_path: Path
) -> None:
    """The receiver may have had it already, and can tell."""
    receiver.answers = [web.Response(status=500)]
    await (await receiver.send(tmp_path)).close()
    await at_rest(receiver.notifier(tmp_path))
    first, second = receiver.got
    assert first == second


@pytest.mark.asyncio
@pytest.mark.parametrize("status", [400, 401, 403, 404, 410, 422])
async def test_a_refusal_is_given_up_and_told_at_once(
    receiver: Receiver, tmp_path: Path, status: int
) -> None:
    """To repeat it would not mend it; the remedy points at address and secret."""
    receiver.answers = [web.Response(status=status)]
    notifier = await receiver.send(tmp_path)
    (told,) = receiver.reports
    assert f"answered {status} and will not take this" in str(told)
    assert "secret" in str(told)
    assert notifier._sender.waiting == ()
    await notifier.notify(make_alert(number=2))
    await at_rest(notifier)
    assert receiver.reports == [told, None]
    assert len(receiver.got) == 2


@pytest.mark.asyncio
@pytest.mark.parametrize(
    ("headers", "wait_s"),
    [
        ({"Retry-After": "30"}, 30.0),
        ({"Retry-After": "86400"}, 300.0),
        ({"Retry-After": "9" * 500}, 300.0),
        (
            {
                "Date": "Mon, 15 Jun 2026 03:20:00 GMT",
                "Retry-After": "Mon, 15 Jun 2026 03:22:30 GMT",
            },
            150.0,
        ),
        ({"Retry-After": "Mon, 15 Jun 1970 03:22:30 GMT"}, 1.0),
        ({"Retry-After": "Mon, 15 Jun 2026 03:22:30"}, 1.0),
        ({"Retry-After": "soon"}, 1.0),
        ({"Retry-After": "-5"}, 1.0),
        ({"Retry-After": "\u0665".encode().decode("latin-1")}, 1.0),
        ({"Retry-After": "0"}, 1.0),
    ],
)
async def test_the_receivers_wish_to_wait_is_honoured_within_bounds(
    receiver: Receiver, tmp_path: Path, headers: dict[str, str], wait_s: float
) -> None:
    """Retry-After, as seconds or as a date by the receiver's own clock (RFC 9110, 10.2.3)."""
    receiver.answers = [web.Response(status=503, headers=headers)]
    notifier = await receiver.send(tmp_path)
    await receiver.time.until_sleeping(wait_s)
    await receiver.time.advance(wait_s)
    await at_rest(notifier)
    assert len(receiver.got) == 2


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
    notifier = await receiver.send(tmp_path, timeout_s=0.05, fault_after_s=0.001)
    await receiver.time.until_sleeping(1.0)
    await receiver.time.advance(1.0)
    await at_rest(notifier)
    assert len(receiver.got) == 2
    never.set()


@pytest.mark.asyncio
async def test_a_flapping_receiver_gets_every_alert_in_the_end(
    receiver: Receiver, tmp_path: Path
) -> None:
    """It fails every other time, and nobody is bothered with that."""
    notifier = receiver.notifier(tmp_path)
    for number in range(1, 6):
        receiver.answers = [web.Response(status=503)]
        await notifier.notify(make_alert(number=number))
        await receiver.time.until_sleeping(1.0)
        await receiver.time.advance(1.0)
        await at_rest(notifier)
    taken = [json.loads(body)["number"] for _, body in receiver.got]
    assert taken == [1, 1, 2, 2, 3, 3, 4, 4, 5, 5]
    assert receiver.reports == []


class Rude:
    """A server that reads one line and then does as told, from a port of its own."""

    def __init__(self, reply: bytes) -> None:
        self.reply = reply
        self.port = unused_port()
        self.lines: list[bytes] = []

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        self.lines.append(await reader.readline())
        writer.write(self.reply)
        writer.close()
        await writer.wait_closed()

    async def start(self) -> asyncio.Server:
        """Listen."""
        return await asyncio.start_server(self._serve, "127.0.0.1", self.port)


@pytest.mark.asyncio
@pytest.mark.parametrize(
    "reply",
    [b"", b"HTTP/1.1 200", b"HTTP/1.1 200 OK\r\nContent-", b"SSH-2.0-dropbear\r\n"],
    ids=["nothing", "half a status", "half a header", "no HTTP"],
)
async def test_a_receiver_that_breaks_off_before_it_has_answered_is_tried_again(
    receiver: Receiver, tmp_path: Path, reply: bytes
) -> None:
    """It may or may not have taken the alert: once more is better than not at all."""
    rude = Rude(reply)
    async with await rude.start():
        notifier = await receiver.send(
            tmp_path, url=f"http://127.0.0.1:{rude.port}/hook", fault_after_s=1.0
        )
        await receiver.time.until_sleeping(1.0)
        await receiver.time.advance(1.0)
        await receiver.time.until_sleeping(2.0)
    assert [line.startswith(b"POST /hook ") for line in rude.lines] == [True, True]
    assert "the connection failed" in str(receiver.reports[0])
    assert len(notifier._sender.waiting) == 1


@pytest.mark.asyncio
async def test_a_receiver_that_breaks_off_in_its_answer_has_taken_the_alert(
    receiver: Receiver, tmp_path: Path
) -> None:
    """Its status says so; what it wanted to say further is of no interest."""
    rude = Rude(b"HTTP/1.1 200 OK\r\nContent-Length: 1000\r\n\r\nthank y")
    async with await rude.start():
        notifier = await receiver.send(tmp_path, url=f"http://127.0.0.1:{rude.port}/hook")
    assert notifier._sender.waiting == ()
    assert len(rude.lines) == 1


@pytest.mark.asyncio
async def test_a_receiver_that_is_dead_gets_everything_when_it_lives_again(
    receiver: Receiver, tmp_path: Path
) -> None:
    """It is told as a fault after a minute, with host and port, and as mended afterwards."""
    rude = Rude(b"HTTP/1.1 204 No Content\r\n\r\n")
    notifier = await receiver.send(tmp_path, url=f"http://127.0.0.1:{rude.port}/hook")
    for wait_s in (1.0, 2.0, 4.0, 8.0, 16.0, 30.0):
        await receiver.time.until_sleeping(wait_s)
        await receiver.time.advance(wait_s)
    await receiver.time.until_sleeping(30.0)
    (told,) = receiver.reports
    assert f"Webhook http://127.0.0.1:{rude.port}/...: cannot connect" in str(told)
    async with await rude.start():
        await receiver.time.advance(30.0)
        await at_rest(notifier)
    assert receiver.reports == [told, None]
    assert notifier._sender.waiting == ()


@pytest.mark.asyncio
async def test_no_message_shows_what_an_address_may_hide(
    receiver: Receiver, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Password, path, query and secret stay out of faults, out of the log and off the disk."""
    caplog.set_level(logging.DEBUG, logger="driftlead")
    receiver.answers = [web.Response(status=status) for status in (500, 302, 403)]
    options = {"secret_file": secret_file(tmp_path), "fault_after_s": 0.001}
    notifier = await receiver.send(tmp_path, **options)
    for wait_s in (1.0, 2.0):
        await receiver.time.until_sleeping(wait_s)
        await receiver.time.advance(wait_s)
    await at_rest(notifier)
    assert len(receiver.got) == 3
    files = (tmp_path / f"waiting-test.db{ending}" for ending in ("", "-wal"))
    on_disk = b"".join(file.read_bytes() for file in files)
    shown = f"{receiver.reports}{caplog.text}{notifier._options!r}"
    assert "answered 403" in shown
    assert b"CREATE TABLE" in on_disk
    for hidden in ("pa55", "t0ken", "/hook", SECRET.decode()):
        assert hidden not in shown
        assert hidden.encode() not in on_disk


@pytest.mark.asyncio
async def test_the_check_posts_a_message_that_is_no_alert(
    receiver: Receiver, tmp_path: Path
) -> None:
    """It proves address, way and secret, once, and is never queued."""
    notifier = receiver.notifier(tmp_path, secret_file=secret_file(tmp_path))
    assert "took a signed test message; 0 alerts wait" in await notifier.check()
    ((headers, body),) = receiver.got
    assert accepts(headers, body, SECRET)
    assert json.loads(body)["name"] == "check"
    assert json.loads(body)["state"] == AlertState.NORMAL
    for status in (500, 401):
        receiver.answers = [web.Response(status=status)]
        with pytest.raises(NotifierError, match=f"answered {status}") as caught:
            await notifier.check()
        assert caught.value.remedy
    assert notifier._sender.waiting == ()


TICK = AllsWell(state="riding", sees=True, mono_s=100.0, utc_s=1_780_000_000.0)


@pytest.mark.asyncio
async def test_the_sign_of_life_goes_to_an_address_of_its_own(
    receiver: Receiver, tmp_path: Path
) -> None:
    """Signed like the alerts, and only where it is asked for."""
    notifier = receiver.notifier(
        tmp_path,
        url="http://127.0.0.1:9/hook",
        alls_well_url=receiver.url(),
        secret_file=secret_file(tmp_path),
    )
    assert isinstance(notifier, HearsAllsWell)
    await notifier.alls_well(TICK)
    ((headers, body),) = receiver.got
    assert accepts(headers, body, SECRET)
    assert json.loads(body) == {
        "schema": 1,
        "boat": "Corvid",
        "alls_well": True,
        "state": "riding",
        "sees": True,
        "t": "2026-05-28T20:26:40.000Z",
    }
    await receiver.notifier(tmp_path).alls_well(TICK)
    assert len(receiver.got) == 1


@pytest.mark.asyncio
async def test_one_lost_sign_of_life_is_no_matter_but_none_for_long_is(
    receiver: Receiver, tmp_path: Path
) -> None:
    """It is never kept: an old one would tell a lie."""
    notifier = receiver.notifier(tmp_path, alls_well_url=receiver.url())
    receiver.answers = [web.Response(status=503), web.Response(status=403)]
    await notifier.alls_well(TICK)
    assert receiver.reports == []
    await receiver.time.advance(60.0)
    await notifier.alls_well(TICK)
    (told,) = receiver.reports
    assert "answered 403" in str(told)
    await notifier.alls_well(TICK)
    assert receiver.reports == [told, None]
    assert notifier._sender.waiting == ()


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

    time, reports = FakeTime(), list[str | None]()
    ours = make_context(tmp_path, clock=time.clock, sleep=time.sleep, report=reports.append)
    options = {"url": url, "fault_after": "1ms"}
    strict = WebhookNotifier(
        structure_options(WebhookOptions, options, notifier="hook"), ours, draw=lambda: 1.0
    )
    await strict.notify(ALERT)
    for wait_s in (1.0, 2.0):
        await time.until_sleeping(wait_s)
        await time.advance(wait_s)
    assert "TLS failed" in str(reports[0])
    assert "'ca_file'" in str(reports[0])
    await strict.close()
    # The alert was kept, and goes out once the authority is given.
    trusting = WebhookNotifier.from_options({"url": url, "ca_file": str(cert)}, ours)
    await at_rest(trusting)
    assert trusting._sender.waiting == ()
    await trusting.close()
    await server.close()


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({}, "'url' is required"),
        ({"url": "example.invalid"}, "'url' is not an http"),
        ({"url": "http://"}, "'url' is not an http"),
        ({"url": "http://x:99999/"}, "'url' is not an http"),
        ({"alls_well_url": "example.invalid"}, "'alls_well_url' is not an http"),
        ({"secret_file": "a", "secret_env": "B"}, "exclude each other"),
        ({"secret_file": "/nonexistent/secret"}, "/nonexistent/secret cannot be read"),
        ({"secret_env": "NOBODY_SETS_THIS"}, "'NOBODY_SETS_THIS' is not set"),
        ({"ca_file": "/nonexistent/ca.pem"}, "/nonexistent/ca.pem cannot be used"),
        ({"url": "http://x/", "ca_file": "x"}, "'ca_file' does nothing"),
        ({"verify_tls": False}, "'verify_tls' is not known"),
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


@pytest.mark.asyncio
async def test_it_is_not_told_again_after_a_restart(receiver: Receiver, tmp_path: Path) -> None:
    """Its messages last: on the receiver, or in the queue."""
    notifier = receiver.notifier(tmp_path)
    assert isinstance(notifier, Lasting)
    assert notifier.lasts
