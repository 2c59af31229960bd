"""Who may do what: names, origins, devices, and the headers that keep a browser in its place."""

import enum
import hmac
import ipaddress
import logging
from collections.abc import Awaitable, Callable, Iterable
from typing import Final
from urllib.parse import urlsplit

from aiohttp import web

from driftlead.errors import DaemonError, DriftleadError
from driftlead.web.devices import Device, Devices
from driftlead.web.problem import ProblemError, problem_of

_LOGGER = logging.getLogger(__name__)
COOKIE: Final = "driftlead_device"
CSRF_HEADER: Final = "X-Csrf-Token"
API: Final = "/api/"
Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

_HEADERS: Final = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; "
        "frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Server": "driftlead",
}
_SAFE: Final = frozenset({"GET", "HEAD"})
_NOT_PAIRED: Final = (
    "This device is not paired.",
    "Run driftlead pair on the boat's computer and type the PIN here.",
)


class Access(enum.Enum):
    """What a request wants."""

    OPEN = "open"
    """What anybody may have: the page itself, whether one is paired, and to try to pair."""
    READ = "read"
    """To see; without pairing only where nobody but this computer can ask."""
    ACT = "act"
    """To change something, or to see who may: always a paired device."""


class Guard:
    """Stands before every handler. ``names`` are the host's, beside its addresses."""

    def __init__(
        self, devices: Devices, *, names: Iterable[str], reading_needs_pairing: bool
    ) -> None:
        self._devices = devices
        self._names = frozenset(name.casefold().rstrip(".") for name in names)
        self.reading_needs_pairing = reading_needs_pairing

    def device(self, request: web.Request) -> Device | None:
        """The paired device that asks."""
        token = request.cookies.get(COOKIE)
        return self._devices.find(token) if token else None

    def csrf(self, request: web.Request) -> str:
        """What a page of ours, and no other, can know of this device."""
        return csrf_of(request.cookies.get(COOKIE, ""))

    def may_read(self, request: web.Request) -> bool:
        """Whether who asks may see."""
        return not self.reading_needs_pairing or self.device(request) is not None

    def protects(self, handler: Handler, access: Access) -> Handler:
        """Let nobody to the handler who may not."""

        async def guarded(request: web.Request) -> web.StreamResponse:
            device = self.device(request)
            needed = access is Access.ACT or (access is Access.READ and self.reading_needs_pairing)
            if needed and device is None:
                raise ProblemError(401, "not_paired", *_NOT_PAIRED)
            if (
                request.method not in _SAFE
                and access is not Access.OPEN
                and device is not None
                and not self._knows_token(request)
            ):
                raise ProblemError(
                    403,
                    "cross_site",
                    f"The request does not bear the right {CSRF_HEADER}.",
                    "Load the page anew. Programs: send the csrf of GET /api/v1/session.",
                )
            return await handler(request)

        return guarded

    @web.middleware
    async def middleware(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        """Refuse what comes the wrong way, and say every refusal in the same form."""
        try:
            self._check_host(request)
            if request.path.startswith(API):
                _check_same_site(request)
            return await handler(request)
        except ProblemError as error:
            return error.response()
        except web.HTTPException as error:
            response = problem_of(error).response()
            if "Allow" in error.headers:
                response.headers["Allow"] = error.headers["Allow"]
            return response
        except DaemonError as error:
            return ProblemError(503, "not_ready", error.message, error.remedy).response()
        except DriftleadError as error:
            return ProblemError(400, "bad_request", error.message, error.remedy).response()
        except Exception:  # whatever a request brings about must stay with that request
            _LOGGER.exception("A request of the page failed")
            return ProblemError(
                500, "failed", "It went wrong here.", "Look at journalctl -u driftlead."
            ).response()

    def _knows_token(self, request: web.Request) -> bool:
        given = request.headers.get(CSRF_HEADER, "")
        return hmac.compare_digest(
            given.encode("utf-8", "surrogateescape"), self.csrf(request).encode()
        )

    def _check_host(self, request: web.Request) -> None:
        # A name we do not bear may be one that somebody ashore makes lead to us (DNS rebinding);
        # an address cannot be made to.
        try:
            name = (urlsplit(f"//{request.headers.get('Host', '')}").hostname or "").rstrip(".")
        except ValueError:
            name = ""
        if name not in self._names and not _is_address(name):
            raise ProblemError(
                421,
                "bad_host",
                "This is not the host that was asked for.",
                'Use its address, or give the name in [web] names = ["corvid.local"].',
            )


def csrf_of(token: str) -> str:
    """What the page sends back: made of the token, which it cannot read itself."""
    return hmac.new(token.encode("utf-8", "surrogateescape"), b"csrf", "sha256").hexdigest()


async def add_headers(_: web.Request, response: web.StreamResponse) -> None:
    """Put what every answer bears on this one."""
    response.headers.update(_HEADERS)
    if "Cache-Control" not in response.headers:
        response.headers["Cache-Control"] = "no-store"


def _check_same_site(request: web.Request) -> None:
    site = request.headers.get("Sec-Fetch-Site")
    origin = request.headers.get("Origin")
    if site not in (None, "same-origin", "none") or (
        origin is not None and not _is_own(origin, request)
    ):
        raise _from_elsewhere()
    # Every browser tells at least one of them where something is to be changed.
    if request.method not in _SAFE and origin is None and site != "same-origin":
        raise _from_elsewhere()


def _is_own(origin: str, request: web.Request) -> bool:
    host = request.headers.get("Host", "")
    return origin.casefold() in (f"http://{host}".casefold(), f"https://{host}".casefold())


def _from_elsewhere() -> ProblemError:
    return ProblemError(
        403,
        "cross_site",
        "The request comes from another site.",
        "Use the page of the boat itself. Programs: send Origin: http:// and the host asked.",
    )


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True
