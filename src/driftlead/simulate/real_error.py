"""The error of a real receiver that lay still, laid over a simulated boat.

A model of receiver error is only as good as what its maker thought of. The positions a real
receiver gave of one place, less that place, are error and nothing else.
"""

import csv
import datetime as dt
import gzip
from bisect import bisect_right
from collections.abc import Iterable
from itertools import pairwise
from pathlib import Path
from statistics import median
from typing import Self

from attrs import evolve, field, frozen

from driftlead.errors import UserInputError
from driftlead.geodesy.plane import LocalPlane
from driftlead.geodesy.position import Position

_COLUMNS = ("gpst", "lat_deg", "lon_deg")
_LEAST_POINTS = 4


@frozen(eq=False)
class RealError:
    """A series of errors: (seconds, metres east, metres north), at least four, in order of time.

    Between them it is a cubic that runs smoothly through all (Catmull-Rom, with slopes for uneven
    steps). Second 0 of a night is ``start_s`` seconds into the series; past either end it runs
    back the way it came, so that it has no seam and keeps its statistics. ``scale`` makes a worse
    receiver of a good one.
    """

    points: tuple[tuple[float, float, float], ...] = field(repr=False)
    start_s: float = 0.0
    scale: float = 1.0
    _times_s: tuple[float, ...] = field(init=False, repr=False)
    _slopes: tuple[tuple[float, float], ...] = field(init=False, repr=False)

    @points.validator
    def _check(self, _: object, points: tuple[tuple[float, float, float], ...]) -> None:
        if len(points) < _LEAST_POINTS or any(b[0] <= a[0] for a, b in pairwise(points)):
            message = "a series of errors has four points or more, each later than the one before"
            raise ValueError(message)

    @_times_s.default
    def _default_times(self) -> tuple[float, ...]:
        return tuple(point[0] for point in self.points)

    @_slopes.default
    def _default_slopes(self) -> tuple[tuple[float, float], ...]:
        points = self.points
        slopes = []
        for index in range(len(points)):
            before, after = points[max(0, index - 1)], points[min(len(points) - 1, index + 1)]
            over_s = after[0] - before[0]
            slopes.append(((after[1] - before[1]) / over_s, (after[2] - before[2]) / over_s))
        return tuple(slopes)

    @property
    def span_s(self) -> float:
        """How long the series is."""
        return self._times_s[-1] - self._times_s[0]

    def starting_at(self, start_s: float) -> Self:
        """Give the same series begun somewhere else."""
        return evolve(self, start_s=start_s)

    def at(self, t_s: float) -> tuple[float, float]:
        """Metres east and north the receiver is off by at second ``t_s`` of a night."""
        times_s = self._times_s
        around_s = (t_s + self.start_s) % (2.0 * self.span_s)
        at_s = times_s[0] + min(around_s, 2.0 * self.span_s - around_s)
        index = min(bisect_right(times_s, at_s), len(times_s) - 1) - 1
        (t0_s, *start), (t1_s, *end) = self.points[index], self.points[index + 1]
        over_s = t1_s - t0_s
        part = (at_s - t0_s) / over_s
        # The four cubic Hermite polynomials.
        rest = 1.0 - part
        from_start, from_end = rest * rest * (1.0 + 2.0 * part), part * part * (3.0 - 2.0 * part)
        slope_start, slope_end = part * rest * rest * over_s, -part * part * rest * over_s
        east_m, north_m = (
            from_start * a + from_end * b + slope_start * slope_a + slope_end * slope_b
            for a, b, slope_a, slope_b in zip(
                start, end, self._slopes[index], self._slopes[index + 1], strict=True
            )
        )
        return self.scale * east_m, self.scale * north_m


def error_from_rows(rows: Iterable[str], *, name: str) -> RealError:
    """Take a series of positions of one place for errors about their median.

    ``rows`` are CSV with a head; the columns ``gpst`` (ISO 8601), ``lat_deg`` and ``lon_deg``
    are read. ``name`` is of what is read. Raises UserInputError for what cannot be read.
    """
    reader = csv.DictReader(rows)
    missing = [column for column in _COLUMNS if column not in (reader.fieldnames or ())]
    if missing:
        raise UserInputError(
            f"{name} has no column {missing[0]!r}.",
            remedy=f"Give CSV with the columns {', '.join(_COLUMNS)}.",
        )
    places: list[tuple[float, float, float]] = []
    first: tuple[dt.datetime, LocalPlane] | None = None
    for row in reader:
        try:
            moment = dt.datetime.fromisoformat(row["gpst"]).replace(tzinfo=dt.UTC)
            place = Position(float(row["lat_deg"]), float(row["lon_deg"]))
        except (ValueError, TypeError, UserInputError) as error:
            raise UserInputError(
                f"{name}, line {reader.line_num}: not a time and a position ({error}).",
                remedy="Correct the line or take it out.",
            ) from error
        if first is None:
            first = moment, LocalPlane(place)
        start, plane = first
        places.append(((moment - start).total_seconds(), *plane.to_plane(*_degrees(place))))
    if len(places) < _LEAST_POINTS:
        raise UserInputError(
            f"{name} has only {len(places)} positions.",
            remedy="Give a longer series; a day at 30 s is a good one.",
        )
    east_m, north_m = median(p[1] for p in places), median(p[2] for p in places)
    try:
        return RealError(tuple((t_s, e - east_m, n - north_m) for t_s, e, n in places))
    except ValueError as error:
        raise UserInputError(
            f"{name} is not in order of time.", remedy="Sort it, and take out what is there twice."
        ) from error


def read_real_error(path: Path) -> RealError:
    """Read such a series from a file, plain or ``.gz``."""
    opened = gzip.open if path.suffix == ".gz" else open
    try:
        with opened(path, "rt", encoding="ascii", newline="") as file:
            return error_from_rows(file, name=path.name)
    except (OSError, EOFError, UnicodeDecodeError) as error:
        raise UserInputError(
            f"{path} cannot be read: {error}.", remedy="Give a CSV file, plain or gzipped."
        ) from error


def _degrees(place: Position) -> tuple[float, float]:
    return place.lat_deg, place.lon_deg
