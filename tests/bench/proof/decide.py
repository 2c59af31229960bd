"""The detector's own decision, taken on recorded evidence."""

from tests.bench.proof.record import Alarm, CaseRecord

from driftlead.watch.decision import Decision
from driftlead.watch.judgement import Verdict
from driftlead.watch.settings import DetectorSettings


def decide(record: CaseRecord, settings: DetectorSettings) -> Alarm | None:
    """The first alarm of a night under these settings."""
    decision = Decision(settings)
    number = 0
    for step in record.steps:
        if step.number != number + 1:
            # The steps left out said that she holds.
            decision.begin()
        number = step.number
        verdict, reason = decision.take(step.evidence())
        if verdict is Verdict.DRAGGING:
            return Alarm(t_s=step.t_s, dragged_m=step.dragged_m, reason=reason.value)
    return None
