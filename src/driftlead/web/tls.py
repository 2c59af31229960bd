"""The page over https: most browsers keep the screen on, or let a sound wake, for nothing less."""

import ssl
from pathlib import Path
from typing import NoReturn

from driftlead.errors import DaemonError

_REMEDY = "See docs/page.md for how to make both, or leave certificate and key out of [web]."


def server_context(certificate: Path, key: Path) -> ssl.SSLContext:
    """Make what the server speaks TLS by. Raises DaemonError naming the file and the remedy."""
    for name, path in (("certificate", certificate), ("key", key)):
        try:
            path.read_bytes()
        except OSError as error:
            _refuse(name, path, f"cannot be read: {error.strerror or error}")
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    # Nobody sits at the daemon to type a pass phrase in.
    try:
        context.load_cert_chain(certificate, key, password=lambda: "")
    except ssl.SSLError as error:
        reason = (error.reason or str(error)).replace("_", " ").casefold()
        # The second is what a key of another kind than the certificate's comes to.
        if "mismatch" in reason or reason == "no certificate assigned":
            _refuse("key", key, f"does not belong to {certificate}")
        _refuse("certificate or key", certificate, f"({key}) is not one in PEM: {reason}")
    except (ValueError, OSError) as error:
        _refuse("certificate or key", certificate, f"({key}) cannot be used: {error}")
    return context


def _refuse(name: str, path: Path, what: str) -> NoReturn:
    raise DaemonError(f"[web] {name}: {path} {what}.", remedy=_REMEDY)
