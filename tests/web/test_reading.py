"""What the page may ask for at once."""

import datetime as dt
import json
import math
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve
from geographiclib.geodesic import Geodesic

from driftlead.alerts.settings import OutletSettings
from driftlead.alerts.watch_bill import CrewMember, WatchBill, WatchHours
from driftlead.core.settings import CoreSettings
from driftlead.watch.settings import BoatSettings, WatchSettings
from driftlead.web.track_history import COLUMNS

CORE = CoreSettings(
    watch=WatchSettings(boat=BoatSettings(length_m=9.6, bow_height_m=1.1, antenna_aft_m=7.5))
)
# The stay begins at 18:00 UTC and lasts an hour.
LOW = {"t": "2026-06-14T16:02:00Z", "height_m": 0.9}
HIGH = {"t": "2026-06-14T22:15:00+00:00", "height_m": 4.1}
NO_TIDES: list[Any] = [
    *("high", {}, [LOW], ["high", "low"], [LOW] * 2, [HIGH, LOW], [LOW, HIGH] * 61),
    [LOW, {**HIGH, "t": "2026-06-14T22:15:00"}],
    [LOW, {**HIGH, "t": "9999-12-31T23:59:59-23:59"}],
    [LOW, {**HIGH, "t": 7}],
    [LOW, {"t": HIGH["t"]}],
    [LOW, {**HIGH, "height_m": 400.0}],
    [LOW, {**HIGH, "depth_m": 4.0}],
    # It does not cover the twelve hours of the stay.
    [LOW, HIGH],
]
ROCK = {
    "type": "Feature",
    "properties": {"kind": "pier", "name": "<b>Pontoon</b>"},
    "geometry": {
        "type": "Polygon",
        "coordinates": [
            [
                *([-31.21, 46.495], [-31.19, 46.495], [-31.19, 46.4949]),
                *([-31.21, 46.4949], [-31.21, 46.495]),
            ]
        ],
    },
}
AROUND = json.dumps({"type": "FeatureCollection", "features": [ROCK]})


async def anchored(rig: Any, client: Any) -> None:
    """Let go, fall back and lie to thirty metres."""
    await rig.deck.lie(seconds=3)
    await client.post("commands", rig.command("let_go", depth_m=6.0, rode_m=30.0))
    for north_m in range(0, -20, -1):
        await rig.deck.lie(north_m, sog_mps=1.0)
    await rig.deck.lie(-20.0, seconds=20)


@pytest.mark.asyncio
async def test_one_glance_tells_how_she_lies(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        await anchored(rig, client)
        _, now = await client.get("now")
        assert now["state"] == "laying_back"
        assert now["on_watch"]
        assert now["verdict"] == "holding"
        assert now["utc"].startswith("2026-06-14T20:00:4")
        # The drop point is ahead of the antenna, 7.5 m along the head (40 degrees).
        assert now["anchor"]["east_m"] == pytest.approx(0.0, abs=0.01)
        assert now["position"]["north_m"] == pytest.approx(-20.0 - 5.7, abs=1.0)
        assert now["position"]["east_m"] == pytest.approx(-4.8, abs=1.0)
        assert now["distance_m"] == pytest.approx(26.0, abs=2.0)
        assert (now["heading_deg"], now["wind_from_deg"]) == (40.0, 45.0)
        assert now["depth_m"] == 6.0
        assert now["wind_mps"] == pytest.approx(7.3, abs=0.1)
        assert now["radius_m"] is not None
        assert now["log_odds"] is not None
        assert now["boat"] == {
            "name": "Corvid",
            "length_m": 9.6,
            "bow_height_m": 1.1,
            "antenna_aft_m": 7.5,
        }
        assert now["sources"][0]["name"] == "gps"


@pytest.mark.asyncio
async def test_in_a_drag_it_tells_what_she_drives_towards_and_what_to_do(serve: Any) -> None:
    """A pier half a kilometre to the south, across her way. Nothing of it while she holds."""
    core = evolve(CORE, watch=evolve(CORE.watch, around=AROUND))
    async with serve(core=core) as rig:
        client = await rig.paired()
        await anchored(rig, client)
        _, now = await client.get("now")
        assert (now["danger"], now["response"]) == (None, None)
        for north_m in range(-20, -140, -1):
            await rig.deck.lie(north_m, sog_mps=1.0, cog_deg=180.0)
        _, now = await client.get("now")
        assert now["state"] == "dragging"
        assert now["set_result"] == "anchor_came_home"
        # From 140 m south of the mark it is some 410 m more to 46.4950 N.
        assert now["danger"]["name"] == "<b>Pontoon</b>"
        assert now["danger"]["kind"] == "pier"
        assert now["danger"]["distance_m"] == pytest.approx(410.0, abs=30.0)
        assert [step["name"] for step in now["response"]["steps"]] == [
            *("confirm", "engine", "veer", "weigh", "slip")
        ]
        assert "Pontoon" in now["response"]["steps"][1]["text"]
        drag = next(alert for alert in now["alerts"] if alert["name"] == "drag")
        assert drag["reason"] == "anchor_came_home"
        # Where she is to be slipped, the answer says what to write down.
        _, answer = await client.post("commands", rig.command("slip"))
        assert "WRITE THIS DOWN" in answer["text"]
        assert (await client.get("now"))[1]["state"] == "slipped"


@pytest.mark.asyncio
async def test_the_crew_of_the_watch_bill_are_those_an_alert_can_be_handed_to(serve: Any) -> None:
    """With whose watch it is at 20 h by the receiver; whoever is not of it is refused."""
    mate = CrewMember(name="Mate", notifiers=("m",), watches=(WatchHours(72_000.0, 86_400.0),))
    skipper = CrewMember(name="Skipper", notifiers=("s",))
    bill = WatchBill(crew=(skipper, mate))
    outlets = (OutletSettings(name="m"), OutletSettings(name="s"))
    core = evolve(CORE, alerts=evolve(CORE.alerts, bill=bill, outlets=outlets))
    async with serve(core=core) as rig:
        await rig.deck.lie(seconds=3)
        client = await rig.paired("Phone")
        _, now = await client.get("now")
        assert now["crew"] == [
            {"name": "Skipper", "on_watch": False},
            {"name": "Mate", "on_watch": True},
        ]
        await client.post("commands", rig.command("drill"))
        _, answer = await client.post("commands", rig.command("transfer", to="Cook"))
        assert not answer["accepted"]
        assert answer["remedy"]
        _, answer = await client.post("commands", rig.command("transfer", to="Skipper"))
        assert answer["accepted"], answer
        (alert,) = (await client.get("now"))[1]["alerts"]
        assert (alert["state"], alert["handed_to"]) == ("responsibility_transferred", "Skipper")
        assert (alert["by"], alert["where"]) == ("Phone", "page")


@pytest.mark.asyncio
async def test_position_anchor_and_track_are_in_one_plane(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        await anchored(rig, client)
        _, now = await client.get("now")
        _, track = await client.get("track")
        assert (
            track["origin"]
            == now["origin"]
            == {
                "lat": now["anchor"]["lat"],
                "lon": now["anchor"]["lon"],
            }
        )
        rows = [dict(zip(track["columns"], row, strict=True)) for row in track["rows"]]
        assert track["columns"] == list(COLUMNS)
        assert rows[-1]["north_m"] == pytest.approx(now["position"]["north_m"], abs=0.5)
        assert rows[-1]["distance_m"] == pytest.approx(now["distance_m"], abs=0.5)
        assert rows[-1]["depth_m"] == 6.0


@pytest.mark.asyncio
async def test_the_track_can_be_asked_for_from_some_time_on_and_thinner(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        await anchored(rig, client)
        await rig.deck.lie(-20.0, seconds=120)
        everything = (await client.get("track"))[1]["rows"]
        since = everything[4][0]
        later = (await client.get(f"track?since={since + 0.1}"))[1]["rows"]
        assert later == everything[5:]
        thin = (await client.get("track?step=30"))[1]
        assert thin["step_s"] == 30.0
        times = [row[0] for row in thin["rows"]]
        assert 4 <= len(times) < len(everything) / 3


@pytest.mark.parametrize(
    "query",
    ["since=x", "step=-1", "step=nan", "since=inf", "step=1e9", "since=", "step=0x10"],
)
@pytest.mark.asyncio
async def test_a_query_that_is_no_number_is_refused(serve: Any, query: str) -> None:
    async with serve() as rig:
        await rig.deck.lie()
        status, problem = await rig.client().get(f"track?{query}")
        assert (status, problem["code"]) == (400, "bad_request")


@pytest.mark.asyncio
async def test_what_happened_is_told_in_order_and_from_some_event_on(serve: Any) -> None:
    async with serve() as rig:
        client = await rig.paired()
        await anchored(rig, client)
        _, events = await client.get("events")
        names = [each["event"]["name"] for each in events["events"]]
        assert names[:2] == ["let_go", "fell_back"]
        assert events["complete"]
        _, rest = await client.get(f"events?after={events['events'][0]['id']}")
        assert rest["events"] == events["events"][1:]
        assert rest["complete"]


@pytest.mark.parametrize("after", ["00000000.3", "nothing", "%00", "x" * 64])
@pytest.mark.asyncio
async def test_after_an_event_of_another_run_all_is_told_and_that_some_is_missing(
    serve: Any, after: str
) -> None:
    async with serve() as rig:
        client = await rig.paired()
        await anchored(rig, client)
        _, events = await client.get("events")
        _, again = await client.get(f"events?after={after}")
        assert again["events"] == events["events"]
        assert not again["complete"]


@pytest.mark.asyncio
async def test_text_from_outside_comes_through_as_json_text(serve: Any) -> None:
    """The page puts text where text belongs; here it must neither break out nor be changed."""
    name = '</script><img src=x onerror="1">'
    async with serve() as rig:
        client = await rig.paired(name)
        await client.post("commands", rig.command("drill"))
        await client.post("commands", rig.command("silence"))
        for path in ("now", "devices"):
            async with client.ask("GET", f"/api/v1/{path}") as response:
                assert response.content_type == "application/json"
                assert name in str(await response.json()), path


@pytest.mark.asyncio
async def test_a_plan_is_made_for_the_boat_as_configured(serve: Any) -> None:
    """Scope 4:1 at the least for all chain in fair weather (common practice): 7.1 m x 4."""
    async with serve() as rig:
        client = await rig.paired()
        status, plan = await client.post("plan", {"wind_mps": 5.0, "depth_m": 6.0})
        assert status == 200
        assert plan["by_scope_m"] == pytest.approx(4 * (6.0 + 1.1))
        assert plan["begins"] == "2026-06-14T18:00:00+00:00"
        assert plan["aboard_m"] == 45.0


@pytest.mark.asyncio
async def test_a_plan_takes_the_depth_from_the_sounder_if_none_is_given(serve: Any) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=2)
        client = await rig.paired()
        status, plan = await client.post("plan", {"wind_mps": 5.0})
        assert (status, plan["by_scope_m"]) == (200, pytest.approx(4 * (6.0 + 1.1)))


@pytest.mark.asyncio
async def test_a_plan_goes_through_the_night_with_the_tide_that_is_given(serve: Any) -> None:
    """Depth rises by as much as the tide: 6 m at 18 h, and at high water by 4.1 m less then's."""
    async with serve() as rig:
        client = await rig.paired()
        body = {"wind_mps": 5.0, "depth_m": 6.0, "for_s": 15_300.0, "tide": [LOW, HIGH]}
        status, plan = await client.post("plan", body)
        assert (status, plan["tide"]) == (200, "given"), plan
        hours = plan["hours"]
        assert [hour["t"][11:16] for hour in hours] == [
            *("18:00", "19:00", "20:00", "21:00", "22:00", "22:15")
        ]
        assert hours[-1]["turn"] == "HW"
        for hour in hours:
            rise_m = hour["tide_m"] - hours[0]["tide_m"]
            assert hour["depth_m"] - 6.0 == pytest.approx(rise_m, abs=0.0021)
        # 1 h 58 of 6 h 13 after low water, on a cosine: 3.2 m * (1 - cos(56.95 deg)) / 2.
        assert hours[0]["tide_m"] == pytest.approx(0.9 + 3.2 * 0.2273, abs=0.01)
        assert plan["by_scope_m"] == pytest.approx(4 * (hours[-1]["depth_m"] + 1.1), abs=0.01)


@pytest.mark.parametrize(("for_s", "source"), [(15_300.0, "configured"), (86_400.0, None)])
@pytest.mark.asyncio
async def test_a_plan_reckons_with_the_configured_tide_and_says_where_it_ends(
    serve: Any, for_s: float, source: str | None
) -> None:
    turns = tuple(
        (dt.datetime.fromisoformat(str(turn["t"])).timestamp(), float(str(turn["height_m"])))
        for turn in (LOW, HIGH)
    )
    outlook = evolve(CORE.watch.outlook, tide=turns)
    core = evolve(CORE, watch=evolve(CORE.watch, outlook=outlook))
    async with serve(core=core) as rig:
        client = await rig.paired()
        body: dict[str, Any] = {"wind_mps": 5.0, "depth_m": 6.0, "for_s": for_s}
        status, plan = await client.post("plan", body)
        assert (status, plan["tide"], bool(plan["hours"])) == (200, source, source is not None)
        told = [each for each in plan["warnings"] if "does not cover" in each]
        assert bool(told) == (source is None)
        _, plan = await client.post("plan", {**body, "tide": []})
        assert (plan["tide"], plan["hours"], plan["by_scope_m"]) == (None, [], pytest.approx(28.4))


@pytest.mark.asyncio
async def test_a_plan_says_when_it_is_dark_where_she_is(serve: Any) -> None:
    """Of the shortest nights, by the noon of 31 W at 14:05 UTC: from 22 to 6 h, to the hour."""
    async with serve() as rig:
        await rig.deck.lie(seconds=2)
        client = await rig.paired()
        _, plan = await client.post("plan", {"wind_mps": 5.0})
        (dark,) = plan["dark"]
        assert dark["sunset"][:13] in ("2026-06-14T21", "2026-06-14T22")
        assert dark["sunrise"][:13] in ("2026-06-15T05", "2026-06-15T06")


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"wind_mps": 5.0},
        {"wind_mps": -1.0, "depth_m": 6.0},
        {"wind_mps": 1e6, "depth_m": 6.0},
        {"wind_mps": 9.0, "gust_mps": 3.0, "depth_m": 6.0},
        {"wind_mps": 9.0, "depth_m": 0.0},
        {"wind_mps": 9.0, "depth_m": 6.0, "bottom": "cheese"},
        {"wind_mps": 9.0, "depth_m": 6.0, "bottom": ["sand"]},
        {"wind_mps": 9.0, "depth_m": 6.0, "scope": 1.0},
        {"wind_mps": 9.0, "depth_m": 6.0, "for_s": 0},
        *({"wind_mps": 9.0, "depth_m": 6.0, "tide": tide} for tide in NO_TIDES),
    ],
)
@pytest.mark.asyncio
async def test_a_plan_that_cannot_be_made_says_why(serve: Any, body: dict[str, Any]) -> None:
    async with serve() as rig:
        client = await rig.paired()
        status, problem = await client.post("plan", body)
        assert status == 400, problem
        assert problem["text"]


@pytest.mark.asyncio
async def test_a_stay_may_begin_later_and_be_reckoned_from_the_chart(serve: Any) -> None:
    """The depth at its beginning is the charted one and the tide of then (rule of the sine)."""
    async with serve() as rig:
        client = await rig.paired()
        body = {"wind_mps": 6.0, "charted_m": -0.5, "for_s": 3600.0, "tide": [LOW, HIGH]}
        _, plan = await client.post("plan", {**body, "begins": "2026-06-14T19:08:30Z"})
        # Half way from low to high water, on a cosine: their mean, 2.5 m.
        assert plan["hours"][0]["depth_m"] == pytest.approx(2.0, abs=0.01)
        assert plan["hours"][0]["t"].startswith("2026-06-14T19:08")
        # A sounding is what counts where both are given.
        _, plan = await client.post("plan", {**body, "depth_m": 5.0})
        assert plan["hours"][0]["depth_m"] == pytest.approx(5.0, abs=0.01)
        for wrong in (
            {**body, "tide": []},
            {**body, "charted_m": "6"},
            *(
                {**body, "begins": when}
                for when in ("2026-06-14T17:59:00Z", "2026-07-14T18:00:00Z")
            ),
            *({**body, "begins": when} for when in ("19:00", "2026-06-14T19:00:00", 7)),
            # The sounding of now is not that of then.
            {"wind_mps": 6.0, "begins": "2026-06-14T19:00:00Z"},
        ):
            status, problem = await client.post("plan", wrong)
            assert (status, problem["code"]) == (400, "bad_request"), wrong
            assert problem["remedy"], wrong


@pytest.mark.asyncio
async def test_before_a_drill_there_is_no_result_of_one(serve: Any) -> None:
    async with serve() as rig:
        assert await rig.client().get("drill") == (200, {"result": None})
        assert (await rig.client().get("now"))[1]["drills"] == 0


@pytest.mark.asyncio
async def test_without_a_boat_configured_there_is_no_plan(serve: Any) -> None:
    async with serve(plan=None) as rig:
        status, problem = await rig.client().post("plan", {"wind_mps": 5.0, "depth_m": 6.0})
        assert (status, problem["code"]) == (501, "not_there")


@pytest.mark.asyncio
async def test_what_is_around_is_told_as_geojson_and_read_anew_when_it_changes(
    serve: Any, tmp_path: Path
) -> None:
    path = tmp_path / "around.geojson"
    feature = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [-31.2, 46.5005]},
        "properties": {"kind": "chain", "name": "Heron", "rode_m": 30.0},
    }
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}))
    async with serve(around=path) as rig:
        await rig.deck.lie(seconds=2)
        client = rig.client()
        for _ in range(2):
            status, around = await client.get("surroundings")
            assert status == 200
            assert [each["properties"]["name"] for each in around["features"]] == ["Heron"]
        path.write_text(json.dumps({"type": "FeatureCollection", "features": []}))
        assert (await client.get("surroundings"))[1]["features"] == []
        path.write_text("{")
        status, problem = await client.get("surroundings")
        assert (status, problem["code"]) == (503, "not_ready")
        assert str(path) in problem["text"]
        path.unlink()
        assert (await client.get("surroundings"))[0] == 503


@pytest.mark.asyncio
async def test_bearings_are_counted_from_the_drop_point_as_the_watch_counts_them(
    serve: Any, tmp_path: Path
) -> None:
    """A drag carries the anchor off, not the rocks; a corrected mark takes them along.

    Where they lie is checked by the geodesic of the library geographiclib, and against what the
    watch itself says of the way there.
    """
    rock = {"kind": "rock", "name": "Tooth", "bearing_deg": 180.0, "distance": "400m"}
    path = tmp_path / "around.toml"
    path.write_text(
        '[[danger]]\nkind = "rock"\nname = "Tooth"\nbearing_deg = 180\ndistance = "400m"\n'
    )
    core = evolve(CORE, watch=evolve(CORE.watch, around=json.dumps({"danger": [rock]})))

    def away(place: Any, to: Any) -> float:
        found = Geodesic.WGS84.Inverse(place["lat"], place["lon"], to["lat"], to["lon"])
        return float(found["s12"])

    async with serve(around=path, core=core) as rig:
        client = await rig.paired()

        async def tooth() -> dict[str, float]:
            _, around = await client.get("surroundings")
            lon, lat = around["features"][0]["geometry"]["coordinates"]
            return {"lat": lat, "lon": lon}

        await anchored(rig, client)
        drop = (await client.get("now"))[1]["anchor"]
        assert away(drop, await tooth()) == pytest.approx(400.0, abs=0.1)
        for north_m in range(-20, -140, -1):
            await rig.deck.lie(north_m, sog_mps=1.0, cog_deg=180.0)
        _, now = await client.get("now")
        assert now["state"] == "dragging"
        assert away(drop, now["anchor"]) > 50.0
        assert away(drop, await tooth()) == pytest.approx(400.0, abs=0.1)
        # The watch counts to the hull, which reaches no more than her length from the antenna.
        ahead_m = now["danger"]["distance_m"]
        assert ahead_m == pytest.approx(away(now["position"], await tooth()), abs=10.0)
        mark = Geodesic.WGS84.Direct(drop["lat"], drop["lon"], 90.0, 30.0)
        place = {"lat": mark["lat2"], "lon": mark["lon2"]}
        _, answer = await client.post("commands", rig.command("move_anchor", **place))
        assert answer["accepted"], answer
        assert away(place, await tooth()) == pytest.approx(400.0, abs=0.1)
        assert away(drop, await tooth()) == pytest.approx(math.hypot(400.0, 30.0), abs=0.1)


@pytest.mark.asyncio
async def test_with_nothing_configured_nothing_is_around(serve: Any) -> None:
    async with serve() as rig:
        await rig.deck.lie(seconds=2)
        status, around = await rig.client().get("surroundings")
        assert (status, around) == (200, {"type": "FeatureCollection", "features": []})
