"""Every answer is as openapi.json says, and openapi.json says what there is.

The schemas are those of JSON Schema 2020-12, which OpenAPI 3.1 uses; they are checked by the
library jsonschema.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

import jsonschema
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from yarl import URL

import driftlead.web.server
from driftlead.web.track_history import COLUMNS

SPEC: dict[str, Any] = json.loads(
    (Path(driftlead.web.server.__file__).parent / "openapi.json").read_text()
)
SCHEMAS = SPEC["components"]["schemas"]
DIALECT = "https://json-schema.org/draft/2020-12/schema"


def checker(schema: dict[str, Any]) -> jsonschema.Draft202012Validator:
    """What checks an instance against a schema of the description."""
    whole = {"$schema": DIALECT, "components": SPEC["components"], **schema}
    return jsonschema.Draft202012Validator(whole)


def resolved(thing: dict[str, Any]) -> dict[str, Any]:
    """Follow a reference."""
    if "$ref" not in thing:
        return thing
    found: Any = SPEC
    for part in thing["$ref"].removeprefix("#/").split("/"):
        found = found[part]
    return dict(found)


def operations() -> Iterator[tuple[str, str, dict[str, Any]]]:
    """Every method of every path."""
    for path, methods in SPEC["paths"].items():
        for method, operation in methods.items():
            yield method.upper(), path, operation


def contents() -> Iterator[tuple[str, dict[str, Any], Any]]:
    """Every example of the description: where it stands, its schema, itself."""
    for method, path, operation in operations():
        sent = operation.get("requestBody", {}).get("content", {})
        places = [(f"{method} {path}", sent)]
        for status, answer in operation["responses"].items():
            places.append((f"{method} {path} {status}", resolved(answer).get("content", {})))
        for where, content in places:
            for media, body in content.items():
                if media == "application/json":
                    yield where, body["schema"], body["example"]


def check(method: str, path: str, status: int, data: Any) -> None:
    """Check one answer against what the description has for it."""
    answers = SPEC["paths"][path][method.lower()]["responses"]
    assert str(status) in answers, f"{method} {path} does not say that it may answer {status}"
    content = resolved(answers[str(status)])["content"]
    checker(content["application/json"]["schema"]).validate(data)


@pytest.mark.parametrize("name", SCHEMAS)
def test_each_schema_is_one(name: str) -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMAS[name])


@pytest.mark.parametrize(("where", "schema", "example"), list(contents()))
def test_each_example_is_as_its_schema_says(
    where: str, schema: dict[str, Any], example: Any
) -> None:
    if where.endswith("plan 200"):
        return  # the plan has a contract of its own, docs/planning.md
    checker(schema).validate(example)


def test_what_a_wrong_answer_looks_like_is_noticed() -> None:
    """A check that cannot fail would be none."""
    now = SPEC["paths"]["/api/v1/now"]["get"]["responses"]["200"]["content"]["application/json"]
    for wrong in ({}, {**now["example"], "state": "asleep"}, {**now["example"], "depth_m": "6"}):
        with pytest.raises(jsonschema.ValidationError):
            checker(now["schema"]).validate(wrong)


@pytest.mark.asyncio
async def test_the_description_lists_exactly_the_routes_there_are(serve: Any) -> None:
    async with serve() as rig:
        routes = {
            (route.method, route.resource.canonical)
            for route in rig.server._runner.app.router.routes()
            if route.method != "HEAD" and route.resource.canonical.startswith("/api/")
        }
    assert routes == {(method, path) for method, path, _ in operations()}


def test_the_columns_of_the_track_are_those_it_has() -> None:
    assert SCHEMAS["Track"]["properties"]["columns"]["const"] == list(COLUMNS)


def test_every_refusal_of_the_code_is_one_the_description_knows() -> None:
    folder = Path(driftlead.web.server.__file__).parent
    source = "".join(path.read_text() for path in folder.glob("*.py"))
    for code in SCHEMAS["Problem"]["properties"]["code"]["enum"]:
        assert f'"{code}"' in source, code


def test_no_address_bears_a_secret() -> None:
    """What may stand in a path or a query is a name, a time or a pace: never a key."""
    harmless = {"id", "name", "since", "step", "after", "speed", "from"}
    named = set()
    for _, path, operation in operations():
        given = [*operation.get("parameters", []), *SPEC["paths"][path].get("parameters", [])]
        places = [resolved(each) for each in given]
        named |= {each["name"] for each in places if each["in"] in ("path", "query")}
    assert named == harmless


async def ask(client: Any, method: str, path: str, real: str, **more: Any) -> Any:
    """Ask, and check what is answered."""
    async with client.ask(method, real, **more) as response:
        data = await response.json()
        check(method, path, response.status, data)
        return data


@pytest.mark.asyncio
async def test_every_answer_of_a_night_is_as_described(serve: Any) -> None:
    api = "/api/v1"
    async with serve(listen="0.0.0.0:0") as rig:
        stranger = rig.client()
        for method, path, _ in operations():
            if not path.endswith(("stream", "replay")):
                real = path.format(id="c0ffee12", name="night-000042")
                body: dict[str, Any] = {"json": {}} if method == "POST" else {}
                await ask(stranger, method, path, real, **body)
        client = await rig.paired()
        rig.record_night(3, [])
        for name in ("now", "track", "events", "session", "devices", "nights", "surroundings"):
            await ask(client, "GET", f"{api}/{name}", f"{api}/{name}")
        await rig.deck.lie(seconds=3)
        for word, fields in (
            ("weigh", {}),
            ("let_go", {"depth_m": 6.0}),
            ("move_anchor", {"lat": 46.5, "lon": -31.2}),
            ("veer", {"rode_m": 30.0}),
            ("drill", {}),
            ("silence", {}),
            ("transfer", {"to": "Nobody"}),
        ):
            path = f"{api}/commands"
            body = rig.command(word, **fields)
            checker({"$ref": "#/components/schemas/Command"}).validate(body)
            await ask(client, "POST", path, path, json=body)
            await ask(client, "POST", path, path, json=body)
            await rig.deck.lie(-1.0, seconds=10)
        # Nothing comes any more: alerts of every kind.
        for _ in range(400):
            await rig.time.advance(1.0)
            rig.deck.tell(rig.deck.core.advance(rig.time.clock()))
        for name in ("now", "track", "events"):
            data = await ask(client, "GET", f"{api}/{name}", f"{api}/{name}")
        assert {"state", "alert"} == {each["event"]["kind"] for each in data["events"]}
        body = rig.command("slip")
        checker({"$ref": "#/components/schemas/Command"}).validate(body)
        await ask(client, "POST", f"{api}/commands", f"{api}/commands", json=body)
        await ask(client, "GET", f"{api}/events", f"{api}/events")
        night = await ask(client, "GET", f"{api}/nights/{{name}}", f"{api}/nights/night-000003")
        assert night["parts"] == 1
        await ask(client, "GET", f"{api}/track", f"{api}/track?step=x")
        turns = [
            {"t": "2026-06-14T16:02:00Z", "height_m": 0.9},
            {"t": "2026-06-14T22:15:00Z", "height_m": 4.1},
        ]
        plan = {"wind_mps": 8.0, "depth_m": 6.0, "for_s": 7200, "tide": turns}
        checker({"$ref": "#/components/schemas/PlanRequest"}).validate(plan)
        await ask(client, "POST", f"{api}/plan", f"{api}/plan", json=plan)
        known = await ask(client, "GET", f"{api}/devices", f"{api}/devices")
        own = known["devices"][0]["id"]
        await ask(client, "DELETE", f"{api}/devices/{{id}}", f"{api}/devices/{own}")


@pytest.mark.asyncio
async def test_what_the_stream_tells_is_as_described(serve: Any) -> None:
    kinds = {"now": "Now", "beat": "Beat", "alert": "Event", "state": "Event"}
    heard: set[str] = set()
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        async with rig.stream(client) as stream:
            await client.post("commands", rig.command("let_go"))
            await client.post("commands", rig.command("drill"))
            while heard != set(kinds):
                await rig.time.advance(1.0)
                kind, data = await stream.next()
                checker({"$ref": f"#/components/schemas/{kinds[kind]}"}).validate(data)
                heard.add(kind)


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)
words = st.sampled_from([*SCHEMAS["Command"]["discriminator"]["mapping"], "sink"])
fields = st.sampled_from(
    ["command", "key", "run_id", "run_s", "rode_m", "lat", "name", "pin", "wind_mps", "depth_m"]
)
bodies = st.dictionaries(fields | st.text(max_size=5), json_values | words, max_size=8)
texts = st.text(min_size=1, max_size=12).filter(str.isprintable)


@pytest.mark.asyncio
async def test_whatever_is_asked_is_answered_as_described(serve: Any) -> None:
    """Nothing that is sent brings about an answer that is not described, least of all a fault."""
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        for method, path, real, body in _wild_requests():
            more = {} if body is None else {"json": body}
            async with client.ask(method, URL(real, encoded=True), **more) as response:
                assert response.status != 500
                if "{" in path and response.content_type != "application/json":
                    continue
                check(method, path, response.status, await response.json())


def _wild_requests() -> list[tuple[str, str, str, Any]]:
    """Some requests of every kind, drawn by chance, the same each time."""
    drawn: list[tuple[str, str, str, Any]] = []
    plain = [each for each in operations() if not each[1].endswith(("stream", "replay"))]

    @settings(max_examples=15, database=None, deadline=None)
    @given(st.lists(texts, min_size=2, max_size=2), bodies)
    def draw(asked: list[str], body: dict[str, Any]) -> None:
        for method, path, operation in plain:
            real = path.format(id=quote(asked[0], safe=""), name=quote(asked[0], safe=""))
            query = {
                each["name"]: asked[1]
                for each in operation.get("parameters", ())
                if each["in"] == "query"
            }
            if query:
                real += f"?{urlencode(query)}"
            drawn.append((method, path, real, body if method == "POST" else None))

    draw()
    return drawn
