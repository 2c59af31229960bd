"""How a receiver knows that a webhook is ours."""

import hashlib
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.alerts.alert import AlertState
from driftlead.notify.payload import alert_body
from driftlead.notify.signature import idempotency_key, sign, timestamp_of
from driftlead.testing import make_alert


def hmac_by_the_book(key: bytes, text: bytes) -> str:
    """Compute HMAC-SHA-256 from the definition in RFC 2104, section 2."""
    key = hashlib.sha256(key).digest() if len(key) > 64 else key
    key = key.ljust(64, b"\0")
    inner = hashlib.sha256(bytes(k ^ 0x36 for k in key) + text).digest()
    return hashlib.sha256(bytes(k ^ 0x5C for k in key) + inner).hexdigest()


def test_the_receivers_arithmetic_is_right() -> None:
    """RFC 4231, test case 2: the check itself is checked."""
    assert hmac_by_the_book(b"Jefe", b"what do ya want for nothing?") == (
        "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"
    )


@given(secret=st.binary(min_size=1), timestamp=st.integers(0).map(str), body=st.binary())
def test_the_signature_is_the_hmac_of_timestamp_full_stop_body(
    secret: bytes, timestamp: str, body: bytes
) -> None:
    """As the documented recipe says, computed another way."""
    expected = hmac_by_the_book(secret, timestamp.encode() + b"." + body)
    assert sign(secret, timestamp, body) == f"sha256={expected}"


@pytest.mark.parametrize(
    ("utc_s", "timestamp"),
    [(None, "0"), (1_780_000_000.9, "1780000000"), (math.nan, "0"), (math.inf, "0")],
)
def test_the_timestamp_is_the_receivers_utc_or_zero(utc_s: float | None, timestamp: str) -> None:
    """No other clock is trusted for it."""
    assert timestamp_of(make_alert(utc_s=utc_s)) == timestamp


def test_the_idempotency_key_is_one_for_each_change() -> None:
    """The same change has the same key, any other change another; also before any time of day."""

    def key(**overrides: object) -> str:
        alert = make_alert(**overrides)
        return idempotency_key(alert, alert_body(alert, boat="Corvid"))

    assert key() == key()
    keys = {
        key(),
        key(state=AlertState.NORMAL),
        key(number=2),
        key(mono_s=101.0),
        key(moved_m=3.0),
        key(instance="gps1"),
    }
    assert len(keys) == 6
    assert all(len(k) == 32 and int(k, 16) >= 0 for k in keys)
