"""Alerts by HTTP POST to a receiver of the owner's, signed, and repeated until they get through."""

import importlib
import os
import random
import ssl
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self
from urllib.parse import urlsplit

from attrs import field, frozen

from driftlead.alerts.alert import Alert, AlertState, Priority
from driftlead.errors import ConfigError, NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.notify.options import Seconds, structure_options
from driftlead.notify.payload import alert_body
from driftlead.notify.signature import idempotency_key, sign, timestamp_of

if TYPE_CHECKING:
    import aiohttp

_FIRST_DELAY_S = 1.0
_LONGEST_DELAY_S = 15.0
_MARGIN_S = 5.0


@frozen(kw_only=True)
class WebhookOptions:
    """The owner's options.

    ``timeout`` limits one attempt and ``retry_for`` all attempts at one change together; after
    that the dispatcher starts again later, with the newest state. The secret comes from a
    file or from an environment variable, never from the configuration itself. ``ca_file`` names
    the certificate of a receiver with an authority of its own.
    """

    url: str = field(repr=False)
    secret_file: Path | None = None
    secret_env: str | None = None
    timeout_s: Seconds = 10.0
    retry_for_s: Seconds = 60.0
    verify_tls: bool = True
    ca_file: Path | None = None

    def problems(self) -> list[str]:
        """Say what contradicts itself. The address is not repeated: it may hold a password."""
        found = []
        if not _is_web_address(self.url):
            found.append("option 'url' is not an http:// or https:// address with a host.")
        if self.secret_file is not None and self.secret_env is not None:
            found.append("options 'secret_file' and 'secret_env' exclude each other.")
        if self.ca_file is not None and not self.verify_tls:
            found.append("option 'ca_file' does nothing when 'verify_tls' is false.")
        return found


class _TryAgainError(Exception):
    """An attempt failed in a way that may pass; ``after_s`` is the receiver's wish, if any."""

    def __init__(self, text: str, after_s: float = 0.0) -> None:
        super().__init__(text)
        self.after_s = after_s


class WebhookNotifier:
    """Posts every change as JSON (see ``payload``), signed (see ``signature``).

    Lost connections, timeouts, 408, 429 and 5xx are tried again, ever more slowly, for
    ``retry_for``; any other answer than 2xx fails at once, for repeating would not mend it.
    """

    def __init__(
        self,
        options: WebhookOptions,
        context: NotifierContext,
        *,
        draw: Callable[[], float] = random.random,
    ) -> None:
        self._aiohttp = _load_aiohttp()
        self._options = options
        self._context = context
        self._draw = draw
        self._secret = _secret(options, context.name)
        self._tls = _tls(options, context.name)
        self._where = _redacted(options.url)
        self._session: aiohttp.ClientSession | None = None

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Self:
        """Build it; nothing is sent yet. Raises ConfigError for unusable options."""
        return cls(structure_options(WebhookOptions, options, notifier=context.name), context)

    @property
    def timeout_s(self) -> float:
        """Seconds ``notify`` may take: all the attempts, the last of which may begin late."""
        return self._options.retry_for_s + self._options.timeout_s + _MARGIN_S

    async def notify(self, alert: Alert) -> None:
        """Post ``alert``. Raises NotifierError when it did not get through in time."""
        body = alert_body(alert, boat=self._context.boat)
        headers = self._headers(alert, body)
        give_up_s = self._context.clock() + self._options.retry_for_s
        delay_s = _FIRST_DELAY_S
        attempts = 0
        while True:
            attempts += 1
            try:
                await self._attempt(body, headers)
            except _TryAgainError as trouble:
                # Half fixed, half drawn: a fleet that lost its receiver does not return as one.
                wait_s = max(delay_s * (0.5 + 0.5 * self._draw()), trouble.after_s)
                if self._context.clock() + wait_s > give_up_s:
                    raise self._no_luck(trouble, attempts) from None
                await self._context.sleep(wait_s)
                delay_s = min(2 * delay_s, _LONGEST_DELAY_S)
            else:
                return

    async def check(self) -> str:
        """Post a message called ``check``, of priority caution and state normal, once.

        Raises NotifierError when it does not get through.
        """
        alert = Alert(
            name="check",
            number=0,
            priority=Priority.CAUTION,
            state=AlertState.NORMAL,
            reason="check",
            text="This is a test of the webhook, not an alert.",
            mono_s=self._context.clock(),
        )
        body = alert_body(alert, boat=self._context.boat)
        try:
            await self._attempt(body, self._headers(alert, body))
        except _TryAgainError as trouble:
            raise self._no_luck(trouble, 1) from None
        signed = "signed" if self._secret else "unsigned"
        return f"{self._where} took a {signed} test message."

    async def close(self) -> None:
        """Close the connection."""
        session, self._session = self._session, None
        if session is not None:
            await session.close()

    def _headers(self, alert: Alert, body: bytes) -> dict[str, str]:
        timestamp = timestamp_of(alert)
        headers = {
            "Content-Type": "application/json",
            "Idempotency-Key": idempotency_key(alert, body),
            "X-Driftlead-Timestamp": timestamp,
        }
        if self._secret:
            headers["X-Driftlead-Signature"] = sign(self._secret, timestamp, body)
        return headers

    async def _attempt(self, body: bytes, headers: Mapping[str, str]) -> None:
        aiohttp = self._aiohttp
        if self._session is None:
            self._session = aiohttp.ClientSession(
                timeout=aiohttp.ClientTimeout(total=self._options.timeout_s)
            )
        try:
            # A redirect is not followed: it would turn the POST into a GET, or go astray.
            async with self._session.post(
                self._options.url, data=body, headers=headers, ssl=self._tls, allow_redirects=False
            ) as answer:
                self._judge(answer.status, answer.headers.get("Retry-After", ""))
        except TimeoutError:
            raise _TryAgainError(f"no answer within {self._options.timeout_s:g} s") from None
        except (aiohttp.ClientConnectorCertificateError, aiohttp.ClientConnectorSSLError) as error:
            raise NotifierError(
                f"Webhook {self._where}: TLS failed: {type(error).__name__}.",
                remedy="Check the receiver's certificate and the boat's clock, or give 'ca_file'.",
            ) from None
        except aiohttp.ClientConnectorError as error:
            raise _TryAgainError(f"cannot connect: {error.os_error.strerror or error}") from None
        except aiohttp.ClientError as error:
            # Only the type: the text of some of these repeats the address with its secrets.
            raise _TryAgainError(f"the connection failed: {type(error).__name__}") from None

    def _judge(self, status: int, retry_after: str) -> None:
        if 200 <= status < 300:
            return
        if status in (408, 429) or status >= 500:
            after_s = float(retry_after) if retry_after.isdecimal() else 0.0
            raise _TryAgainError(f"the receiver answered {status}", after_s)
        raise NotifierError(
            f"Webhook {self._where}: the receiver answered {status} and will not take this.",
            remedy="Give the final address in 'url'."
            if status < 400
            else "Check 'url' and the secret against the receiver's own log.",
        )

    def _no_luck(self, trouble: _TryAgainError, attempts: int) -> NotifierError:
        times = "1 attempt" if attempts == 1 else f"{attempts} attempts"
        return NotifierError(
            f"Webhook {self._where}: {trouble} ({times}).",
            remedy="Check the boat's connection and that the receiver is up.",
        )


def _load_aiohttp() -> Any:
    return importlib.import_module("aiohttp")


def _is_web_address(url: str) -> bool:
    try:
        parts = urlsplit(url)
        return parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False


def _redacted(url: str) -> str:
    """Scheme, host and port only: passwords and tokens live in all the other parts."""
    parts = urlsplit(url)
    host = f"[{parts.hostname}]" if ":" in (parts.hostname or "") else parts.hostname
    port = f":{parts.port}" if parts.port is not None else ""
    return f"{parts.scheme}://{host}{port}/..."


def _secret(options: WebhookOptions, name: str) -> bytes:
    """Read the shared secret, empty when none is asked for."""
    if options.secret_env is not None:
        secret = os.environ.get(options.secret_env, "").encode()
        if not secret:
            raise _unusable(
                name,
                f"option 'secret_env': the environment variable {options.secret_env!r} is not set.",
                "Set it where driftlead is started (systemd: EnvironmentFile=).",
            )
        return secret
    if options.secret_file is None:
        return b""
    try:
        secret = options.secret_file.read_bytes().strip()
    except OSError as error:
        raise _unusable(
            name,
            f"option 'secret_file': {options.secret_file} cannot be read: {error.strerror}.",
            "Create it, readable for the user driftlead runs as.",
        ) from error
    if not secret:
        raise _unusable(
            name,
            f"option 'secret_file': {options.secret_file} is empty.",
            "Put the secret into it, on one line.",
        )
    return secret


def _tls(options: WebhookOptions, name: str) -> ssl.SSLContext | bool:
    """Make what aiohttp wants as ``ssl``: True verifies against the system's authorities."""
    if options.ca_file is None:
        return options.verify_tls
    try:
        return ssl.create_default_context(cafile=options.ca_file)
    except OSError as error:  # SSLError is one
        raise _unusable(
            name,
            f"option 'ca_file': {options.ca_file} cannot be used: {error}.",
            "Give a file with the authority's certificate in PEM form.",
        ) from error


def _unusable(name: str, problem: str, remedy: str) -> ConfigError:
    return ConfigError(
        f"Notifier {name!r}: {problem}",
        problems=(f"notifier {name!r}: {problem}",),
        remedy=remedy,
    )
