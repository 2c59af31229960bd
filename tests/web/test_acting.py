"""Commands from paired devices: once each, in time."""

import asyncio
import logging
from typing import Any

import pytest

from driftlead.core.inputs import Acknowledge, LetGo, Weigh


@pytest.mark.asyncio
async def test_a_whole_anchoring_can_be_commanded_from_the_page(serve: Any) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        states = []
        for word, fields in (
            ("let_go", {"depth_m": 6.0}),
            ("veer", {"rode_m": 30.0}),
            ("weigh", {}),
        ):
            status, answer = await client.post("commands", rig.command(word, **fields))
            assert (status, answer["accepted"], answer["saved"]) == (200, True, True), answer
            states.append((await client.get("now"))[1]["state"])
        assert states == ["let_go", "laying_back", "aweigh"]


@pytest.mark.asyncio
async def test_an_alarm_is_silenced_and_answered_and_who_did_it_is_told(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired("Phone in the fore cabin")
        status, answer = await client.post("commands", rig.command("drill"))
        assert (status, answer["accepted"]) == (200, True)
        status, answer = await client.post("commands", rig.command("silence", name="drill"))
        assert (status, answer["accepted"]) == (200, True), answer
        (alert,) = (await client.get("now"))[1]["alerts"]
        assert (alert["name"], alert["state"]) == ("drill", "silenced")
        assert (alert["by"], alert["where"]) == ("Phone in the fore cabin", "page")
        status, answer = await client.post("commands", rig.command("acknowledge"))
        assert (status, answer["accepted"]) == (200, True), answer
        assert (await client.get("now"))[1]["alerts"] == []
        assert rig.deck.commands[-1] == Acknowledge(by="Phone in the fore cabin", where="page")


@pytest.mark.asyncio
async def test_what_the_watch_refuses_is_told_with_the_remedy(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        status, answer = await client.post("commands", rig.command("weigh"))
        assert status == 200
        assert (answer["accepted"], answer["saved"]) == (False, False)
        assert answer["text"].startswith("Refused:")
        assert answer["remedy"]


@pytest.mark.asyncio
async def test_what_is_done_but_not_on_the_disk_is_told_so(serve: Any) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        rig.deck.saved = False
        client = await rig.paired()
        _, answer = await client.post("commands", rig.command("let_go"))
        assert (answer["accepted"], answer["saved"]) == (True, False)


@pytest.mark.asyncio
async def test_a_request_that_comes_again_is_refused_and_told_what_came_of_the_first(
    serve: Any,
) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        body = rig.command("let_go")
        _, first = await client.post("commands", body)
        for again in (body, rig.command("weigh", key=body["key"])):
            status, problem = await client.post("commands", again)
            assert (status, problem["code"]) == (409, "replayed")
            assert problem["answer"] == first
        assert rig.deck.commands == [LetGo()]


@pytest.mark.asyncio
async def test_a_request_that_comes_again_while_the_first_is_carried_out_is_refused_too(
    serve: Any,
) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        body = rig.command("let_go")
        rig.deck.gate.clear()
        first = asyncio.create_task(client.post("commands", body))
        await rig.deck.given.wait()
        status, problem = await client.post("commands", body)
        assert (status, problem["code"], problem["answer"]) == (409, "replayed", None)
        rig.deck.gate.set()
        assert (await first)[1]["accepted"]
        assert len(rig.deck.commands) == 1


@pytest.mark.parametrize("ago_s", [61.0, -6.0])
@pytest.mark.asyncio
async def test_what_was_asked_for_too_long_ago_is_not_done_any_more(
    serve: Any, ago_s: float
) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=70)
        client = await rig.paired()
        run_s = rig.server._live.run_s() - ago_s
        status, problem = await client.post("commands", rig.command("let_go", run_s=run_s))
        assert (status, problem["code"]) == (409, "too_old")
        assert "Look" in problem["remedy"]
        assert rig.deck.commands == []


@pytest.mark.asyncio
async def test_what_was_asked_of_an_earlier_run_is_not_done_by_this_one(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        body = rig.command("weigh", run_id="00000000")
        status, problem = await client.post("commands", body)
        assert (status, problem["code"]) == (409, "too_old")
        assert rig.deck.commands == []


@pytest.mark.asyncio
async def test_nobody_in_earnest_gives_hundreds_of_commands_a_minute(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        statuses = [(await client.post("commands", rig.command("silence")))[0] for _ in range(257)]
        assert statuses == [200] * 256 + [429]
        await rig.time.advance(66.0)
        assert (await client.post("commands", rig.command("silence")))[0] == 200


@pytest.mark.parametrize("riding", [True, False])
@pytest.mark.asyncio
async def test_the_mark_can_be_moved_at_any_time_and_keeps_the_rode(
    serve: Any, riding: bool
) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        await client.post("commands", rig.command("let_go", rode_m=30.0))
        if riding:
            await client.post("commands", rig.command("veer", rode_m=30.0))
        status, answer = await client.post(
            "commands", rig.command("move_anchor", lat=46.5001, lon=-31.2)
        )
        assert (status, answer["accepted"]) == (200, True), answer
        assert "corrected" in answer["text"]
        _, now = await client.get("now")
        assert (now["anchor"]["lat"], now["anchor"]["method"]) == (46.5001, "given")
        assert (now["rode_m"], now["state"]) == (30.0, "laying_back" if riding else "let_go")


@pytest.mark.asyncio
async def test_a_watch_is_not_begun_by_moving_a_mark(serve: Any) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired()
        status, answer = await client.post(
            "commands", rig.command("move_anchor", lat=46.5001, lon=-31.2)
        )
        assert (status, answer["accepted"]) == (200, False)
        assert answer["remedy"]


@pytest.mark.asyncio
async def test_while_the_daemon_stops_a_command_is_refused_in_words(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        rig.deck.stopping = True
        status, answer = await client.post(
            "commands", rig.command("move_anchor", lat=46.5, lon=-31.2)
        )
        assert (status, answer["accepted"]) == (200, False)
        assert answer["text"] == "The daemon is stopping."


@pytest.mark.asyncio
async def test_the_log_says_which_device_gave_which_command(
    serve: Any, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    async with serve() as rig:
        client = await rig.paired("Tablet")
        await client.post("commands", rig.command("weigh"))
        assert rig.deck.commands == [Weigh()]
        assert "'Tablet'" in caplog.text
        assert "weigh makes no sense while stowed" in caplog.text
