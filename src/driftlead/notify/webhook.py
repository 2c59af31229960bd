"""Alerts by HTTP POST to a receiver of the owner's, signed, and kept until they get through."""

import importlib
import random
import ssl
from collections.abc import Callable, Mapping
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self
from urllib.parse import urlsplit

from attrs import field, frozen

from driftlead.alerts.alert import Alert
from driftlead.alerts.alls_well import AllsWell
from driftlead.errors import NotifierError
from driftlead.notify.base import NotifierContext
from driftlead.notify.durable_queue import QueuedAlert
from driftlead.notify.durable_queue_sender import (
    NotTakenError,
    QueueSender,
    Troubles,
    TryAgainError,
)
from driftlead.notify.options import Seconds, structure_options
from driftlead.notify.payload import alert_body, alls_well_body, check_alert
from driftlead.notify.secret import both_given, read_secret, unusable
from driftlead.notify.signature import idempotency_key, sign, timestamp_of

if TYPE_CHECKING:
    import aiohttp

_PING_LIMIT_S = 4.0  # a little less than the dispatcher has patience for
_CONNECTION_REMEDY = "Check the boat's connection and that the receiver is up."


@frozen(kw_only=True)
class WebhookOptions:
    """The owner's options.

    ``timeout`` limits one attempt. Attempts go on until one succeeds; failing for ``fault_after``
    is an alert. ``alls_well_url`` gets the sign of life, if it is given. The secret comes from a
    file or from an environment variable, never from the configuration itself. ``ca_file`` names
    the certificate of a receiver with an authority of its own; there is no way to leave a
    certificate unverified.
    """

    url: str = field(repr=False)
    alls_well_url: str | None = field(default=None, repr=False)
    secret_file: Path | None = None
    secret_env: str | None = None
    timeout_s: Seconds = 10.0
    fault_after_s: Seconds = 60.0
    ca_file: Path | None = None

    def problems(self) -> list[str]:
        """Say what contradicts itself. The address is not repeated: it may hold a password."""
        found = both_given("secret", self.secret_file, self.secret_env)
        urls = {"url": self.url, "alls_well_url": self.alls_well_url}
        wrong = [key for key, url in urls.items() if url is not None and not _is_web_address(url)]
        found += [
            f"option '{key}' is not an http:// or https:// address with a host." for key in wrong
        ]
        if self.ca_file is not None and not wrong and urlsplit(self.url).scheme != "https":
            found.append("option 'ca_file' does nothing for an http:// address.")
        return found


class WebhookNotifier:
    """Posts every change as JSON (see ``payload``), signed (see ``signature``).

    An alert is taken when it is on the disk (see ``durable_queue``), and sent as soon as the
    receiver answers 2xx. Any other 4xx than 408, 425 and 429 is a refusal for good; everything
    else, lost connections too, is tried again.
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
        self._secret = read_secret(
            "secret", file=options.secret_file, env=options.secret_env, notifier=context.name
        )
        self._tls = _tls(options, context.name)
        self._session: aiohttp.ClientSession | None = None
        self._troubles = Troubles(context.report)
        self._last_ping_s = context.clock()
        self._sender = QueueSender(
            context,
            self._post_queued,
            fault_after_s=options.fault_after_s,
            troubles=self._troubles,
            draw=draw,
        )

    @classmethod
    def from_options(cls, options: Mapping[str, Any], context: NotifierContext) -> Self:
        """Build it within the event loop; what an earlier run could not send is sent now.

        Raises ConfigError for unusable options.
        """
        return cls(structure_options(WebhookOptions, options, notifier=context.name), context)

    @property
    def lasts(self) -> bool:
        """True: what the receiver has taken, or the disk, is not forgotten at a restart."""
        return True

    async def notify(self, alert: Alert) -> None:
        """Take ``alert``. Raises NotifierError if it is neither on the disk nor sent."""
        await self._sender.take(alert)

    async def check(self) -> str:
        """Post a message called ``check``, of priority caution and state normal, once.

        Raises NotifierError when it does not get through.
        """
        alert = check_alert("the webhook", mono_s=self._context.clock())
        body = alert_body(alert, boat=self._context.boat)
        url, key = self._options.url, idempotency_key(alert, body)
        try:
            await self._post(url, body, key, timestamp_of(alert), self._options.timeout_s)
        except (TryAgainError, NotTakenError) as error:
            raise NotifierError(error.message, remedy=error.remedy) from None
        signed = "signed" if self._secret else "unsigned"
        waiting = len(self._sender.waiting)
        return f"{_shown(url)} took a {signed} test message; {waiting} alerts wait to be sent."

    async def alls_well(self, tick: AllsWell) -> None:
        """Post the sign of life once, to the address for it if there is one.

        One that is lost does not matter, for another comes soon; only when none has got through
        for ``fault_after`` is that reported.
        """
        url = self._options.alls_well_url
        if url is None:
            return
        body = alls_well_body(tick, boat=self._context.boat)
        key, limit_s = idempotency_key(tick, body), min(self._options.timeout_s, _PING_LIMIT_S)
        try:
            await self._post(url, body, key, timestamp_of(tick), limit_s)
        except (TryAgainError, NotTakenError) as error:
            if self._context.clock() - self._last_ping_s >= self._options.fault_after_s:
                self._troubles.say("sign of life", f"{error.message} {error.remedy}")
        else:
            self._last_ping_s = self._context.clock()
            self._troubles.say("sign of life", None)

    def still_has(self, alert: Alert) -> bool:
        """Whether anything of ``alert`` was taken but has not gone out yet."""
        return self._sender.has(alert)

    async def close(self) -> None:
        """Let what is on its way arrive, then close the connection; the rest stays on the disk."""
        await self._sender.close()
        session, self._session = self._session, None
        if session is not None:
            await session.close()

    async def _post_queued(self, entry: QueuedAlert) -> None:
        options = self._options
        await self._post(
            options.url, entry.body, entry.idempotency_key, entry.timestamp, options.timeout_s
        )

    async def _post(self, url: str, body: bytes, key: str, timestamp: str, limit_s: float) -> None:
        headers = {
            "Content-Type": "application/json",
            "Idempotency-Key": key,
            "X-Driftlead-Timestamp": timestamp,
        }
        if self._secret:
            headers["X-Driftlead-Signature"] = sign(self._secret, timestamp, body)
        aiohttp = self._aiohttp
        if self._session is None:
            self._session = aiohttp.ClientSession()
        try:
            # A redirect is not followed: it would turn the POST into a GET, or go astray.
            async with self._session.post(
                url,
                data=body,
                headers=headers,
                ssl=self._tls,
                allow_redirects=False,
                timeout=aiohttp.ClientTimeout(total=limit_s),
            ) as answer:
                _judge(url, answer.status, answer.headers)
        except TimeoutError:
            raise _trouble(url, f"no answer within {limit_s:g} s") from None
        except (aiohttp.ClientConnectorCertificateError, aiohttp.ClientConnectorSSLError) as error:
            raise _trouble(
                url,
                f"TLS failed: {type(error).__name__}",
                "Check the receiver's certificate and the boat's clock, or give 'ca_file'.",
            ) from None
        except aiohttp.ClientConnectorError as error:
            text = f"cannot connect: {error.os_error.strerror or error.os_error}"
            raise _trouble(url, text) from None
        except aiohttp.ClientError as error:
            # Only the type: the text of some of these repeats the address with its secrets.
            raise _trouble(url, f"the connection failed: {type(error).__name__}") from None


def _judge(url: str, status: int, headers: Mapping[str, str]) -> None:
    if 200 <= status < 300:
        return
    if 300 <= status < 400:
        # Perhaps the sign-in page of a harbour's network: that passes when somebody signs in.
        raise _trouble(
            url,
            f"the receiver answered {status}, and redirects are not followed",
            "Give the final address in 'url', or sign in to the network the boat is on.",
        )
    if 400 <= status < 500 and status not in (408, 425, 429):
        raise NotTakenError(
            f"Webhook {_shown(url)}: the receiver answered {status} and will not take this.",
            remedy="Check 'url' and the secret against the receiver's own log.",
        )
    raise _trouble(url, f"the receiver answered {status}", after_s=_retry_after_s(headers))


def _trouble(
    url: str, text: str, remedy: str = _CONNECTION_REMEDY, *, after_s: float = 0.0
) -> TryAgainError:
    return TryAgainError(f"Webhook {_shown(url)}: {text}.", remedy=remedy, after_s=after_s)


def _load_aiohttp() -> Any:
    return importlib.import_module("aiohttp")


def _retry_after_s(headers: Mapping[str, str]) -> float:
    """Read Retry-After (RFC 9110, 10.2.3): seconds, or a date by the receiver's own clock."""
    wish = headers.get("Retry-After", "").strip()
    if wish.isascii() and wish.isdecimal():
        return float(wish)
    try:
        until, now = (parsedate_to_datetime(text) for text in (wish, headers.get("Date", "")))
        return max(0.0, (until - now).total_seconds())
    except (ValueError, TypeError, OverflowError):  # no date, or one with a zone and one without
        return 0.0


def _is_web_address(url: str) -> bool:
    try:
        parts = urlsplit(url)
        return parts.scheme in ("http", "https") and bool(parts.hostname) and parts.port != 0
    except ValueError:
        return False


def _shown(url: str) -> str:
    """Scheme, host and port only: passwords and tokens live in all the other parts."""
    parts = urlsplit(url)
    host = f"[{parts.hostname}]" if ":" in (parts.hostname or "") else parts.hostname
    port = f":{parts.port}" if parts.port is not None else ""
    return f"{parts.scheme}://{host}{port}/..."


def _tls(options: WebhookOptions, name: str) -> ssl.SSLContext | bool:
    """Make what aiohttp wants as ``ssl``: True verifies against the system's authorities."""
    if options.ca_file is None:
        return True
    try:
        return ssl.create_default_context(cafile=options.ca_file)
    except OSError as error:  # SSLError is one
        raise unusable(
            name,
            f"option 'ca_file': {options.ca_file} cannot be used: {error}.",
            "Give a file with the authority's certificate in PEM form.",
        ) from error
