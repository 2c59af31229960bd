"""Pairing a device, and putting one out."""

import logging
from typing import Any

import pytest


async def try_pin(client: Any, pin: str, **more: Any) -> tuple[int, Any]:
    """Try to pair by a PIN."""
    answer: tuple[int, Any] = await client.post("pair", {"pin": pin, "name": "Phone"}, **more)
    return answer


@pytest.mark.asyncio
async def test_the_pin_of_the_boats_terminal_pairs_a_device(serve: Any) -> None:
    async with serve() as rig:
        client = rig.client()
        pin = rig.server.open_pin()
        async with client.ask(
            "POST", "/api/v1/pair", json={"pin": pin, "name": " Phone "}
        ) as response:
            session = await response.json()
            cookie = response.headers["Set-Cookie"]
        assert session["paired"]
        assert session["device"] == session["device"] | {"name": "Phone", "current": True}
        for part in ("HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=34560000"):
            assert part in cookie.split("; ")
        assert (await client.get("session"))[1] == session
        client.csrf = session["csrf"]
        status, devices = await client.get("devices")
        assert (status, devices) == (200, {"devices": [session["device"]]})


@pytest.mark.asyncio
async def test_neither_pin_nor_token_nor_csrf_gets_into_log_or_session_of_others(
    serve: Any, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    async with serve() as rig:
        client = rig.client()
        pin = rig.server.open_pin()
        await try_pin(client, "1234 5678")
        async with client.ask(
            "POST", "/api/v1/pair", json={"pin": pin, "name": "Phone"}
        ) as response:
            token = response.cookies["driftlead_device"].value
            csrf = (await response.json())["csrf"]
        client.csrf = csrf
        await client.post("commands", rig.command("weigh"))
        _, others = await rig.client().get("session")
    assert "Paired 'Phone'" in caplog.text
    for secret in (pin, pin.replace(" ", ""), "1234 5678", token, csrf):
        assert secret not in caplog.text
        assert secret not in str(others)


@pytest.mark.asyncio
async def test_a_pin_pairs_one_device_only(serve: Any) -> None:
    async with serve() as rig:
        pin = rig.server.open_pin()
        assert (await try_pin(rig.client(), pin))[0] == 200
        status, problem = await try_pin(rig.client(), pin)
        assert (status, problem["code"]) == (401, "wrong_pin")


@pytest.mark.asyncio
async def test_a_pin_is_good_for_five_minutes(serve: Any) -> None:
    async with serve() as rig:
        pin = rig.server.open_pin()
        await rig.time.advance(299.0)
        late = rig.server.open_pin()
        assert (await try_pin(rig.client(), pin))[0] == 401
        await rig.time.advance(300.0)
        assert (await try_pin(rig.client(), late))[0] == 401


@pytest.mark.asyncio
async def test_without_a_pin_being_made_none_is_right(serve: Any) -> None:
    async with serve() as rig:
        for pin in ("00000000", "-", "- -", ".", "0" * 32):
            status, problem = await try_pin(rig.client(), pin)
            assert (status, problem["code"]) == (401, "wrong_pin")
            assert "driftlead pair" in problem["remedy"]


@pytest.mark.asyncio
async def test_after_five_wrong_pins_even_the_right_one_has_to_wait(serve: Any) -> None:
    async with serve() as rig:
        client = rig.client()
        pin = rig.server.open_pin()
        for _ in range(5):
            assert (await try_pin(client, "0"))[0] == 401
        async with client.ask(
            "POST", "/api/v1/pair", json={"pin": pin, "name": "Phone"}
        ) as response:
            assert response.status == 429
            assert (await response.json())["code"] == "too_many_attempts"
            assert 1 <= int(response.headers["Retry-After"]) <= 300
        await rig.time.advance(300.0)
        assert (await try_pin(client, rig.server.open_pin()))[0] == 200


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"pin": "12345678"},
        {"name": "Phone"},
        {"pin": 12345678, "name": "Phone"},
        {"pin": "1" * 33, "name": "Phone"},
        {"pin": "12345678", "name": ""},
        {"pin": "12345678", "name": "  "},
        {"pin": "12345678", "name": "x" * 41},
        {"pin": "12345678", "name": "a\nb"},
        {"pin": "12345678", "name": "\ud800"},
        {"pin": "12345678", "name": "Phone", "admin": True},
    ],
)
@pytest.mark.asyncio
async def test_a_request_that_is_none_does_not_count_as_an_attempt(
    serve: Any, body: dict[str, Any]
) -> None:
    async with serve() as rig:
        client = rig.client()
        for _ in range(6):
            status, problem = await client.post("pair", body)
            assert (status, problem["code"]) == (400, "bad_request")
        assert (await try_pin(client, rig.server.open_pin()))[0] == 200


@pytest.mark.asyncio
async def test_one_device_can_put_out_another_and_itself(serve: Any) -> None:
    async with serve(listen="0.0.0.0:0") as rig:
        phone, tablet = await rig.paired("Phone"), await rig.paired("Tablet")
        known = (await phone.get("devices"))[1]["devices"]
        assert [(each["name"], each["current"]) for each in known] == [
            ("Phone", True),
            ("Tablet", False),
        ]
        status, left = await phone.delete(f"devices/{known[1]['id']}")
        assert (status, [each["name"] for each in left["devices"]]) == (200, ["Phone"])
        assert (await tablet.get("now"))[0] == 401
        assert (await phone.delete(f"devices/{known[1]['id']}"))[0] == 404
        await phone.delete(f"devices/{known[0]['id']}")
        assert (await phone.get("now"))[0] == 401


@pytest.mark.asyncio
async def test_what_one_that_is_put_out_listened_to_ends_at_once(serve: Any) -> None:
    async with serve(listen="0.0.0.0:0") as rig:
        phone, tablet = await rig.paired("Phone"), await rig.paired("Tablet")
        async with rig.stream(phone) as stream, rig.stream(tablet) as other:
            await rig.server.revoke(rig.server.devices[0].id)
            with pytest.raises(EOFError):
                await stream.next("no such event")
            await rig.time.advance(1.0)
            await other.next("beat")
            await other.next("now")
            assert rig.server._live.listeners == 1


@pytest.mark.asyncio
async def test_paired_devices_outlive_a_restart(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        token = next(iter(client.session.cookie_jar)).value
        await rig.restart()
        again = rig.client()
        status, session = await again.get(
            "session", headers={"Cookie": f"driftlead_device={token}"}
        )
        assert (status, session["paired"]) == (200, True)
        assert session["csrf"] == client.csrf


@pytest.mark.asyncio
async def test_a_device_that_the_disk_does_not_take_is_not_paired(serve: Any) -> None:
    async with serve() as rig:
        state = rig.folder / "state"
        state.write_text("no folder")
        status, problem = await try_pin(rig.client(), rig.server.open_pin())
        assert (status, problem["code"]) == (503, "not_ready")
        assert rig.server.devices == ()
