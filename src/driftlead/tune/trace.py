"""A night's evidence, worked out once, and what a decision makes of it.

The costly part of a replay is the evidence; deciding on it costs next to nothing. So a night goes
through the whole core once, deaf to alarms, and every step of its evidence is kept. A setting is
then tried by deciding on these steps again.
"""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
from attrs import asdict, evolve, field, fields, frozen

from driftlead.core.core import Core
from driftlead.core.reply import Event
from driftlead.core.settings import CoreSettings
from driftlead.core.state_event import StateEvent
from driftlead.errors import UserInputError
from driftlead.geodesy.anchor_estimate import AnchorEstimate, AnchorMethod
from driftlead.replay.reader import LogReader
from driftlead.replay.runner import Runner
from driftlead.replay.settings import ReplaySettings
from driftlead.replay.trace import Trace
from driftlead.watch.decision import Decision
from driftlead.watch.evidence import Evidence, Knowledge
from driftlead.watch.judgement import Verdict
from driftlead.watch.settings import DetectorSettings

DECISION_FIELDS: Final = frozenset({"false_alarm_nights", "dwell_s", "floor_m", "floor_dwell_s"})
"""The detector's settings on which the evidence does not depend."""

USABLE_HEADING_DEG: Final = 10.0
"""A head no better than this cannot carry the antenna's place to the bow."""

_KNOWLEDGE: Final = tuple(Knowledge)
_NUMBERS: Final = (
    "time_s",
    "log_odds",
    "moved_m",
    "moved_sigma_m",
    "bearing_deg",
    "rate_mps",
    "distance_m",
    "beyond_m",
)
ROW: Final = np.dtype(
    [
        *((name, "f8") for name in _NUMBERS),
        ("knowledge", "u1"),
        ("borne_out", "?"),
        ("begins", "?"),
        ("utc_s", "f8"),
        ("lat_deg", "f8"),
        ("lon_deg", "f8"),
        ("heading_deg", "f8"),
    ]
)
"""One step: the evidence, whether a watch begins with it, the receiver's UTC, the antenna's place
and the ship's head; not-a-number for what is not known."""

Rows = npt.NDArray[np.void]


@frozen(kw_only=True)
class Anchoring:
    """An anchor that was down: where it was said to lie, and how far the rode lets her go.

    ``first`` and ``last`` are the steps with this length of rode, ``last`` excluded. ``reach_m``
    is from the anchor to the bow roller, bar-taut.
    """

    first: int
    last: int
    lat_deg: float
    lon_deg: float
    sigma_m: float
    method: str
    reach_m: float
    slack_m: float
    antenna_aft_m: float


@frozen(eq=False)
class NightTrace:
    """The steps of a night in order of time, and the anchors that were down meanwhile."""

    rows: Rows
    anchorings: tuple[Anchoring, ...]
    notes: tuple[str, ...] = ()

    def evidence(self) -> list[tuple[bool, Evidence]]:
        """Every step as a decision takes it, and whether a watch begins with it."""
        columns = [self.rows[each.name].tolist() for each in fields(Evidence)]
        knowledge = [each.name for each in fields(Evidence)].index("knowledge")
        columns[knowledge] = [_KNOWLEDGE[code] for code in columns[knowledge]]
        steps = [Evidence(*values) for values in zip(*columns, strict=True)]
        return list(zip(self.rows["begins"].tolist(), steps, strict=True))


@frozen
class Alarm:
    """The first alarm of a night under one setting: at which step, when, and on what evidence."""

    step: int
    utc_s: float
    time_s: float
    moved_m: float
    reason: str


def decide(trace: NightTrace, settings: Sequence[DetectorSettings]) -> list[Alarm | None]:
    """Try settings on a night: the first alarm of each, None where it stays quiet."""
    evidence = trace.evidence()
    return [_first_alarm(trace, evidence, each) for each in settings]


def _first_alarm(
    trace: NightTrace, evidence: Sequence[tuple[bool, Evidence]], settings: DetectorSettings
) -> Alarm | None:
    decision = Decision(settings)
    begin, take, dragging = decision.begin, decision.take, Verdict.DRAGGING
    for step, (begins, each) in enumerate(evidence):
        if begins:
            begin()
        verdict, reason = take(each)
        if verdict is dragging:
            utc_s = float(trace.rows["utc_s"][step])
            return Alarm(step, utc_s, each.time_s, each.moved_m, reason.value)
    return None


def model_of(settings: DetectorSettings) -> DetectorSettings:
    """Keep only what the evidence depends on; settings alike in this share one trace."""
    return evolve(settings, **{name: getattr(_PLAIN, name) for name in DECISION_FIELDS})


def decode(
    paths: Sequence[Path], settings: ReplaySettings, detector: DetectorSettings
) -> NightTrace:
    """Run a night through the whole core and keep its evidence.

    ``detector`` takes the place of the detector's settings in a recording. Raises RecordingError
    and UserInputError, naming the file, for a log that cannot be used.
    """
    reader = LogReader.of(paths)
    _check(paths[0], settings, reader)
    deaf = evolve(detector, dwell_s=math.inf, floor_dwell_s=math.inf)
    tap = _Tap()
    runner = Runner(TunedReplay.of(settings, deaf), on_event=tap.hear, trace=tap)
    for batch in reader.batches():
        runner.take(batch)
    runner.finish()
    return tap.trace((*runner.refusals, *reader.faults))


def _check(path: Path, settings: ReplaySettings, reader: LogReader) -> None:
    if not reader.recordings and not settings.sets_the_watch:
        raise UserInputError(
            f"{path.name} is a bare log, which does not say where the anchor was let go.",
            remedy=f"Say so: driftlead tune mark {path} held --rode 38m --drop-at 22:04 (UTC).",
        )


@frozen(kw_only=True)
class TunedReplay(ReplaySettings):
    """Replay settings under which ``detector`` holds, whatever a recording says."""

    detector: DetectorSettings = field(factory=DetectorSettings)

    @classmethod
    def of(cls, settings: ReplaySettings, detector: DetectorSettings) -> "TunedReplay":
        """The same replay with these settings of the detector."""
        return cls(**asdict(settings, recurse=False), detector=detector)

    def core_settings(self, base: CoreSettings | None = None) -> CoreSettings:
        """The core's settings (see ReplaySettings), the detector's as told."""
        settings = super().core_settings(base)
        return evolve(settings, watch=evolve(settings.watch, detector=self.detector))


class _Tap(Trace):
    """Looks at the core after every line and keeps each new step of its evidence."""

    def __init__(self) -> None:
        super().__init__()
        self._rows: list[tuple[Any, ...]] = []
        self._anchorings: list[Anchoring] = []
        self._core: Core | None = None
        self._evidence: Evidence | None = None
        self._begins = True

    def hear(self, event: Event) -> None:
        """Take note of what begins or changes a watch."""
        if not isinstance(event, StateEvent):
            return
        if event.name in ("let_go", "set_late", "veer", "held_again", "weigh", "slipped"):
            self._begins = True

    def look(self, core: Core) -> None:
        """Keep the evidence if it is new."""
        evidence = core.watch.evidence
        if core is not self._core:
            self._core, self._begins = core, True
        if evidence is self._evidence:
            return
        self._evidence = evidence
        if evidence is None:
            self._begins = True
            return
        watch = core.watch
        point, position = watch.point, watch.position
        if point is None or position is None:
            return
        if self._begins:
            self._note_anchoring(core)
        elif watch.anchor is not None and self._anchorings[-1].method == AnchorMethod.INFERRED:
            # Worked out from the track, so the latest word is the best.
            self._place_anchor(watch.anchor)
        heading = watch.instruments.heading(point.mono_s)
        if heading is not None and heading[1] > USABLE_HEADING_DEG:
            heading = None
        utc_s = core.utc_s(point.mono_s)
        self._rows.append(
            (
                *(getattr(evidence, name) for name in _NUMBERS),
                _KNOWLEDGE.index(evidence.knowledge),
                evidence.borne_out,
                self._begins,
                math.nan if utc_s is None else utc_s,
                position.lat_deg,
                position.lon_deg,
                math.nan if heading is None else heading[0],
            )
        )
        self._begins = False

    def _note_anchoring(self, core: Core) -> None:
        anchored, anchor = core.watch.anchored, core.watch.anchor
        if anchored is None or anchor is None:
            return
        circle, _whole = anchored.circle(core.watch.settings)
        count = len(self._rows)
        self._close_anchoring()
        self._anchorings.append(
            Anchoring(
                first=count,
                last=count,
                lat_deg=anchored.drop.lat_deg,
                lon_deg=anchored.drop.lon_deg,
                sigma_m=anchor.sigma_m,
                method=anchor.method.value,
                reach_m=math.nan if circle is None else circle.reach_m,
                slack_m=math.nan if circle is None else circle.rode_slack_m,
                antenna_aft_m=core.watch.settings.boat.antenna_aft_m,
            )
        )

    def _place_anchor(self, anchor: AnchorEstimate) -> None:
        self._anchorings[-1] = evolve(
            self._anchorings[-1],
            lat_deg=anchor.lat_deg,
            lon_deg=anchor.lon_deg,
            sigma_m=anchor.sigma_m,
        )

    def _close_anchoring(self) -> None:
        if self._anchorings:
            self._anchorings[-1] = evolve(self._anchorings[-1], last=len(self._rows))

    def trace(self, notes: Sequence[str]) -> NightTrace:
        """What was kept of the night."""
        self._close_anchoring()
        return NightTrace(np.array(self._rows, dtype=ROW), tuple(self._anchorings), tuple(notes))


_PLAIN: Final = DetectorSettings()
