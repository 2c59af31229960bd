"""Every setting on every night: decode what is not in the cache, then decide it all again."""

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import CancelledError, Executor, Future, as_completed
from concurrent.futures.process import BrokenProcessPool
from pathlib import Path
from typing import Final

from attrs import define, field, frozen

from driftlead.errors import DriftleadError, UserInputError
from driftlead.replay.settings import ReplaySettings
from driftlead.tune.cache import TraceCache
from driftlead.tune.marks import Mark
from driftlead.tune.nights import Night
from driftlead.tune.trace import Alarm, NightTrace, decide, decode, model_of
from driftlead.tune.variations import Variation
from driftlead.watch.settings import DetectorSettings

CHUNK: Final = 25
"""Settings tried in one task: few enough that the cores end together."""

Progress = Callable[[str, int, int], None]
"""Hears what is being done, how many pieces of it are done, and how many there are."""


@define
class Swept:
    """The first alarm of every setting (in order) on every night that could be used, by name.

    ``traces`` are of the first setting. ``left_out`` says by name why a night could not be used.
    """

    alarms: dict[str, list[Alarm | None]] = field(factory=dict)
    traces: dict[str, NightTrace] = field(factory=dict)
    left_out: dict[str, str] = field(factory=dict)
    decoded: int = 0


@frozen
class _Wanted:
    """One night under one model, to be decoded unless it is in the cache."""

    night: Night
    settings: ReplaySettings
    model: DetectorSettings


def sweep(
    nights: Sequence[Night],
    marks: Mapping[str, Mark],
    variations: Sequence[Variation],
    *,
    cache: TraceCache,
    executor: Executor,
    progress: Progress = lambda _what, _done, _of: None,
) -> Swept:
    """Try every setting on every night.

    A night that cannot be decoded is left out, and why is said. Raises UserInputError if the
    cache cannot be written, or the workers are gone.
    """
    swept = Swept()
    models = list(dict.fromkeys(model_of(each.settings) for each in variations))
    wanted = [
        _Wanted(night, _replay_settings(marks.get(night.name)), model)
        for night in nights
        for model in models
    ]
    try:
        traces = _decoded(wanted, swept, cache, executor, progress)
        _decide_all(nights, variations, traces, swept, executor, progress)
    except (BrokenProcessPool, CancelledError) as error:
        raise UserInputError(
            "A worker has died in the middle of its work.",
            remedy="There may be too little memory; try it with --workers 1.",
        ) from error
    return swept


def _replay_settings(mark: Mark | None) -> ReplaySettings:
    return ReplaySettings() if mark is None else mark.replay_settings()


def _decoded(
    wanted: Sequence[_Wanted],
    swept: Swept,
    cache: TraceCache,
    executor: Executor,
    progress: Progress,
) -> dict[tuple[str, DetectorSettings], NightTrace]:
    traces: dict[tuple[str, DetectorSettings], NightTrace] = {}
    waiting: dict[Future[NightTrace | str], tuple[_Wanted, str]] = {}
    for each in wanted:
        try:
            key = cache.key(each.night.paths, each.settings, each.model)
        except UserInputError as error:
            swept.left_out[each.night.name] = str(error)
            continue
        trace = cache.load(key)
        if trace is not None:
            traces[each.night.name, each.model] = trace
        else:
            task = executor.submit(_decode_task, each.night.paths, each.settings, each.model)
            waiting[task] = (each, key)
    for count, task in enumerate(as_completed(waiting), start=1):
        each, key = waiting[task]
        told = task.result()
        if isinstance(told, str):
            swept.left_out[each.night.name] = told
        else:
            cache.save(key, told)
            swept.decoded += 1
            traces[each.night.name, each.model] = told
        progress("Decoding", count, len(waiting))
    for (name, _model), trace in traces.items():
        if not len(trace.rows):
            swept.left_out.setdefault(name, _nothing_watched(trace))
    return traces


def _nothing_watched(trace: NightTrace) -> str:
    return " ".join(("No anchor was let go in it with its rode known.", *trace.notes))


def _decode_task(
    paths: Sequence[Path], settings: ReplaySettings, model: DetectorSettings
) -> NightTrace | str:
    """Decode in a worker. A fault comes back as text: one bad log must not end the sweep."""
    try:
        return decode(paths, settings, model)
    except DriftleadError as error:
        return str(error)


def _decide_all(
    nights: Sequence[Night],
    variations: Sequence[Variation],
    traces: Mapping[tuple[str, DetectorSettings], NightTrace],
    swept: Swept,
    executor: Executor,
    progress: Progress,
) -> None:
    by_model: dict[DetectorSettings, list[int]] = {}
    for index, variation in enumerate(variations):
        by_model.setdefault(model_of(variation.settings), []).append(index)
    waiting: dict[Future[list[Alarm | None]], tuple[str, list[int]]] = {}
    for night in nights:
        if night.name in swept.left_out:
            continue
        swept.alarms[night.name] = [None] * len(variations)
        swept.traces[night.name] = traces[night.name, model_of(variations[0].settings)]
        for model, indices in by_model.items():
            for begin in range(0, len(indices), CHUNK):
                chunk = indices[begin : begin + CHUNK]
                settings = [variations[index].settings for index in chunk]
                task = executor.submit(decide, traces[night.name, model], settings)
                waiting[task] = (night.name, chunk)
    for count, done in enumerate(as_completed(waiting), start=1):
        name, chunk = waiting[done]
        for index, alarm in zip(chunk, done.result(), strict=True):
            swept.alarms[name][index] = alarm
        progress("Deciding", count, len(waiting))
