"""Every setting on every night."""

import datetime as dt
import gzip
import json
import shutil
from collections.abc import Iterator
from concurrent.futures import Executor, Future
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Any

import pytest
from attrs import evolve

from driftlead.errors import UserInputError
from driftlead.tune.cache import TraceCache
from driftlead.tune.marks import Mark
from driftlead.tune.nights import list_nights
from driftlead.tune.sweep import CHUNK, Swept, sweep
from driftlead.tune.trace import NightTrace, decide
from driftlead.tune.variations import Variation, built_in, named
from driftlead.tune.workers import all_cores, cluster
from driftlead.watch.settings import DetectorSettings

PLAIN = DetectorSettings()
SETTINGS = built_in()[:40]


def settings_of(*settings: DetectorSettings) -> list[Variation]:
    """These settings, named."""
    return [Variation(named(each), each) for each in settings]


def swept_by(executor: Executor, folder: Path, cache: Path, **more: Any) -> Swept:
    """The sweep of a folder."""
    return sweep(
        list_nights(folder),
        more.pop("marks", {}),
        more.pop("variations", SETTINGS),
        cache=TraceCache(cache),
        executor=executor,
        **more,
    )


@pytest.fixture
def cached(tmp_path: Path, one_night: Path, here: Executor) -> Path:
    """A cache that holds the nights already."""
    swept_by(here, one_night, tmp_path / "cache")
    return tmp_path / "cache"


def test_every_setting_is_tried_in_its_place(
    tmp_path: Path, one_night: Path, here: Executor, breakout: NightTrace
) -> None:
    swept = swept_by(here, one_night, tmp_path)
    assert len(SETTINGS) > CHUNK
    assert swept.alarms == {"breakout.log": decide(breakout, [each.settings for each in SETTINGS])}
    assert swept.left_out == {}


def test_a_night_is_decoded_once(tmp_path: Path, one_night: Path, here: Any) -> None:
    first = swept_by(here, one_night, tmp_path)
    again = swept_by(here, one_night, tmp_path)
    assert (first.decoded, again.decoded) == (1, 0)
    assert here.done.count("_decode_task") == 1
    assert again.alarms == first.alarms


def test_a_damaged_cache_is_made_again(one_night: Path, here: Executor, cached: Path) -> None:
    (entry,) = cached.iterdir()
    whole = entry.read_bytes()
    entry.write_bytes(whole[: len(whole) // 2])
    assert swept_by(here, one_night, cached).decoded == 1
    assert swept_by(here, one_night, cached).decoded == 0


def test_settings_of_the_model_are_decoded_for_themselves(
    one_night: Path, here: Executor, cached: Path
) -> None:
    """One pass more for each of them, however many decisions there are."""
    other = evolve(PLAIN, fix_sigma_m=15.0)
    variations = settings_of(
        PLAIN, evolve(PLAIN, floor_m=50.0), other, evolve(other, floor_m=50.0), other
    )
    swept = swept_by(here, one_night, cached, variations=variations)
    assert swept.decoded == 1
    alarms = swept.alarms["breakout.log"]
    assert alarms[2] == alarms[4] != alarms[0]


def test_a_night_that_cannot_be_used_is_left_out_with_the_reason(
    tmp_path: Path, one_night: Path, here: Executor
) -> None:
    (one_night / "bare.nmea").write_text("$GPRMC,,V,,,,,,,,,,N*53\r\n")
    (one_night / "letter.txt").write_text("Dear harbour master,\n")
    whole = gzip.decompress((one_night / "breakout.log.gz").read_bytes()).splitlines(True)
    no_watch = b"".join(line for line in whole[:2000] if b" !command " not in line)
    (one_night / "nobody.log").write_bytes(no_watch)
    swept = swept_by(here, one_night, tmp_path)
    assert list(swept.alarms) == ["breakout.log"]
    assert swept.left_out.keys() == {"bare.nmea", "letter.txt", "nobody.log"}
    assert "does not say where" in swept.left_out["bare.nmea"]
    assert "No anchor was let go" in swept.left_out["nobody.log"]


def test_a_bare_night_is_replayed_as_it_was_marked(
    tmp_path: Path, one_night: Path, here: Executor
) -> None:
    """A rode that cannot be is refused as aboard, and that is told."""
    (one_night / "breakout.log.gz").unlink()
    text = gzip.decompress(
        (Path(__file__).parents[2] / "replay_logs" / "quiet-night.nmea.gz").read_bytes()
    ).splitlines(True)
    (one_night / "bare.nmea").write_bytes(b"".join(text[: len(text) // 40]))
    mark = Mark(outcome="held", rode_m=5.0, depth_m=6.6, drop_at=dt.time(20, 34))
    swept = swept_by(here, one_night, tmp_path, marks={"bare.nmea": mark})
    assert "does not reach the bottom" in swept.left_out["bare.nmea"]


def test_progress_is_told_of_both_passes(tmp_path: Path, one_night: Path, here: Executor) -> None:
    told: list[tuple[str, int, int]] = []
    swept_by(here, one_night, tmp_path, progress=lambda *what: told.append(what))
    assert told == [("Decoding", 1, 1), ("Deciding", 1, 2), ("Deciding", 2, 2)]


def test_all_cores_give_what_one_gives(one_night: Path, here: Executor, cached: Path) -> None:
    alone = swept_by(here, one_night, cached)
    with all_cores(2) as executor:
        together = swept_by(executor, one_night, cached)
    assert together.alarms == alone.alarms


@pytest.fixture
def dask_address(monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A scheduler and a worker in this process, on loopback."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=2,
        processes=False,
        protocol="tcp",
        host="127.0.0.1",
        dashboard_address=None,
    ) as local:
        yield local.scheduler_address


@pytest.mark.filterwarnings("ignore")  # of the library's own doing
def test_a_cluster_gives_what_one_core_gives(
    tmp_path: Path, one_night: Path, here: Executor, cached: Path, dask_address: str
) -> None:
    """Decoding too: the cache is another one."""
    alone = swept_by(here, one_night, cached)
    with cluster(dask_address) as executor:
        together = swept_by(executor, one_night, tmp_path / "empty")
    assert together.alarms == alone.alarms
    assert together.decoded == 1


def test_a_cluster_that_does_not_answer_is_a_clear_error(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    distributed = pytest.importorskip("distributed")

    def nobody(address: str, **_: Any) -> None:
        raise TimeoutError("timed out")

    monkeypatch.setattr(distributed, "Client", nobody)
    with (
        pytest.raises(
            UserInputError, match=r"No cluster answers at tcp://127\.0\.0\.1:1:"
        ) as caught,
        cluster("tcp://127.0.0.1:1"),
    ):
        pass
    assert caught.value.remedy


def test_a_cluster_without_the_library_is_a_clear_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    with pytest.raises(UserInputError, match="not installed") as caught, cluster("tcp://x:1"):
        pass
    assert "driftlead[cluster]" in caught.value.remedy


class Dying(Executor):
    """Its workers die at once."""

    def submit(self, fn: Any, /, *_args: Any, **_kwargs: Any) -> Future[Any]:
        future: Future[Any] = Future()
        future.set_exception(BrokenProcessPool(f"killed in {fn.__name__}"))
        return future


def test_a_worker_that_dies_is_a_clear_error(tmp_path: Path, one_night: Path) -> None:
    with pytest.raises(UserInputError, match="A worker has died"):
        swept_by(Dying(), one_night, tmp_path)


def test_a_night_of_several_parts_is_the_night(
    tmp_path: Path, one_night: Path, here: Executor
) -> None:
    """As the daemon records it: hourly parts of one run, each with its head."""
    lines = gzip.decompress((one_night / "breakout.log.gz").read_bytes()).splitlines(True)
    folder = tmp_path / "parts"
    folder.mkdir()
    head = next(line for line in lines if b" !part " in line)
    at_s, kind, body = head.split(b" ", 2)
    cut = len(lines) // 2
    data = {**json.loads(body), "run": 1}
    first = b"".join(lines[:cut]).replace(head, b" ".join((at_s, kind, _json({**data, "part": 1}))))
    data = {**data, "part": 2, "snapshot": {"state": "riding"}}
    second_head = b" ".join((lines[cut].split(b" ", 1)[0], kind, _json(data)))
    (folder / "night-000001.log").write_bytes(first)
    (folder / "night-000002.log").write_bytes(lines[0] + second_head + b"".join(lines[cut:]))
    shutil.copy(one_night / "truth.json", folder)
    whole = swept_by(here, one_night, tmp_path / "cache")
    parts = swept_by(here, folder, tmp_path / "cache")
    assert parts.alarms["night-000001"] == whole.alarms["breakout.log"]


def _json(data: Any) -> bytes:
    return json.dumps(data).encode() + b"\n"
