"""Traces kept on disk."""

from collections.abc import Callable
from pathlib import Path

import pytest
from attrs import evolve
from hypothesis import given, settings
from hypothesis import strategies as st

from driftlead.errors import UserInputError
from driftlead.replay.settings import ReplaySettings, parse_moment
from driftlead.tune import cache as cache_module
from driftlead.tune.cache import TraceCache, code_version, default_cache_folder
from driftlead.tune.trace import NightTrace
from driftlead.watch.settings import DetectorSettings

MakeTrace = Callable[..., NightTrace]
PLAIN = DetectorSettings()
KEY = "0123456789abcdef"


def same(one: NightTrace | None, other: NightTrace) -> bool:
    """Whether two traces are equal to the last bit."""
    return (
        one is not None
        and one.rows.tobytes() == other.rows.tobytes()
        and one.rows.dtype == other.rows.dtype
        and repr(one.anchorings) == repr(other.anchorings)
        and one.notes == other.notes
    )


def test_a_trace_comes_back_as_it_was(tmp_path: Path, breakout: NightTrace) -> None:
    cache = TraceCache(tmp_path / "new" / "cache")
    assert cache.load(KEY) is None
    cache.save(KEY, breakout)
    assert same(cache.load(KEY), breakout)


def test_what_is_not_known_comes_back_as_not_known(tmp_path: Path, make_trace: MakeTrace) -> None:
    """Neither the UTC nor the reach of a boat whose rode was never told."""
    trace = make_trace([0.0, 1.0], utc=False)
    anchoring = evolve(trace.anchorings[0], reach_m=float("nan"))
    trace = evolve(trace, anchorings=(anchoring,), notes=("é",))
    cache = TraceCache(tmp_path)
    cache.save(KEY, trace)
    assert same(cache.load(KEY), trace)


@given(st.data())
@settings(max_examples=150)
def test_a_damaged_entry_counts_as_missing(
    tmp_path_factory: pytest.TempPathFactory, make_trace: MakeTrace, data: st.DataObject
) -> None:
    """Cut off anywhere, or with any bytes overwritten: missing, or still right."""
    cache = TraceCache(tmp_path_factory.mktemp("cache"))
    trace = make_trace([float(i) for i in range(40)])
    cache.save(KEY, trace)
    (path,) = cache.folder.iterdir()
    content = bytearray(path.read_bytes())
    at = data.draw(st.integers(0, len(content) - 1))
    if data.draw(st.booleans()):
        content[at : at + 4] = data.draw(st.binary(min_size=1, max_size=4))
    else:
        del content[at:]
    path.write_bytes(content)
    loaded = cache.load(KEY)
    assert loaded is None or same(loaded, trace)


def test_an_entry_under_anothers_name_counts_as_missing(
    tmp_path: Path, make_trace: MakeTrace
) -> None:
    cache = TraceCache(tmp_path)
    cache.save(KEY, make_trace([0.0]))
    (tmp_path / f"{KEY}.trace").rename(tmp_path / "other.trace")
    assert cache.load("other") is None


def test_nothing_half_written_is_left(tmp_path: Path, make_trace: MakeTrace) -> None:
    cache = TraceCache(tmp_path)
    cache.save(KEY, make_trace([0.0]))
    cache.save(KEY, make_trace([1.0]))
    assert [path.name for path in tmp_path.iterdir()] == [f"{KEY}.trace"]


def test_the_key_is_of_everything_the_evidence_depends_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    log, same_log, other = tmp_path / "a.log", tmp_path / "b.log", tmp_path / "c.log"
    log.write_bytes(b"one")
    same_log.write_bytes(b"one")
    other.write_bytes(b"two")
    cache, plain = TraceCache(tmp_path), ReplaySettings()
    key = cache.key([log], plain, PLAIN)
    assert cache.key([same_log], plain, PLAIN) == key
    assert cache.key([log], plain, evolve(PLAIN, floor_m=99.0, dwell_s=1.0)) == key
    keys = {
        key,
        cache.key([other], plain, PLAIN),
        cache.key([log, other], plain, PLAIN),
        cache.key([log], evolve(plain, rode_m=30.0), PLAIN),
        cache.key([log], evolve(plain, drop_at=parse_moment("22:04")), PLAIN),
        cache.key([log], plain, evolve(PLAIN, fix_sigma_m=4.0)),
    }
    monkeypatch.setattr(cache_module, "code_version", lambda: "another program")
    keys.add(cache.key([log], plain, PLAIN))
    assert len(keys) == 7


def test_the_program_text_has_one_version() -> None:
    assert code_version() == code_version()
    assert len(code_version()) == 64


def test_a_log_that_is_gone_is_a_clear_error(tmp_path: Path) -> None:
    with pytest.raises(UserInputError, match=r"gone\.log cannot be read"):
        TraceCache(tmp_path).key([tmp_path / "gone.log"], ReplaySettings(), PLAIN)


def test_a_folder_that_cannot_be_made_is_a_clear_error(
    tmp_path: Path, make_trace: MakeTrace
) -> None:
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(UserInputError, match="cannot be made") as caught:
        TraceCache(tmp_path / "file" / "cache").save(KEY, make_trace([0.0]))
    assert "--cache" in caught.value.remedy


def test_traces_are_kept_in_the_users_cache_folder() -> None:
    assert default_cache_folder({"XDG_CACHE_HOME": "/x"}) == Path("/x/driftlead/tune")
    assert default_cache_folder({}) == Path.home() / ".cache" / "driftlead" / "tune"
