"""What the command line asks of the page: a PIN, the devices, and to put one out."""

from typing import TYPE_CHECKING

from driftlead.daemon.control_protocol import Answer, WebRequest
from driftlead.errors import DaemonError

if TYPE_CHECKING:
    from driftlead.web.server import WebServer


async def answer_web(request: WebRequest, server: "WebServer | None") -> Answer:
    """Answer what the command line asks of the page. Raises DaemonError."""
    if server is None:
        raise DaemonError(
            "This daemon serves no page.",
            remedy='Write [web] with listen = "0.0.0.0:8421" into the configuration; restart it.',
        )
    if request.what == "pair":
        return Answer(ok=True, web={"pin": server.open_pin(), "served": server.port is not None})
    if request.what == "revoke":
        gone = await server.revoke(request.device)
        if gone is None:
            raise DaemonError(
                f"No device {request.device!r} is paired.",
                remedy="driftlead devices lists them, each with its id.",
            )
    shown = [
        {"id": each.id, "name": each.name, "paired_utc": each.paired_utc} for each in server.devices
    ]
    return Answer(ok=True, web={"devices": shown})
