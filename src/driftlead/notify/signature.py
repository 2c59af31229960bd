"""How a receiver knows that a webhook is ours and unaltered. Pure.

Headers: ``X-Driftlead-Timestamp`` is the receiver's UTC at the change in whole Unix seconds, or 0
while the boat has no time yet. ``X-Driftlead-Signature``, sent when a secret is set, is
``sha256=`` and the hex HMAC-SHA-256 (RFC 2104), keyed with the secret, of the timestamp, a full
stop and the body as received. ``Idempotency-Key`` is the same in every repetition of one change.

The receiver's recipe: take the header ``X-Driftlead-Timestamp`` as text and the raw body as
bytes; compute the signature; compare in constant time; refuse what differs. Then pass over an
``Idempotency-Key`` that was seen before. A message may come late, for it is repeated until it gets
through: its age is no reason to refuse an alert.
"""

import hashlib
import hmac
import math

from driftlead.alerts.alert import Alert
from driftlead.alerts.alls_well import AllsWell


def timestamp_of(news: Alert | AllsWell) -> str:
    """Whole Unix seconds of the change, or ``"0"``."""
    if news.utc_s is None or not math.isfinite(news.utc_s):
        return "0"
    return str(int(news.utc_s))


def sign(secret: bytes, timestamp: str, body: bytes) -> str:
    """Make the value of ``X-Driftlead-Signature``."""
    digest = hmac.new(secret, timestamp.encode() + b"." + body, hashlib.sha256)
    return f"sha256={digest.hexdigest()}"


def idempotency_key(news: Alert | AllsWell, body: bytes) -> str:
    """32 hex digits that are the same for the same change and differ for any other."""
    # The monotonic time tells apart changes before the first time of day.
    return hashlib.sha256(body + repr(news.mono_s).encode()).hexdigest()[:32]
