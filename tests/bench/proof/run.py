"""Run the nights of a set, as many processes as wanted; nights that are there are not run again.

python tests/bench/proof/run.py --set test --jobs 2
"""

import argparse
import functools
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from tests.bench.proof.cache import default_folder, night_path, version
from tests.bench.proof.night import judge_rivals_anew, prove_night
from tests.bench.proof.record import load, save
from tests.bench.proof.sets import SETS


def add_choice(parser: argparse.ArgumentParser) -> None:
    """Add the options that say which nights, and where they are kept."""
    parser.add_argument("--set", choices=tuple(SETS), default="test", help="which seeds")
    parser.add_argument("--hold", type=int, help="so many nights in which it holds (all)")
    parser.add_argument("--drag", type=int, help="so many nights in which it drags (all)")
    parser.add_argument("--hours", type=float, default=8.0, help="length of a night")
    parser.add_argument(
        "--real", action="store_true", help="under the errors of real receivers at rest"
    )
    parser.add_argument("--cache", type=Path, default=default_folder(), help="where results lie")
    parser.add_argument(
        "--version",
        default=version(),
        help="which version's results, if not those of the program as it now is",
    )


def chosen(
    name: str, *, hold: int | None = None, drag: int | None = None
) -> Iterator[tuple[int, bool]]:
    """(seed, drags) of each night of a set; drags and holds in turn, so that a part is a sample."""
    holds, drags = SETS[name][0][:hold], SETS[name][1][:drag]
    for index in range(max(len(holds), len(drags))):
        if index < len(holds):
            yield holds[index], False
        if index < len(drags):
            yield drags[index], True


def _one(seed: int, path: Path, before: Path | None, *, drags: bool, **kind: Any) -> None:
    if before is not None and before.exists():
        save(path, judge_rivals_anew(load(before), **kind))
    else:
        save(path, prove_night(seed, drags=drags, **kind))


def main() -> int:
    """Run what is not there yet."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    add_choice(parser)
    parser.add_argument(
        "--watch-of",
        metavar="VERSION",
        help="take the watch's part from these results, and work out the rivals' anew",
    )
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1, help="processes")
    options = parser.parse_args()
    kind: dict[str, Any] = {"hours": options.hours, "real": options.real}
    path_of = functools.partial(night_path, options.cache, hours=options.hours, real=options.real)
    nights = [
        (seed, drags, path_of(options.version, seed, drags=drags))
        for seed, drags in chosen(options.set, hold=options.hold, drag=options.drag)
    ]
    to_do = [night for night in nights if not night[2].exists()]
    print(f"{len(nights)} nights, {len(to_do)} to run, into {options.cache}", file=sys.stderr)
    began_s = time.monotonic()
    with ProcessPoolExecutor(max_workers=options.jobs) as pool:
        runs = [
            pool.submit(
                _one,
                seed,
                path,
                path_of(options.watch_of, seed, drags=drags) if options.watch_of else None,
                drags=drags,
                **kind,
            )
            for seed, drags, path in to_do
        ]
        try:
            for count, run in enumerate(as_completed(runs), start=1):
                run.result()
                spent_s = time.monotonic() - began_s
                left_s = spent_s / count * (len(runs) - count)
                print(
                    f"\r{count}/{len(runs)}, {spent_s / 60:.0f} min, "
                    f"about {left_s / 60:.0f} min more ",
                    end="",
                    file=sys.stderr,
                    flush=True,
                )
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    print(file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
