"""What docs/carriers.md tells owners is so."""

import importlib.metadata
import json
import re
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import attrs
import pytest
from aiohttp import web
from aiohttp.test_utils import TestServer

from driftlead.alerts.alert import AlertState, Priority
from driftlead.alerts.alls_well import AllsWell
from driftlead.alerts.catalogue import CATALOGUE
from driftlead.notify.alert_sentences import identity_of
from driftlead.notify.durable_queue import LIMIT
from driftlead.notify.mqtt import MqttOptions
from driftlead.notify.mqtt_topics import Topics
from driftlead.notify.nmea_out import NmeaOptions
from driftlead.notify.options import Seconds, structure_options
from driftlead.notify.payload import alert_body, alls_well_body
from driftlead.notify.webhook import WebhookNotifier, WebhookOptions
from driftlead.testing import make_alert, make_context

TEXT = (Path(__file__).resolve().parents[2] / "docs" / "carriers.md").read_text(encoding="utf-8")
KINDS: dict[str, Any] = {"webhook": WebhookOptions, "mqtt": MqttOptions, "nmea": NmeaOptions}


def blocks(language: str) -> list[str]:
    """Every block of code in a language."""
    return re.findall(rf"```{language}\n(.*?)```", TEXT, re.DOTALL)


def words_in(table_head: str) -> list[str]:
    """Give the words in backquotes in the first column of the table with this head."""
    table = TEXT.split(f"| {table_head} |", 1)[1].split("\n\n", 1)[0]
    firsts = [row.split("|")[1] for row in table.splitlines()[2:]]
    return [word for first in firsts for word in re.findall(r"`([^`]+)`", first)]


def notifiers() -> list[dict[str, Any]]:
    """Every notifier that is shown, with all its options taken up."""
    uncommented = (re.sub(r"^# ", "", block, flags=re.MULTILINE) for block in blocks("toml"))
    return [table for block in uncommented for table in tomllib.loads(block)["notifier"]]


@pytest.mark.parametrize("table", notifiers(), ids=lambda table: table["name"])
def test_every_example_is_taken_as_it_stands_and_with_all_its_options(
    table: dict[str, Any],
) -> None:
    """As the notifier itself judges it when it is built."""
    options = {key: value for key, value in table.items() if key not in ("kind", "name")}
    structure_options(KINDS[table["kind"]], options, notifier=table["name"])


@pytest.mark.parametrize("kind", KINDS)
def test_every_option_is_in_an_example_or_explained(kind: str) -> None:
    """And none that is not there."""
    fields = attrs.fields(KINDS[kind])
    keys = {
        field.name.removesuffix("_s") if field.type == Seconds else field.name for field in fields
    }
    shown = {key for table in notifiers() if table["kind"] == kind for key in table}
    section = TEXT.split(f'kind = "{kind}"', 1)[1].split("\n## ", 1)[0]
    table = section.split("| option | what |", 1)[1].split("\n\n", 1)[0]
    firsts = [row.split("|")[1] for row in table.splitlines()[2:]]
    explained = {word for first in firsts for word in re.findall(r"`([^`]+)`", first)}
    assert explained == keys
    assert shown - {"kind", "name"} <= keys


def test_the_table_of_the_body_has_every_member_in_order() -> None:
    """Schema 1."""
    assert words_in("member | what") == list(json.loads(alert_body(make_alert(), boat="")))


def test_the_states_and_priorities_are_all_told() -> None:
    """In the words that are sent."""
    for word in (*AlertState, *Priority):
        assert f"`{word.value}`" in TEXT


def test_the_members_of_the_sign_of_life_are_told() -> None:
    """Each by its name."""
    told = TEXT.split("The sign of life has", 1)[1].split("\n\n", 1)[0]
    for member in json.loads(alls_well_body(AllsWell(state="", sees=True, mono_s=0), boat="")):
        assert f"`{member}`" in told


def test_the_topics_are_all_told() -> None:
    """With TOPIC, NAME and INSTANCE for what differs."""
    topics = Topics("TOPIC")
    assert words_in("topic | what") == [
        topics.status,
        topics.alert("NAME", ""),
        topics.alert("NAME", "INSTANCE"),
        topics.alls_well,
        topics.check,
    ]


def test_the_numbers_of_the_alerts_are_the_ones_displays_get() -> None:
    """And an alert that is not listed has one of the others."""
    told = dict(re.findall(r"^\| `(\w+)` \| (\d{5}) \|$", TEXT, re.MULTILINE))
    assert "drag" in told
    for name in {*told, *CATALOGUE}:
        number = identity_of(make_alert(name=name), "").number
        assert number == int(told[name]) if name in told else 10_100 <= number <= 10_999


def test_the_limit_of_the_queue_is_the_one_that_is_told() -> None:
    """Above it, something gives way."""
    assert f"Above {LIMIT}," in TEXT


@pytest.mark.asyncio
async def test_the_example_for_receivers_accepts_ours_and_refuses_what_was_altered(
    tmp_path: Path,
) -> None:
    """The program in the text, run on a message as it arrives."""
    (program,) = blocks("python")
    assert len([line for line in program.splitlines() if line]) <= 10
    names: dict[str, Any] = {}
    exec(program, names)  # noqa: S102 - it is ours, and this is its test
    is_ours: Callable[[Mapping[str, str], bytes, bytes], bool] = names["is_ours"]
    got: list[tuple[Mapping[str, str], bytes]] = []

    async def take(request: web.Request) -> web.Response:
        got.append((request.headers, await request.read()))
        return web.Response(status=204)

    app = web.Application()
    app.router.add_post("/alerts", take)
    server = TestServer(app)
    await server.start_server()
    (tmp_path / "secret").write_text("not a real secret\n")
    options = {
        "url": str(server.make_url("/alerts")),
        "secret_file": str(tmp_path / "secret"),
    }
    notifier = WebhookNotifier.from_options(options, make_context(tmp_path))
    await notifier.check()
    await notifier.close()
    await server.close()
    ((headers, body),) = got
    assert is_ours(headers, body, b"not a real secret")
    assert not is_ours(headers, body + b" ", b"not a real secret")
    assert not is_ours(headers, body, b"another secret")
    assert not is_ours({"X-Driftlead-Timestamp": "0"}, body, b"not a real secret")


def test_the_extra_that_mqtt_needs_is_there() -> None:
    """By the name in the text."""
    assert "mqtt" in (importlib.metadata.metadata("driftlead").get_all("Provides-Extra") or [])
    assert "driftlead[mqtt]" in TEXT
