"""What is kept of one night, so that tables and limits need no second run."""

import gzip
import json
from pathlib import Path

import cattrs
from attrs import frozen
from tests.bench.proof.climb import Climb

from driftlead.watch.evidence import Evidence, Knowledge


@frozen
class Alarm:
    """When, why, and how far the anchor had come."""

    t_s: float
    dragged_m: float
    reason: str


@frozen
class Step:
    """One step of the evidence that can matter to a decision; ``number`` counts all of them."""

    number: int
    t_s: float
    knowledge: Knowledge
    log_odds: float
    moved_m: float
    beyond_m: float
    borne_out: bool
    dragged_m: float

    def evidence(self) -> Evidence:
        """It as the decision takes it."""
        return Evidence(
            time_s=self.t_s,
            knowledge=self.knowledge,
            log_odds=self.log_odds,
            moved_m=self.moved_m,
            moved_sigma_m=0.0,
            bearing_deg=0.0,
            rate_mps=0.0,
            distance_m=0.0,
            beyond_m=self.beyond_m,
            borne_out=self.borne_out,
        )


@frozen
class CaseRecord:
    """One case of a night. ``set_s`` is None where the mark was refused for want of a fix.

    ``climb`` is that of the log-odds, counted as the decision counts them: for its dwell on end.
    ``same`` says whether the watch as it is aboard raised the alarm that was decided on the steps
    kept here; None: it was not asked.
    """

    set_s: float | None
    climb: Climb
    steps: tuple[Step, ...]
    same: bool | None


@frozen
class NightRecord:
    """One night. ``farthest_m`` is how far, straight, the anchor came in it at most."""

    seed: int
    mode: str | None
    lasts_s: float
    late_s: float
    veered_s: float
    drag_begins_s: float | None
    farthest_m: float
    cases: dict[str, CaseRecord]
    rivals: dict[str, Climb]

    @property
    def drags(self) -> bool:
        """Whether the anchor comes home in it."""
        return self.drag_begins_s is not None


_CONVERTER = cattrs.Converter(unstruct_strat=cattrs.UnstructureStrategy.AS_TUPLE)


def save(path: Path, night: NightRecord) -> None:
    """Write a night whole or not at all."""
    path.parent.mkdir(parents=True, exist_ok=True)
    text = json.dumps(_CONVERTER.unstructure(night))
    part = path.with_suffix(".part")
    with gzip.open(part, "wt", encoding="ascii", compresslevel=6) as file:
        file.write(text)
    part.replace(path)


def load(path: Path) -> NightRecord:
    """Read a night back."""
    with gzip.open(path, "rt", encoding="ascii") as file:
        return _CONVERTER.structure(json.load(file), NightRecord)
