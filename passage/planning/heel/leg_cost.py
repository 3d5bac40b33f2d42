"""The cheapest way to live with a heeling moment at one point: fins, heel, or both.

Of a moment M left by the tanks the fins hold m, and the vessel heels under r = M - m.
Fins cost ``a m^2`` (induced drag varies as lift squared) plus, if given, the worth of the
extra roll; heel costs ``h2 r^2 + h1 |r|``. The cost of the cheapest split is convex in M,
which makes the whole passage solvable. Where roll alone would leave the fins centred,
holding anything costs a fixed amount too (``hold_l``): the cost is then the lower of two
convex curves.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np

from passage.planning.heel.model import Floats, HeelProblem, Indices, lowest_stiffness_t_m

#: Moments [t m] and prices [l] closer than this are the same.
_TINY = 1e-12


def convex_below(x: Floats, y: Floats) -> Floats:
    """Largest convex curve that is nowhere above the points ``(x, y)``.

    ``x`` is ``(g,)`` increasing, ``y`` is ``(..., g)``.
    """
    flat = np.asarray(y, dtype=float).reshape(-1, len(x))
    out = flat.copy()
    if len(x) == 3:
        # One point between two ends: the chord of the ends where it lies above.
        chord = flat[:, 0] + (flat[:, 2] - flat[:, 0]) * (x[1] - x[0]) / (x[2] - x[0])
        out[:, 1] = np.minimum(flat[:, 1], chord)
        return out.reshape(np.shape(y))
    # Most curves are convex already.
    rise = np.diff(flat, axis=-1) / np.diff(x)
    steepest = np.max(np.abs(rise), axis=-1, keepdims=True, initial=0.0)
    bent = np.any(np.diff(rise, axis=-1) < -1e-9 * steepest, axis=-1)
    for row in np.flatnonzero(bent):
        values = flat[row]
        hull = hull_below(x, values)
        out[row] = np.interp(x, x[hull], values[hull])
    return out.reshape(np.shape(y))


def hull_below(x: Floats, y: Floats) -> list[int]:
    """Indices of the points ``(x, y)`` on that curve; ``(g,)`` each, ``x`` increasing."""
    # Plain numbers: element by element an array is several times slower.
    xs, ys = x.tolist(), y.tolist()
    hull: list[int] = []
    for j, (x_j, y_j) in enumerate(zip(xs, ys, strict=True)):
        while len(hull) > 1:
            i, k = hull[-2], hull[-1]
            if (ys[k] - ys[i]) * (x_j - xs[i]) < (y_j - ys[i]) * (xs[k] - xs[i]):
                break
            hull.pop()
        hull.append(j)
    return hull


def limit_moment_t_m(problem: HeelProblem, stiffness_t_m: Floats) -> Floats:
    """Moment that heels her to the owner's limit at a stiffness; ``inf`` without one."""
    limit = stiffness_t_m * np.tan(np.radians(np.minimum(problem.limit_deg, 89.0)))
    return np.where(np.isfinite(problem.limit_deg), limit, np.inf)


@dataclass(frozen=True)
class Split:
    """Shares of fins and heel in a moment, and their cost; arrays of the moment's shape.

    ``cost_l`` includes the charge for heel over the limit; ``slope_l_per_t_m`` is its
    derivative by the moment (a subgradient at kinks).
    """

    cost_l: Floats
    slope_l_per_t_m: Floats
    fins_t_m: Floats
    over_limit_t_m: Floats


@dataclass(frozen=True)
class LegCost:
    """Prices at the points of one problem in terms of moment; arrays ``(n,)``.

    ``knots_t_m`` ``(n, g)`` and ``offset_l`` ``(n, g)`` are the convex price of the extra
    roll against the moment that the fins hold.
    """

    fin_a: Floats
    fin_max: Floats
    heel_h2: Floats
    heel_h1: Floats
    limit_t_m: Floats
    over_l_per_t_m: Floats
    knots_t_m: Floats
    offset_l: Floats
    hold_l: Floats

    @classmethod
    def of(cls, problem: HeelProblem) -> LegCost:
        """Prices by moment; degrees are converted with the stiffness at each point."""
        per_t_m = np.degrees(1.0 / problem.stiffness_t_m)
        n = problem.n_points
        if problem.offset_fraction is None or problem.offset_price_l is None:
            fraction = np.array([0.0, 1.0])
            price = np.zeros((n, 2))
        else:
            fraction = np.asarray(problem.offset_fraction, dtype=float)
            raw = np.maximum.accumulate(problem.offset_price_l, axis=1)
            price = convex_below(fraction, raw - raw[:, :1])
        stiffness = problem.limit_stiffness_t_m
        if stiffness is None:
            stiffness = lowest_stiffness_t_m(problem)
        return cls(
            fin_a=problem.fin_l_per_moment2,
            fin_max=problem.fin_moment_max_t_m,
            heel_h2=problem.leave_l_per_deg2 * per_t_m**2,
            heel_h1=problem.comfort_l_per_deg * per_t_m,
            limit_t_m=limit_moment_t_m(problem, stiffness),
            over_l_per_t_m=problem.over_limit_l_per_deg * problem.hours * per_t_m,
            knots_t_m=fraction * problem.fin_moment_max_t_m[:, None],
            offset_l=price,
            hold_l=np.zeros(n) if problem.hold_l is None else problem.hold_l,
        )

    def at(self, points: slice | Indices) -> LegCost:
        """The prices of some points only."""
        return LegCost(**{one.name: getattr(self, one.name)[points] for one in fields(self)})

    def judged_at(self, problem: HeelProblem, stiffness_t_m: Floats) -> LegCost:
        """The same prices with the owner's limit at another stiffness."""
        out = replace(self, limit_t_m=limit_moment_t_m(problem, stiffness_t_m))
        # Called thousands of times, so what the limit does not change is kept.
        out.__dict__["_pieces"] = self._pieces
        return out

    def fins_l(self, fins_t_m: Floats) -> tuple[Floats, Floats]:
        """Litres of holding, and the worth of the extra roll, ``(n,)`` each."""
        size = np.abs(fins_t_m)
        lost = np.zeros(size.shape)
        for left, right, slope in self._pieces:
            lost += slope * (np.clip(size, left, right) - left)
        drag = self.fin_a * size**2 + np.where(size > _TINY, self.hold_l, 0.0)
        return drag, lost

    def heel_l(self, residual_t_m: Floats) -> tuple[Floats, Floats]:
        """Litres of hull drag, and the worth of heel to those aboard, ``(n,)`` each."""
        size = np.abs(residual_t_m)
        return self.heel_h2 * size**2, self.heel_h1 * size

    def best_split(self, moment_t_m: Floats) -> Split:
        """Cheapest split of moments ``(..., n)`` (last axis: points).

        Without the fixed price the cost is convex in the share of the fins, so it is least
        where the marginal price of holding equals that of leaning: once with and once
        without the charge for heel over the limit, and between the two the share that
        brings her to the limit. Among equals the smaller offset is taken.
        """
        moment = np.asarray(moment_t_m, dtype=float)
        size = np.abs(moment)
        fins, best = self._least(size)
        marginal = np.full(moment.shape, -np.inf)
        residual = size - fins
        for left, _, slope in self._pieces:
            inside = fins > left + _TINY
            marginal = np.where(inside, 2.0 * self.fin_a * fins + slope, marginal)
        heel_marginal = np.where(
            residual > _TINY,
            2.0 * self.heel_h2 * residual
            + self.heel_h1
            + np.where(residual > self.limit_t_m + _TINY, self.over_l_per_t_m, 0.0),
            -np.inf,
        )
        # At the cheapest split a valid slope is the higher of the two left-hand marginal
        # prices, since neither share could replace the other.
        marginal = np.maximum(marginal, heel_marginal)
        marginal = np.where(np.isfinite(marginal), marginal, 0.0)
        return Split(
            cost_l=best,
            slope_l_per_t_m=np.sign(moment) * marginal,
            fins_t_m=np.sign(moment) * fins,
            over_limit_t_m=np.maximum(residual - self.limit_t_m, 0.0),
        )

    def least_l(self, moment_t_m: Floats) -> Floats:
        """Litres of the cheapest split only, for moments ``(..., n)``."""
        return self._least(np.abs(np.asarray(moment_t_m, dtype=float)))[1]

    def _least(self, size: Floats) -> tuple[Floats, Floats]:
        """The cheapest share of the fins in moments ``(..., n)`` without sign, and its litres."""
        holding = self._held(size, self.heel_h1)
        limited = self._held(size, self.heel_h1 + self.over_l_per_t_m)
        fins = np.minimum(np.maximum(size - self.limit_t_m, holding), limited)
        fins = np.minimum(fins, np.minimum(size, self._most))
        best = self._share_l(size, fins)
        if np.any(self.hold_l > 0.0):
            # Holding nothing has no fixed cost: the fins stay centred there.
            alone = self._share_l(size, np.zeros(size.shape))
            holds = fins > _TINY
            best = np.where(holds, best + self.hold_l, best)
            leave = holds & (self.hold_l > 0.0) & (alone <= best)
            best, fins = np.where(leave, alone, best), np.where(leave, 0.0, fins)
        return fins, best

    def _held(self, size: Floats, pull: Floats) -> Floats:
        """Moment held at which its marginal price equals ``pull`` plus that of the hull's drag."""
        curvature = 2.0 * (self.fin_a + self.heel_h2)
        bent = curvature > 0.0
        per = np.where(bent, 1.0 / np.where(bent, curvature, 1.0), 0.0)
        out = np.zeros(size.shape)
        for _, right, slope in self._pieces:
            gain = 2.0 * self.heel_h2 * size + (pull - slope)
            # Where the price is straight, all or nothing is held.
            wish = (
                gain * per
                if np.all(bent)
                else np.where(bent, gain * per, np.where(gain > 0.0, right, 0.0))
            )
            np.maximum(out, np.minimum(wish, right), out=out)
        return out

    def _share_l(self, size: Floats, fins: Floats) -> Floats:
        """Litres for a share of the fins, without the fixed price of holding."""
        rest = size - fins
        out = self.fin_a * fins**2 + self.heel_h2 * rest**2 + self.heel_h1 * rest
        out += self.over_l_per_t_m * np.maximum(rest - self.limit_t_m, 0.0)
        for left, right, slope in self._pieces:
            if np.any(slope != 0.0):
                out += slope * (np.clip(fins, left, right) - left)
        return np.asarray(out)

    @cached_property
    def _most(self) -> Floats:
        """Most that the fins can hold."""
        return self.knots_t_m[:, -1]

    @cached_property
    def _pieces(self) -> list[tuple[Floats, Floats, Floats]]:
        """Edges and slope of each piece of the roll price, ``(n,)`` each."""
        out = []
        for j in range(self.knots_t_m.shape[1] - 1):
            left, right = self.knots_t_m[:, j], self.knots_t_m[:, j + 1]
            width = right - left
            slope = np.divide(
                self.offset_l[:, j + 1] - self.offset_l[:, j],
                width,
                out=np.zeros_like(width),
                where=width > 0.0,
            )
            out.append((left, right, slope))
        return out
