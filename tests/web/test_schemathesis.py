"""The description held against the server by a tool that knows neither: schemathesis.

It makes requests out of openapi.json, right ones and wrong ones, and holds each answer to what is
described. The streams are left out: they do not end.
"""

import asyncio
import importlib
import json
import os
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings

import driftlead.web.server
from driftlead.web.guard import COOKIE

SPEC: dict[str, Any] = json.loads(
    (Path(driftlead.web.server.__file__).parent / "openapi.json").read_text()
)
ENDLESS = ("/api/v1/stream", "/api/v1/nights/{name}/replay")


def can_be_wrong(operation: dict[str, Any]) -> bool:
    """Whether something is to be given; any text at all may stand in a path."""
    given_ = {parameter["in"] for parameter in operation.get("parameters", ())}
    return "requestBody" in operation or bool(given_ - {"path"})


OPERATIONS = [
    (path, method, right)
    for path, methods in SPEC["paths"].items()
    for method, operation in methods.items()
    for right in (True, False)
    if path not in ENDLESS and (right or can_be_wrong(operation))
]
EXAMPLES = 25
CHECKS = (
    "not_a_server_error",
    "status_code_conformance",
    "content_type_conformance",
    "response_headers_conformance",
    "response_schema_conformance",
)


def tool() -> Any:
    """The tool, or a reason not to test."""
    try:
        return importlib.import_module("schemathesis")
    except ImportError:
        if os.environ.get("CI"):
            pytest.fail("schemathesis is not installed; in CI the API must be tested by it")
        pytest.skip("schemathesis is not installed")


@pytest.fixture
def served(serve: Any) -> Iterator[tuple[str, dict[str, str]]]:
    """Where a page is served by another thread, and what a paired device sends every time."""
    ready, said = threading.Event(), []

    async def run() -> None:
        async with serve() as rig:
            await rig.deck.lie(seconds=3)
            client = await rig.paired()
            (token,) = (each.value for each in client.session.cookie_jar if each.key == COOKIE)
            stop = asyncio.Event()
            headers = {"Cookie": f"{COOKIE}={token}", "X-Csrf-Token": client.csrf}
            said.append((rig.origin, {"Origin": rig.origin, **headers}, stop.set))
            loops.append(asyncio.get_running_loop())
            ready.set()
            await stop.wait()

    loops: list[asyncio.AbstractEventLoop] = []
    thread = threading.Thread(target=lambda: asyncio.run(run()), daemon=True)
    thread.start()
    assert ready.wait(30.0)
    origin, headers, stop = said[0]
    yield origin, headers
    loops[0].call_soon_threadsafe(stop)
    thread.join(30.0)


@pytest.mark.parametrize(("path", "method", "right"), OPERATIONS)
def test_whatever_the_description_allows_is_answered_as_described(
    served: tuple[str, dict[str, str]], path: str, method: str, right: bool
) -> None:
    """Never a fault, never a status, a kind or a body that is not described."""
    schemathesis = tool()
    checks = importlib.import_module("schemathesis.checks")
    origin, headers = served
    operation = schemathesis.openapi.from_dict(SPEC)[path][method]
    mode = schemathesis.GenerationMode
    strategy = operation.as_strategy(generation_mode=mode.POSITIVE if right else mode.NEGATIVE)
    names = CHECKS if right else (*CHECKS, "negative_data_rejection")
    held = [getattr(checks, name) for name in names]
    answered: list[int] = []

    @settings(
        max_examples=EXAMPLES,
        derandomize=True,
        database=None,
        deadline=None,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=strategy)
    def ask(case: Any) -> None:
        response = case.call_and_validate(base_url=origin, headers=headers, checks=held)
        answered.append(response.status_code)

    ask()
    assert answered
