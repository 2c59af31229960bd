"""The recorded nights, and keeping their watch again."""

import asyncio
import datetime as dt
import gzip
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from yarl import URL

from driftlead.lines import StampedLine
from driftlead.recording.format import HEADER, format_input, format_line
from driftlead.simulate.nmea_writer import gga, rmc
from driftlead.web.night_folder import NightFolder
from driftlead.web.replay_worker import ReplayTeller


def night(*, seconds: int = 120) -> Iterator[Any]:
    """Let go after ten seconds, then lie still; inputs as they are recorded."""
    for second in range(seconds):
        mono_s = 1000.0 + second
        utc = dt.datetime(2026, 6, 14, 20, 0, second % 60, tzinfo=dt.UTC) + dt.timedelta(
            minutes=second // 60
        )
        lat_deg = 46.5 + 0.000002 * (second % 3)
        for text in (
            rmc(utc=utc, lat_deg=lat_deg, lon_deg=-31.2, sog_mps=0.0, cog_deg=0.0),
            gga(utc=utc, lat_deg=lat_deg, lon_deg=-31.2, satellites=11, hdop=0.9),
        ):
            yield StampedLine(mono_s, "gps", text)
        if second == 10:
            yield (mono_s, "command", {"command": "let-go", "rode_m": 30.0, "depth_m": 6.0})


@pytest.mark.asyncio
async def test_nights_are_listed_the_newest_first_each_with_all_its_parts(serve: Any) -> None:
    async with serve() as rig:
        rig.record_night(3, night(seconds=5))
        rig.record_night(4, night(seconds=5), part=2)
        rig.record_night(7, night(seconds=5))
        (rig.nights / "notes.txt").write_text("not a night")
        client = rig.client()
        _, answer = await client.get("nights")
        assert [(each["name"], each["parts"]) for each in answer["nights"]] == [
            ("night-000007", 1),
            ("night-000003", 2),
        ]
        assert [each["being_written"] for each in answer["nights"]] == [True, False]
        status, one = await client.get("nights/night-000003")
        assert status == 200
        assert one["size_bytes"] == answer["nights"][1]["size_bytes"]
        assert (one["resumed"], one["faults"]) == (False, [])


@pytest.mark.asyncio
async def test_without_recordings_there_are_no_nights(serve: Any) -> None:
    async with serve() as rig:
        assert await rig.client().get("nights") == (200, {"nights": []})


@pytest.mark.asyncio
async def test_a_part_that_is_missing_or_damaged_is_told_and_the_rest_is_there(
    serve: Any,
) -> None:
    async with serve() as rig:
        rig.record_night(5, night(seconds=5), part=2)
        (rig.nights / "night-000009.log.gz").write_bytes(b"\x1f\x8bno")
        (rig.nights / "night-000011.log").write_bytes(b"")
        (rig.nights / "night-000012.log.gz.tmp").write_bytes(b"half")
        client = rig.client()
        _, answer = await client.get("nights")
        assert {each["name"] for each in answer["nights"]} == {
            *("night-000004", "night-000009", "night-000011", "night-000012")
        }
        _, one = await client.get("nights/night-000004")
        assert one["faults"] == ["Some parts of this night are missing."]
        assert (await client.get("nights/night-000012"))[0] == 404


@pytest.mark.parametrize(
    "name",
    [
        *("night-000099", "night-3", "night-000003.log", "..", "%2e%2e", "NIGHT-000003"),
        *("..%2f..%2fetc%2fpasswd", "night-000003%00", "night-000003%2f..%2fx", "*", "%0a"),
        *("night-" + "9" * 30, "night-000003%2e%2e%2fstate%2fdevices.json", "night-٣٣٣٣٣٣"),
    ],
)
@pytest.mark.asyncio
async def test_no_name_leads_anywhere_but_to_a_night(serve: Any, name: str) -> None:
    async with serve() as rig:
        rig.record_night(3, night(seconds=5))
        client = rig.client()
        for path in (f"nights/{name}", f"nights/{name}/replay"):
            async with client.session.get(_raw(rig, path)) as response:
                assert response.status in (400, 404), path
                assert "root:" not in await response.text()


def _raw(rig: Any, path: str) -> Any:
    """A URL that is sent as it is written."""
    return URL(f"{rig.origin}/api/v1/{path}", encoded=True)


def told(paths: list[Path], **more: float) -> list[tuple[float, str, dict[str, Any]]]:
    """What a replay tells: when, what kind, and what."""
    lines: list[str] = []
    options = {"from_s": 0.0, "step_s": 1.0, **more}
    ReplayTeller(paths, write=lines.append, **options).tell()
    split = [line.split(" ", 3) for line in lines]
    return [(float(run_s), kind, json.loads(text)) for run_s, kind, _, text in split]


def test_a_replay_tells_of_each_second_and_of_what_happened_at_its_time(tmp_path: Path) -> None:
    rig = _Recorder(tmp_path)
    rig.record(3, night())
    lines = told([rig.path(3)])
    nows = [data for _, kind, data in lines if kind == "now"]
    assert [now["run_s"] for now in nows] == [float(second) for second in range(120)]
    assert [now["state"] for now in nows[9:12]] == ["stowed", "let_go", "let_go"]
    (state, *_) = [(run_s, data) for run_s, kind, data in lines if kind == "state"]
    assert state[0] == 10.0
    assert state[1]["event"]["name"] == "let_go"
    assert nows[50]["anchor"]["method"] == "marked_no_heading"
    assert nows[50]["utc"] == "2026-06-14T20:00:50.000Z"
    assert lines[-1][1:] == ("end", {"text": "That was the night.", "run_s": 119.0})


def test_a_replay_from_some_time_on_tells_nothing_of_before_but_knows_it(tmp_path: Path) -> None:
    rig = _Recorder(tmp_path)
    rig.record(3, night())
    lines = told([rig.path(3)], from_s=60.0, step_s=10.0)
    assert [run_s for run_s, kind, _ in lines if kind == "now"] == [
        *(60.0, 70.0, 80.0, 90.0, 100.0, 110.0, 119.0)
    ]
    assert lines[0][2]["state"] == "let_go"
    assert not [kind for _, kind, _ in lines if kind == "state"]
    assert [kind for _, kind, _ in told([rig.path(3)], from_s=9999.0)] == ["now", "end"]


def test_a_replay_ends_with_how_she_lay_in_the_end_however_fast_it_was(tmp_path: Path) -> None:
    rig = _Recorder(tmp_path)
    rig.record(3, night())
    *_, (run_s, kind, last), end = told([rig.path(3)], step_s=360.0)
    assert (run_s, kind, end[1]) == (119.0, "now", "end")
    assert last["utc"] == "2026-06-14T20:01:59.000Z"
    assert last["state"] == "let_go"
    rig.record(4, iter(()))
    assert [kind for _, kind, _ in told([rig.path(4)])] == ["now", "end"]


def test_a_compressed_night_is_told_the_same_and_a_torn_one_as_far_as_it_goes(
    tmp_path: Path,
) -> None:
    rig = _Recorder(tmp_path)
    rig.record(3, night())
    whole = told([rig.path(3)])
    packed = tmp_path / "packed.log.gz"
    with rig.path(3).open("rb") as plain, gzip.open(packed, "wb") as stream:
        shutil.copyfileobj(plain, stream)
    assert told([packed]) == whole
    torn = tmp_path / "torn.log.gz"
    torn.write_bytes(packed.read_bytes()[:-200])
    lines = told([torn])
    assert lines[:-1] == whole[: len(lines) - 1]
    assert "breaks off" in lines[-1][2]["text"]


class _Recorder:
    """Writes recordings where no server is wanted."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, number: int) -> Path:
        """Where it is."""
        return self.folder / f"night-{number:06d}.log"

    def record(self, number: int, inputs: Iterator[Any]) -> None:
        """Write one."""
        part = {"run": number, "part": 1, "settings": {}, "snapshot": None}
        lines = [HEADER, format_input(1000.0, "part", part)]
        lines += [
            format_line(each) if isinstance(each, StampedLine) else format_input(*each)
            for each in inputs
        ]
        self.path(number).write_text("".join(f"{line}\n" for line in lines))


def test_what_a_part_says_of_itself_is_read_only_once(tmp_path: Path) -> None:
    rig = _Recorder(tmp_path)
    rig.record(3, night(seconds=3))
    folder = NightFolder(tmp_path)
    (first,) = folder.nights()
    text = rig.path(3).read_text().replace('"run":3', '"run":2')
    rig.path(3).write_text(text)
    assert [each.name for each in folder.nights()] == [first.name]
    rig.path(3).unlink()
    assert folder.nights() == []


@pytest.mark.asyncio
async def test_a_night_is_told_over_the_wire_at_the_pace_asked_for(serve: Any) -> None:
    async with serve() as rig:
        rig.record_night(3, night())
        path = "nights/night-000003/replay?speed=10&from=5"
        async with rig.stream(rig.client(), path) as stream:
            _, beat = await stream.next("beat")
            assert beat == {"run_id": "replay", "run_s": 5.0}
            _, now = await stream.next("now")
            assert now["run_s"] == 5.0
            await rig.time.until_sleeping(0.1)
            heard = []
            for _ in range(20):
                await rig.time.advance(0.1)
                heard.append((await stream.next("now", "state"))[1]["run_s"])
            assert heard[:8] == [6.0, 7.0, 8.0, 9.0, 10.0, 10.0, 11.0, 12.0]
            assert stream.last_id == "replay.1"


@pytest.mark.asyncio
async def test_a_night_ends_with_an_end_and_leaves_no_process(serve: Any) -> None:
    async with serve() as rig:
        rig.record_night(3, night())
        path = "nights/night-000003/replay?speed=3600&from=118"
        async with rig.stream(rig.client(), path) as stream:
            ends = asyncio.create_task(stream.next("end"))
            while not ends.done():
                await rig.time.advance(0.5)
                await asyncio.wait({ends}, timeout=0.05)
            assert ends.result()[1]["text"] == "That was the night."
            with pytest.raises(EOFError):
                await stream.next("no such event")
        assert rig.server._replays._going == {}


@pytest.mark.asyncio
async def test_a_client_has_one_replay_at_a_time_and_all_together_two(serve: Any) -> None:
    async with serve() as rig:
        rig.record_night(3, night())
        path = "nights/night-000003/replay?speed=1"
        phone, tablet, laptop = [await rig.paired(name) for name in ("one", "two", "three")]
        async with rig.stream(phone, path) as first, rig.stream(tablet, path):
            status, problem = await laptop.get(path)
            assert (status, problem["code"]) == (429, "busy")
            # Asked for again, from another time on, the one before ends.
            async with rig.stream(phone, f"{path}&from=20") as second:
                with pytest.raises(EOFError):
                    await first.next("no such event")
                _, now = await second.next("now")
                assert now["run_s"] == 20.0
            assert len(rig.server._replays._going) <= 2
        await rig.server.close()
        assert rig.server._replays._going == {}


@pytest.mark.parametrize("query", ["speed=0", "speed=1e9", "from=-1", "from=x", "speed=nan"])
@pytest.mark.asyncio
async def test_a_pace_that_cannot_be_is_refused(serve: Any, query: str) -> None:
    async with serve() as rig:
        rig.record_night(3, night(seconds=5))
        status, problem = await rig.client().get(f"nights/night-000003/replay?{query}")
        assert (status, problem["code"]) == (400, "bad_request")


@pytest.mark.asyncio
async def test_a_night_that_is_damaged_ends_with_the_reason(serve: Any) -> None:
    async with serve() as rig:
        rig.record_night(3, night(seconds=5))
        with (rig.nights / "night-000003.log").open("a") as file:
            file.write("this is not an input\n")
        async with rig.stream(rig.client(), "nights/night-000003/replay?speed=3600") as stream:
            ends = asyncio.create_task(stream.next("end"))
            while not ends.done():
                await rig.time.advance(0.5)
                await asyncio.wait({ends}, timeout=0.05)
            assert "night-000003.log, line 13" in ends.result()[1]["text"]
