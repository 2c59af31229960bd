"""What is said over the control socket."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from driftlead.core.inputs import Acknowledge, LetGo, Veer, Weigh
from driftlead.daemon.control_protocol import (
    Answer,
    CheckRequest,
    DrillRequest,
    Request,
    StatusRequest,
    answer_to_line,
    parse_request,
)
from driftlead.errors import UserInputError

anything = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=10,
)
keys = st.sampled_from(
    ["v", "command", "status", "check", "rode_m", "depth_m", "drop", "late", "name", "lat_deg", "x"]
)
words = st.sampled_from(["let-go", "veer", "acknowledge", "weigh", "gps"])
nearly = st.dictionaries(keys, anything | words | st.just(1) | st.just(True))


@pytest.mark.parametrize(
    ("text", "request_"),
    [
        ('{"v":1,"status":true}', StatusRequest()),
        ('{"v":1,"check":true}', CheckRequest()),
        ('{"v":1,"drill":true}', DrillRequest()),
        ('{"v":1,"drill":true,"until_acknowledged":true}', DrillRequest(until_acknowledged=True)),
        ('{"v":1,"command":"weigh"}', Weigh()),
        ('{"v":1,"command":"acknowledge","name":null}', Acknowledge()),
        ('{"v":1,"command":"veer","rode_m":30}', Veer(rode_m=30.0)),
        ('{"v":1,"command":"let-go","late":true,"rode_m":30.5}', LetGo(rode_m=30.5, late=True)),
    ],
)
def test_requests_are_understood(text: str, request_: Request) -> None:
    """One of each kind."""
    assert parse_request(text.encode()) == request_


@pytest.mark.parametrize(
    "text",
    [
        *("", "{", "[]", "null", "3", '"status"', "\xff", "[" * 20_000, '{"v":1}', '{"v":true}'),
        *('{"status":true}', '{"v":2,"status":true}', '{"v":1,"status":false}'),
        *('{"v":1,"drill":false}', '{"v":1,"drill":true,"until_acknowledged":1}'),
        *('{"v":1,"command":"sink"}', '{"v":1,"command":"weigh","now":true}'),
        *('{"v":1,"command":"veer"}', '{"v":1,"command":"veer","rode_m":NaN}'),
        *('{"v":1,"command":"veer","rode_m":1e999}', '{"v":1,"command":"veer","rode_m":-3}'),
        '{"v":1,"command":"let-go","drop":{"lat_deg":95,"lon_deg":0}}',
        '{"v":1,"command":"veer","rode_m":' + "9" * 5000 + "}",
    ],
)
def test_anything_else_is_refused_with_a_remedy(text: str) -> None:
    """The daemon never acts on half a request."""
    with pytest.raises(UserInputError) as caught:
        parse_request(text.encode("latin-1"))
    assert caught.value.message
    assert caught.value.remedy


@given(st.binary() | st.text().map(str.encode))
def test_wild_bytes_are_refused_and_nothing_else(line: bytes) -> None:
    """No bytes bring about any other error."""
    with pytest.raises(UserInputError):
        parse_request(line)


@given(nearly)
def test_wild_objects_are_a_request_or_refused(data: dict[str, object]) -> None:
    """Nearly right is either right or refused."""
    line = json.dumps({"v": 1, **data}).encode()
    try:
        request = parse_request(line)
    except UserInputError:
        return
    assert isinstance(request, Request)


def test_an_answer_is_one_line_of_json() -> None:
    """Whatever is in its text."""
    line = answer_to_line(Answer(ok=True, done=True, text="two\nlines"))
    assert line.count(b"\n") == 1
    assert json.loads(line) == {
        "v": 1,
        "ok": True,
        "done": True,
        "text": "two\nlines",
        "remedy": "",
        "events": [],
        "status": None,
        "checks": None,
        "drill": None,
        "web": None,
    }
