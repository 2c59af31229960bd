"""A bank of hypotheses about the anchor: where it is, how far the rode lets her go, has it moved.

Each hypothesis is a Gaussian over eight quantities: the anchor's place (2), the receiver's slow
error (2) and its quicker one (2), the reach, and how far the anchor has come home. Every place the
bank starts from is kept in five modes side by side: the anchor has never moved; it is moving, at
one of three speeds; it has moved and holds again. Mass flows from "never" to "moving" at a small
rate, as in Shiryaev's quickest detection (1963), and the modes mix as in the interacting multiple
model filter (Blom & Bar-Shalom 1988, IEEE TAC 33:780).

What a step says is an inequality more than a measurement: she is never farther off than the reach
(counted in full), lies near it in wind (counted in part, for one lie is much like the next), and
anywhere inside it otherwise. Its product with a Gaussian is a truncated Gaussian, whose moments
are known in closed form; each hypothesis is then replaced by the Gaussian of equal moments
(assumed density filtering; Maybeck 1982, ch. 12).

No random numbers and no chaotic step: differences of a last digit between machines stay there.
"""

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from driftlead.watch.normal import log_below_and_above, log_below_and_spill

Floats = NDArray[np.float64]

ANCHOR_E, ANCHOR_N, SLOW_E, SLOW_N, QUICK_E, QUICK_N, REACH, MOVED = range(8)
SIZE: Final = 8
NEVER, CREEPING, DRAGGING, BROKEN_OUT, HELD_AGAIN = range(5)
MODES: Final = 5
MOST_ROWS: Final = 72
REMEMBERED: Final = 0.999
"""Hypotheses that together have this share of the weight are worth remembering."""
TAUT_PART: Final = 0.8
"""Closer than this part of the reach the rode is slack, and does not pull the anchor along."""

# Arrays cost less than floats in the arithmetic of small arrays.
_ONE: Final = np.array(1.0)
_HALF: Final = np.array(0.5)
_METRE: Final = np.array(1.0)
_NEAR: Final = np.array(1e-6)
_TINY: Final = np.array(1e-300)
_LARGEST_PULL: Final = np.array(0.2)


@frozen(kw_only=True)
class BankFigures:
    """What the bank takes for granted; metres, seconds, metres per second.

    Receiver: standard deviation of each axis and correlation time of its slow and quicker error,
    and what remains from step to step. Drag: the three speeds with their spread, how long a spell
    of one speed lasts. ``start_rate``: of drags per second, for each speed. ``settle_m``: what the
    anchor may come in the first half hour without having dragged, ``creep_m`` and ``reach_walk_m``
    how much place and reach may change in an hour, the reach by ``reach_walk_part`` of its first
    error as well, since the rope that made it uncertain stretches as the wind gets up; it is never
    below what was told by more than ``reach_least_sigmas`` of that error. ``taut_m``: in wind she
    mostly lies within so much of full reach; ``slack_odds``: how much likelier a taut rode is,
    ``slack_lively``: times that where she is seen to sheer in wind, and ``slack_moving``: for an
    anchor on the move, since a slack rode cannot drag. ``alike_s``, ``alike_m``: she must have lain
    so long, or gone so far, for one lie to be news. ``stray_odds``: of a place that nothing
    explains. ``least_moved_m``: less is no drag. ``hopeless``: places so much less likely than the
    best are given up.
    """

    slow_m: float = 1.8
    slow_s: float = 2400.0
    quick_m: float = 1.0
    quick_s: float = 150.0
    step_m: float = 0.5
    speeds_mps: tuple[float, float, float] = (0.025, 0.09, 0.4)
    spreads_mps: tuple[float, float, float] = (0.015, 0.05, 0.25)
    spread_s: float = 60.0
    start_rate: float = 3e-7
    stop_rate: float = 1.0 / 600.0
    change_rate: float = 1.0 / 300.0
    again_rate: float = 1.0 / 1800.0
    settle_m: float = 1.2
    settle_s: float = 900.0
    creep_m: float = 0.5
    reach_walk_m: float = 0.2
    reach_walk_part: float = 0.5
    reach_least_sigmas: float = 2.0
    taut_m: float = 1.5
    slack_odds: float = 0.05
    slack_lively: float = 0.3
    slack_moving: float = 1e-6
    alike_s: float = 60.0
    alike_m: float = 12.0
    stray_odds: float = 2e-4
    least_moved_m: float = 4.0
    hopeless: float = 1e-4


@frozen(kw_only=True)
class Start:
    """One place to start from: the anchor with its covariance, the reach with its error."""

    east_m: float
    north_m: float
    var_ee: float
    var_nn: float
    var_en: float
    reach_m: float
    reach_sigma_m: float
    log_weight: float = 0.0


@frozen(kw_only=True)
class Lie:
    """A summary of hypotheses: anchor and its standard error per axis, reach, way come home."""

    east_m: float
    north_m: float
    sigma_m: float
    reach_m: float
    reach_sigma_m: float
    moved_m: float
    moved_sigma_m: float


@frozen(eq=False)
class _Pace:
    """A step of one length: what is kept of each quantity, noise, way of each mode, their change.

    The noise of the place is filled in with each step, for it depends on the watch's age as well.
    """

    keep: Floats
    keep_keep: Floats
    noise: Floats
    creep: float
    way: Floats
    way_sigma: Floats
    way_column: Floats
    way_sigma_column: Floats
    change: Floats


def _pace(f: BankFigures, reach_walk_m: float, dt_s: float) -> _Pace:
    slow, quick = math.exp(-dt_s / f.slow_s), math.exp(-dt_s / f.quick_s)
    keep = np.array([1.0, 1.0, slow, slow, quick, quick, 1.0, 1.0])
    noise = np.zeros(SIZE)
    noise[[SLOW_E, SLOW_N]] = f.slow_m**2 * (1.0 - slow * slow)
    noise[[QUICK_E, QUICK_N]] = f.quick_m**2 * (1.0 - quick * quick)
    noise[REACH] = reach_walk_m**2 * dt_s / 3600.0
    way = np.array([0.0, *f.speeds_mps, 0.0]) * dt_s
    spreads = np.array([0.0, *f.spreads_mps, 0.0])
    way_sigma = spreads * math.sqrt(dt_s * max(dt_s, f.spread_s))
    rates = np.zeros((MODES, MODES))
    moving = [CREEPING, DRAGGING, BROKEN_OUT]
    rates[NEVER, moving] = f.start_rate
    rates[HELD_AGAIN, moving] = f.again_rate
    for mode in moving:
        rates[mode, HELD_AGAIN] = f.stop_rate
        rates[mode, [other for other in moving if other != mode]] = f.change_rate
    change = 1.0 - np.exp(-rates * dt_s)
    np.fill_diagonal(change, 0.0)
    np.fill_diagonal(change, 1.0 - change.sum(axis=1))
    return _Pace(
        keep=keep,
        keep_keep=keep[:, None] * keep,
        noise=noise,
        creep=f.creep_m**2 * dt_s / 3600.0,
        way=way,
        way_sigma=way_sigma,
        way_column=way[:, None],
        way_sigma_column=way_sigma[:, None],
        change=change,
    )


class Bank:
    """The hypotheses and their weights. ``predict`` and ``take`` alternate."""

    def __init__(self, figures: BankFigures, starts: Sequence[Start], *, by_fix: bool) -> None:
        """``by_fix``: the places come from this receiver's fix now, so its error is in them.

        A place then errs as the receiver does at that moment, and the two errors go together.
        """
        f = self.figures = figures
        count = len(starts)
        self.mean = np.zeros((count, MODES, SIZE))
        self.cov = np.zeros((count, MODES, SIZE, SIZE))
        self.log_weight = np.full((count, MODES), -np.inf)
        for i, start in enumerate(starts):
            cov = np.zeros((SIZE, SIZE))
            cov[ANCHOR_E, ANCHOR_E] = start.var_ee
            cov[ANCHOR_N, ANCHOR_N] = start.var_nn
            cov[ANCHOR_E, ANCHOR_N] = cov[ANCHOR_N, ANCHOR_E] = start.var_en
            cov[REACH, REACH] = start.reach_sigma_m**2
            for anchor, slow, quick in (
                (ANCHOR_E, SLOW_E, QUICK_E),
                (ANCHOR_N, SLOW_N, QUICK_N),
            ):
                cov[slow, slow] = f.slow_m**2
                cov[quick, quick] = f.quick_m**2
                if by_fix:
                    # The true place is the marked one less the error of the moment.
                    cov[anchor, slow] = cov[slow, anchor] = -(f.slow_m**2)
                    cov[anchor, quick] = cov[quick, anchor] = -(f.quick_m**2)
                    cov[anchor, anchor] += f.slow_m**2 + f.quick_m**2
            cov[MOVED, MOVED] = 1e-6
            self.mean[i, :, ANCHOR_E] = start.east_m
            self.mean[i, :, ANCHOR_N] = start.north_m
            self.mean[i, :, REACH] = start.reach_m
            self.cov[i] = cov
            self.log_weight[i, NEVER] = start.log_weight
        # A slack rode cannot drag.
        held, moving = math.log(f.slack_odds), math.log(f.slack_odds * f.slack_moving)
        self._log_slack = np.array([held, moving, moving, moving, held])
        self._odds_of, self._log_odds = (math.nan, math.nan), self._log_slack
        self._stray = np.array(f.stray_odds)
        self._normalise()
        self._age_s = 0.0
        self._told(
            min(start.reach_m for start in starts), max(start.reach_sigma_m for start in starts)
        )

    def _told(self, reach_m: float, reach_sigma_m: float) -> None:
        """Note what was told of the rode: how fast its reach may change, and what it cannot be."""
        f = self.figures
        self._reach_walk_m = math.hypot(f.reach_walk_m, f.reach_walk_part * reach_sigma_m)
        self._least_reach_m = reach_m - f.reach_least_sigmas * reach_sigma_m
        self._paces: dict[float, _Pace] = {}

    # -- time ----------------------------------------------------------------------------------

    def predict(self, dt_s: float, toward: tuple[float, float], *, unseen: bool = False) -> None:
        """Let ``dt_s`` pass, the boat at the plane point ``toward``.

        ``unseen``: she was not seen for long and may have gone anywhere meanwhile; an anchor that
        moves does so no farther than to where she lies now, near full reach from it.
        """
        pace = self._pace_of(dt_s)
        self._mix(pace.change)
        f = self.figures
        mean, cov = self.mean, self.cov
        mean *= pace.keep
        cov *= pace.keep_keep
        settling = f.settle_m**2 * (dt_s / f.settle_s) * math.exp(-self._age_s / f.settle_s)
        self._age_s += dt_s
        pace.noise[:2] = settling + pace.creep
        diagonal = cov.reshape(*mean.shape[:2], SIZE * SIZE)[..., :: SIZE + 1]
        diagonal += pace.noise
        # In a long calm she lies over her rode, which grows no shorter by it.
        reach = mean[..., REACH]
        np.maximum(reach, self._least_reach_m, out=reach)
        # A moving anchor comes towards the boat, and the way it has come grows with it.
        off = np.array(toward) - mean[..., :2]
        distance = np.sqrt(np.add.reduce(off * off, axis=-1))
        off /= np.maximum(_NEAR, distance)[..., None]
        along = np.zeros(mean.shape)
        along[..., :2] = off
        along[..., MOVED] = 1.0
        if unseen:
            room = np.maximum(0.0, distance - TAUT_PART * mean[..., REACH])
            step = np.maximum(1e-9, pace.way + pace.way_sigma)
            along *= np.minimum(1.0, room / step)[..., None]
        mean += along * pace.way_column
        along *= pace.way_sigma_column
        cov += along[..., :, None] * along[..., None, :]

    def _pace_of(self, dt_s: float) -> "_Pace":
        """What a step of ``dt_s`` does whatever the hypotheses are, worked out once."""
        pace = self._paces.get(dt_s)
        if pace is None:
            if len(self._paces) >= _PACES:
                self._paces.clear()
            pace = self._paces[dt_s] = _pace(self.figures, self._reach_walk_m, dt_s)
        return pace

    def _mix(self, change: Floats) -> None:
        """Let mass flow between the modes, each becoming the Gaussian of equal moments."""
        weight = np.exp(self.log_weight)
        flow = weight[:, :, None] * change  # place, from, to
        total = np.add.reduce(flow, axis=1)
        safe = np.maximum(total, _TINY)
        share = flow.swapaxes(1, 2) / safe[..., None]  # place, to, from
        mean = share @ self.mean
        spread = self.mean[:, None] - mean[:, :, None]  # place, to, from, quantity
        count = len(weight)
        cov = (share @ self.cov.reshape(count, MODES, -1)).reshape(count, MODES, SIZE, SIZE)
        cov += (spread * share[..., None]).swapaxes(2, 3) @ spread
        self.mean, self.cov = mean, cov
        self.log_weight = np.log(safe)

    # -- evidence ------------------------------------------------------------------------------

    def take(
        self,
        east_m: float,
        north_m: float,
        *,
        sigma_m: float,
        taut_m: float,
        part: float,
        lively: float = 0.0,
        limit_m: float = 0.0,
    ) -> None:
        """Take one place of the boat's bow (or antenna), good to ``sigma_m`` from step to step.

        ``taut_m``: in this wind she usually lies within so much of full reach. ``part``: how much
        of the soft side counts, ``lively``: how surely she is seen to sheer in wind; 0 to 1.
        """
        mean, cov = self.mean, self.cov
        off = np.array((east_m, north_m)) - mean[..., :2] - mean[..., 2:4] - mean[..., 4:6]
        distance = np.sqrt(np.add.reduce(off * off, axis=-1))
        # How the excess changes with each quantity: the receiver's errors shift it as the anchor
        # does, and what has been dragged not at all.
        slope = np.zeros(mean.shape)
        off /= -np.maximum(distance, _METRE)[..., None]
        slope.reshape(*distance.shape, SIZE // 2, 2)[..., : SIZE // 2 - 1, :] = off[..., None, :]
        slope[..., REACH] = -1.0
        gain = (cov @ slope[..., None])[..., 0]
        var = np.add.reduce(gain * slope, axis=-1) + sigma_m * sigma_m
        excess = distance - mean[..., REACH]
        if limit_m:
            excess -= limit_m
        sigma = np.sqrt(var)
        # Taut: density exp(-slack / taut) inside the reach. Slack: anywhere inside it.
        rate = np.array(part / taut_m)
        # Right over the anchor the linear picture of the distance fails, and a pull outward would
        # throw the place anywhere: it may not shift it by more than a part of the distance.
        means = np.empty((3, *excess.shape))
        pull = rate * var
        np.add(excess, pull, out=means[0])
        np.add(excess, np.minimum(pull, _LARGEST_PULL * distance), out=means[1])
        means[2] = excess
        limits = means / -sigma
        log_chance, spill = log_below_and_spill(limits)
        # From here on the taut and the slack case go side by side: what she is if neither counts
        # (stray) stays as it was.
        means, spill, tails = means[1:], spill[1:], -limits[1:]
        share = log_chance[::2] + self._odds(part, lively)
        share[0] += rate * (excess + _HALF * pull)
        np.exp(share, out=share)
        total = share[0] + share[1]
        total += self._stray
        share /= total
        stray = self._stray / total
        means -= sigma * spill
        tails *= spill
        tails += _ONE
        tails -= spill * spill
        new = np.add.reduce(share * means, axis=0) + stray * excess
        means -= new
        new_var = np.add.reduce(share * (var * tails + means * means), axis=0)
        shift = new - excess
        new_var += stray * (var + shift * shift)
        mean += gain * (shift / var)[..., None]
        shrink = (_ONE - new_var / var) / var
        cov -= gain[..., :, None] * (gain * shrink[..., None])[..., None, :]
        self.log_weight += np.log(total)
        self._normalise()

    def _odds(self, part: float, lively: float) -> Floats:
        """Logs of the odds of a taut rode and of a slack one in each mode, counted in part."""
        if (part, lively) != self._odds_of:
            slack = self._log_slack + lively * math.log(self.figures.slack_lively)
            slack = np.minimum(part * slack, _JUST_BELOW)
            self._odds_of = part, lively
            self._log_odds = np.stack((np.log(-np.expm1(slack)), slack))[:, None]
        return self._log_odds

    def lean(self, log_likelihood: Floats) -> None:
        """Weigh the places by something else that is known of them, one figure a place."""
        self.log_weight += log_likelihood[:, None]
        self._normalise()

    def _normalise(self) -> None:
        self.log_weight -= np.maximum.reduce(self.log_weight, axis=None)
        self.log_weight -= math.log(np.add.reduce(np.exp(self.log_weight), axis=None))

    def thin(self) -> None:
        """Drop places that have become hopeless.

        Not only for speed: a place on the boat's other side, long found out, would otherwise come
        back to life when she drags towards it, and explain the drag away.
        """
        place = np.exp(self.log_weight).sum(axis=1)
        keep = place > self.figures.hopeless * place.max()
        if not keep.all():
            self.mean, self.cov = self.mean[keep], self.cov[keep]
            self.log_weight = self.log_weight[keep]
            self._normalise()

    def refit(self, reach_m: float, reach_sigma_m: float) -> None:
        """Another length of rode: what is known of the places stands, the reach begins anew."""
        self.mean[..., REACH] = reach_m
        self.cov[..., REACH, :] = 0.0
        self.cov[..., :, REACH] = 0.0
        self.cov[..., REACH, REACH] = reach_sigma_m**2
        self._told(reach_m, reach_sigma_m)

    def stretch(self, by_m: float) -> None:
        """The rode reaches farther by so much (less, if negative), whatever it reached before."""
        reach_m = self.mean[..., REACH]
        np.maximum(reach_m + by_m, 0.0, out=reach_m)
        self._least_reach_m += by_m

    # -- what it comes to ----------------------------------------------------------------------

    def log_odds_moved(self, *, worth: float = -math.inf) -> float:
        """Natural log of the odds that the anchor has moved by more than it may settle.

        Where even the odds that it has moved at all are below ``worth``, these are given instead:
        they are had for less.
        """
        never = float(np.exp(self.log_weight[:, NEVER]).sum())
        at_all = math.log(max(1.0 - never, _LEAST)) - math.log(max(never, _LEAST))
        if at_all < worth:
            return at_all
        moved_m = self.mean[..., MOVED] - self.figures.least_moved_m
        sigma_m = np.sqrt(np.maximum(1e-9, self.cov[..., MOVED, MOVED]))
        log_more, log_less = log_below_and_above(moved_m / sigma_m)
        yes = float(np.exp(self.log_weight + log_more).sum())
        no = float(np.exp(self.log_weight + log_less).sum())
        return math.log(max(yes, _LEAST)) - math.log(max(no, _LEAST))

    def never_moved(self) -> Lie:
        """How she lies if the anchor has never moved."""
        return _lie(self.log_weight[:, NEVER], self.mean[:, NEVER], self.cov[:, NEVER])

    def moved(self) -> Lie:
        """How she lies if it has moved."""
        shape = (-1, SIZE)
        return _lie(
            self.log_weight[:, 1:].reshape(-1),
            self.mean[:, 1:].reshape(shape),
            self.cov[:, 1:].reshape((*shape, SIZE)),
        )

    def rows(self) -> tuple[tuple[float, ...], ...]:
        """The likeliest hypotheses of an anchor that never moved, as plain figures."""
        weights = self.log_weight[:, NEVER]
        # Rounded, so that the last digit of a machine does not pick among equals.
        best = np.argsort(-np.round(weights, 6), kind="stable")
        shares = np.cumsum(np.exp(weights[best] - weights[best[0]]))
        enough = int(np.searchsorted(shares, REMEMBERED * shares[-1])) + 1
        best = best[: min(enough, MOST_ROWS)]
        upper = np.triu_indices(REACH + 1)
        return tuple(
            tuple(
                round(float(figure), 5)
                for figure in (
                    weights[i] - weights[best[0]],
                    *self.mean[i, NEVER, : REACH + 1],
                    *self.cov[i, NEVER][upper],
                )
            )
            for i in best
        )

    @classmethod
    def of_rows(
        cls,
        figures: BankFigures,
        rows: tuple[tuple[float, ...], ...],
        *,
        reach_m: float,
        reach_sigma_m: float,
    ) -> "Bank":
        """Undo ``rows``: drags are thought of anew. Raises ValueError for rows that are none.

        ``reach_m``, ``reach_sigma_m``: the reach as told, and what it was good to.
        """
        count = REACH + 1
        upper = np.triu_indices(count)
        if not rows or any(len(row) != 1 + count + len(upper[0]) for row in rows):
            raise ValueError("these are no hypotheses of a bank")
        if not all(abs(figure) < _FAR for row in rows for figure in row):
            raise ValueError("these hypotheses are not of this world")
        blank = Start(
            east_m=0.0, north_m=0.0, var_ee=0.0, var_nn=0.0, var_en=0.0, reach_m=reach_m,
            reach_sigma_m=reach_sigma_m,
        )  # fmt: skip
        bank = cls(figures, (blank,) * len(rows), by_fix=False)
        for i, row in enumerate(rows):
            bank.mean[i, :, :count] = row[1 : 1 + count]
            cov = np.zeros((count, count))
            cov[upper] = row[1 + count :]
            cov += np.triu(cov, 1).T
            bank.cov[i, :, :count, :count] = cov + 1e-4 * np.eye(count)
            bank.log_weight[i, NEVER] = row[0]
        bank._age_s = math.inf
        bank._normalise()
        return bank


def _ones(mean: Floats) -> Floats:
    return np.ones(len(mean))


def _lie(log_weight: Floats, mean: Floats, cov: Floats) -> Lie:
    # Of modes that nothing has flowed into yet, none is likelier than another.
    weight = np.exp(log_weight - log_weight.max()) if log_weight.max() > -np.inf else _ones(mean)
    weight /= weight.sum()
    middle = weight @ mean
    off = mean - middle
    second = np.einsum("j,jaa->a", weight, cov) + weight @ (off * off)
    return Lie(
        east_m=float(middle[ANCHOR_E]),
        north_m=float(middle[ANCHOR_N]),
        sigma_m=math.sqrt(0.5 * float(second[ANCHOR_E] + second[ANCHOR_N])),
        reach_m=float(middle[REACH]),
        reach_sigma_m=math.sqrt(float(second[REACH])),
        moved_m=float(middle[MOVED]),
        moved_sigma_m=math.sqrt(float(second[MOVED])),
    )


_PACES: Final = 16
"""So many lengths of step are remembered: there are three, and what gaps leave."""
_LEAST: Final = 1e-300
_FAR: Final = 1e7
_JUST_BELOW: Final = -1e-12
