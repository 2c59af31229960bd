"""Make the tables and the picture of docs/proof.md from the nights that have been run.

python tests/bench/proof/report.py --set test
"""

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from tests.bench.proof.cache import ROOT
from tests.bench.proof.limits import tuned_rivals
from tests.bench.proof.picture import Curve, Mark, draw
from tests.bench.proof.results import read_set
from tests.bench.proof.run import add_choice
from tests.bench.proof.sets import TUNED_ON
from tests.bench.proof.summary import Summary, summarise
from tests.bench.proof.tables import PLAIN, Proof
from tests.bench.proof.words import put_in

from driftlead.errors import UserInputError


def main() -> int:
    """Write the page and the picture."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    add_choice(parser)
    parser.add_argument("--page", type=Path, default=ROOT / "docs" / "proof.md")
    parser.add_argument("--picture", type=Path, default=ROOT / "docs" / "proof-curve.svg")
    options = parser.parse_args()
    try:
        nights = read_set(options, options.set, whole=False)
        tuning = read_set(options, TUNED_ON[options.set], whole=True)
    except UserInputError as error:
        print(f"{error.message} {error.remedy}", file=sys.stderr)
        return 1
    proof = Proof(nights=nights, rivals=tuned_rivals(tuning))
    tables = {
        "about": proof.about(),
        "cases": proof.cases(),
        "modes": proof.modes(),
        "beside": proof.beside(),
        "accepted": proof.accepted(),
        "curve": proof.curve(),
    }
    try:
        real = read_set(options, options.set, whole=True, real=True)
        tables["real"] = Proof(nights=real, rivals=()).cases()
    except UserInputError as error:
        print(f"{error.message} That table stays as it was.", file=sys.stderr)
    page: Path = options.page
    page.write_text(put_in(page.read_text(encoding="utf-8"), tables), encoding="utf-8")
    picture: Path = options.picture
    picture.write_text(_picture(proof), encoding="utf-8")
    print(f"{len(nights)} nights: {page}, {picture}", file=sys.stderr)
    return 0


def _picture(proof: Proof) -> str:
    curves = [
        Curve(
            title=case.title,
            points=[_point(summary) for summary in proof.curve_of(case).values()],
            at=_point(proof.summary(case)),
        )
        for case in PLAIN
    ]
    marks = [
        Mark(title=rival.short, at=_point(summarise(rival.outcomes(proof.nights))))
        for rival in proof.rivals
    ]
    return draw(curves, marks)


def _point(summary: Summary) -> tuple[float, float]:
    return summary.false_per_night, summary.median.value


if __name__ == "__main__":
    sys.exit(main())
