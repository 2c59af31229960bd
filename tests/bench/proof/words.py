"""Figures and tables as Markdown."""

import math
from collections.abc import Iterable, Sequence

from tests.bench.proof.intervals import Quantile

from driftlead.tune.curve import Share


def metres(value: float) -> str:
    """Whole metres (or minutes); a miss has none."""
    if math.isnan(value):
        return "-"
    return f"{value:.0f}" if math.isfinite(value) else "missed"


def with_interval(quantile: Quantile) -> str:
    """Metres and the interval's ends."""
    if not math.isfinite(quantile.value):
        return metres(quantile.value)
    return f"{quantile.value:.1f} ({metres(quantile.low)} to {metres(quantile.high)})"


def whole_with_interval(quantile: Quantile) -> str:
    """The same in whole metres, for where there is little room."""
    return f"{metres(quantile.value)} ({metres(quantile.low)} to {metres(quantile.high)})"


def share(value: Share) -> str:
    """So many of so many, and the interval in percent."""
    if not value.of:
        return "-"
    return f"{value.count} of {value.of} ({100 * value.low:.1f} to {100 * value.high:.1f} %)"


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table in Markdown."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


def put_in(text: str, tables: dict[str, str]) -> str:
    """Put each table between ``<!-- table:NAME -->`` and ``<!-- end -->``."""
    for name, body in tables.items():
        begin = f"<!-- table:{name} -->"
        before, found, rest = text.partition(begin)
        _, ended, after = rest.partition("<!-- end -->")
        if not found or not ended:
            raise ValueError(f"the page has no place for the table {name!r}")
        text = f"{before}{begin}\n{body}\n<!-- end -->{after}"
    return text
