"""Who may do what: every way in that is no way in."""

from typing import Any

import pytest

READS = (
    "now",
    "track",
    "events",
    "drill",
    "stream",
    "nights",
    "surroundings",
    "nights/night-000001",
)
ACTS = (
    ("POST", "commands"),
    ("GET", "devices"),
    ("DELETE", "devices/c0ffee12"),
)


@pytest.mark.asyncio
async def test_on_its_own_loopback_anybody_may_see(serve: Any) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=2)
        client = rig.client()
        for path in ("now", "track", "events", "nights", "surroundings"):
            assert (await client.get(path))[0] == 200, path
        _, session = await client.get("session")
        assert (session["can_read"], session["reading_needs_pairing"]) == (True, False)


@pytest.mark.parametrize("path", READS)
@pytest.mark.asyncio
async def test_where_others_can_ask_only_paired_devices_may_see(serve: Any, path: str) -> None:
    async with serve(listen="0.0.0.0:0") as rig:
        status, problem = await rig.client().get(path)
        assert (status, problem["code"]) == (401, "not_paired")
        assert "driftlead pair" in problem["remedy"]
        paired = await rig.paired()
        async with paired.ask("GET", f"/api/v1/{path}") as response:
            assert response.status in (200, 404)


@pytest.mark.asyncio
async def test_where_others_can_ask_the_page_itself_and_the_session_are_for_all(serve: Any) -> None:
    async with serve(listen="0.0.0.0:0") as rig:
        client = rig.client()
        _, session = await client.get("session")
        assert session == session | {"paired": False, "can_read": False, "csrf": None}
        async with client.ask("GET", "/") as response:
            assert response.status == 200
        status, _ = await client.post("plan", {"wind_mps": 8.0, "depth_m": 6.0})
        assert status == 401


@pytest.mark.parametrize(("method", "path"), ACTS)
@pytest.mark.asyncio
async def test_acting_needs_a_paired_device_even_on_the_loopback(
    serve: Any, method: str, path: str
) -> None:
    async with serve() as rig:
        client = rig.client()
        body = rig.command("weigh") if method == "POST" else None
        for cookie in ("", "driftlead_device=", "driftlead_device=" + "A" * 43):
            async with client.ask(
                method, f"/api/v1/{path}", json=body, headers={"Cookie": cookie}
            ) as response:
                assert response.status == 401
                assert (await response.json())["code"] == "not_paired"
        assert rig.deck.commands == []


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "http://evil.example", "Sec-Fetch-Site": "same-origin"},
        {"Origin": "", "Sec-Fetch-Site": ""},
        {"Origin": "", "Sec-Fetch-Site": "cross-site"},
        {"Origin": "", "Sec-Fetch-Site": "same-site"},
        {"Origin": "", "Sec-Fetch-Site": "none"},
        {"Sec-Fetch-Site": "cross-site"},
    ],
)
@pytest.mark.asyncio
async def test_what_another_site_sends_is_refused_though_the_cookie_is_right(
    serve: Any, headers: dict[str, str]
) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=2)
        client = await rig.paired()
        for method, path, body in (
            ("POST", "commands", rig.command("let_go")),
            ("POST", "pair", {"pin": rig.server.open_pin(), "name": "Thief"}),
            ("POST", "plan", {"wind_mps": 8.0}),
            ("DELETE", "devices/c0ffee12", None),
        ):
            async with client.ask(
                method, f"/api/v1/{path}", json=body, headers=headers
            ) as response:
                assert response.status == 403, path
                assert (await response.json())["code"] == "cross_site"
        assert rig.deck.commands == []
        assert len(rig.server.devices) == 1


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
@pytest.mark.asyncio
async def test_another_site_cannot_even_listen(serve: Any, site: str) -> None:
    async with serve() as rig:
        for path in ("now", "stream"):
            status, problem = await rig.client().get(path, headers={"Sec-Fetch-Site": site})
            assert (status, problem["code"]) == (403, "cross_site")


@pytest.mark.parametrize("site", ["same-origin", ""])
@pytest.mark.asyncio
async def test_the_page_itself_is_let_through(serve: Any, site: str) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=2)
        client = await rig.paired()
        status, _ = await client.post(
            "commands", rig.command("let_go"), headers={"Sec-Fetch-Site": site}
        )
        assert status == 200


@pytest.mark.parametrize("token", ["", "0" * 64, "é"])
@pytest.mark.asyncio
async def test_without_the_right_token_a_paired_device_can_change_nothing(
    serve: Any, token: str
) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=2)
        other = await rig.paired("Tablet")
        client = await rig.paired()
        for given in (token, other.csrf):
            headers = {"X-Csrf-Token": given}
            status, problem = await client.post("commands", rig.command("let_go"), headers=headers)
            assert (status, problem["code"]) == (403, "cross_site")
            status, _ = await client.post("plan", {"wind_mps": 8.0}, headers=headers)
            assert status == 403
            (device, *_) = rig.server.devices
            status, _ = await client.delete(f"devices/{device.id}", headers=headers)
            assert status == 403
        assert rig.deck.commands == []
        assert len(rig.server.devices) == 2


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:8421", "127.0.0.1.evil.example", "", "[::1", "a b", "@", ":80"],
)
@pytest.mark.asyncio
async def test_a_name_that_is_not_ours_is_refused_so_that_none_can_be_made_to_lead_here(
    serve: Any, host: str
) -> None:
    async with serve() as rig:
        client = rig.client()
        for path in ("/", "/api/v1/now", "/api/v1/session"):
            async with client.session.get(path, headers={"Host": host}) as response:
                assert response.status == 421
                assert (await response.json())["code"] == "bad_host"


@pytest.mark.parametrize(
    "host",
    [
        *("localhost", "LocalHost:8421", "127.0.0.1:8421", "192.168.4.1", "[fe80::1]:8421"),
        *("corvid.lan", "corvid.lan.:8421"),
    ],
)
@pytest.mark.asyncio
async def test_its_addresses_its_own_names_and_those_configured_are_known(
    serve: Any, host: str
) -> None:
    async with serve(names=("Corvid.lan",)) as rig:
        await rig.deck.lie()
        async with rig.client().session.get("/api/v1/now", headers={"Host": host}) as response:
            assert response.status == 200


@pytest.mark.parametrize(
    "path",
    ["/", "/nothing", "/api/v1/now", "/api/v1/nothing", "/api/v1/devices", "/api/v1/stream"],
)
@pytest.mark.asyncio
async def test_every_answer_keeps_the_browser_in_its_place(serve: Any, path: str) -> None:
    async with serve() as rig, rig.client().ask("GET", path) as response:
        policy = response.headers["Content-Security-Policy"]
        for part in (
            *("default-src 'none'", "script-src 'self'", "style-src 'self'"),
            *("img-src 'self' data:", "connect-src 'self'", "frame-ancestors 'none'"),
        ):
            assert part in policy.split("; ")
        assert "unsafe" not in policy
        assert response.headers["X-Content-Type-Options"] == "nosniff"
        assert response.headers["Referrer-Policy"] == "no-referrer"
        assert response.headers["Cache-Control"] in ("no-store", "no-cache")
        assert "Access-Control-Allow-Origin" not in response.headers
        assert response.headers["Server"] == "driftlead"


@pytest.mark.asyncio
async def test_a_body_larger_than_sixteen_kilobytes_is_refused(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        body = b'{"command":"weigh","key":"' + b"x" * 17_000 + b'"}'
        headers = {"Content-Type": "application/json"}
        for path in ("commands", "plan", "pair"):
            async with client.ask(
                "POST", f"/api/v1/{path}", data=body, headers=headers
            ) as response:
                assert response.status == 413
                assert (await response.json())["code"] == "too_large"


@pytest.mark.parametrize(
    ("body", "kind", "status"),
    [
        (b"{", "application/json", 400),
        (b"[]", "application/json", 400),
        (b"", "application/json", 400),
        (b'{"run_s":NaN}', "application/json", 400),
        (b"[" * 15_000, "application/json", 400),
        (b'{"run_s":' + b"9" * 15_000 + b"}", "application/json", 400),
        (b"\xff\xfe", "application/json", 400),
        (b"{}", "text/plain", 415),
        (b"pin=1", "application/x-www-form-urlencoded", 415),
    ],
)
@pytest.mark.asyncio
async def test_a_body_that_is_no_json_object_is_refused(
    serve: Any, body: bytes, kind: str, status: int
) -> None:
    async with serve() as rig:
        client = await rig.paired()
        for path in ("commands", "plan", "pair"):
            async with client.ask(
                "POST", f"/api/v1/{path}", data=body, headers={"Content-Type": kind}
            ) as response:
                assert response.status == status
                assert (await response.json())["text"]


@pytest.mark.asyncio
async def test_what_is_not_there_and_what_cannot_be_done_is_said_in_the_same_form(
    serve: Any,
) -> None:
    async with serve() as rig:
        client = await rig.paired()
        for method, path, status, code in (
            ("GET", "/api/v1/nothing", 404, "unknown"),
            ("GET", "/api/v2/now", 404, "unknown"),
            ("POST", "/api/v1/now", 405, "not_allowed"),
            ("GET", "/api/v1/commands", 405, "not_allowed"),
            ("OPTIONS", "/api/v1/commands", 405, "not_allowed"),
            ("PUT", "/", 405, "not_allowed"),
        ):
            async with client.ask(method, path) as response:
                assert response.status == status, path
                assert (await response.json())["code"] == code


@pytest.mark.asyncio
async def test_a_fault_of_ours_stays_with_the_request_and_tells_nothing_of_the_inside(
    serve: Any, caplog: pytest.LogCaptureFixture
) -> None:
    async with serve() as rig:
        client = rig.client()
        rig.deck.broken = RuntimeError("secret inside")
        status, problem = await client.get("now")
        assert (status, problem["code"]) == (500, "failed")
        assert "secret" not in str(problem)
        assert "secret inside" in caplog.text
        rig.deck.broken = None
        assert (await client.get("now"))[0] == 200


@pytest.mark.asyncio
async def test_while_the_daemon_stops_it_says_so(serve: Any) -> None:
    async with serve() as rig:
        rig.deck.stopping = True
        client = rig.client()
        for path in ("now", "track", "events", "stream", "surroundings"):
            status, problem = await client.get(path)
            assert (status, problem["code"]) == (503, "not_ready")
