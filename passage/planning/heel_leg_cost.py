"""The cheapest way to live with a heeling moment on one leg: fins, heel, or both.

For a moment M left by the tanks the fins hold m and the vessel heels under
r = M - m. Fins cost ``a m^2`` (induced drag goes with lift squared) plus, if
given, what their lost roll work is worth; heel costs ``h2 r^2 + h1 |r|``. The
cheapest split is convex in M, which is what makes the whole passage solvable.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passage.planning.heel_model import Floats, HeelProblem, lowest_stiffness_t_m


def convex_below(x: Floats, y: Floats) -> Floats:
    """Largest convex curve that nowhere lies above the points ``(x, y)``.

    ``x`` is ``(g,)`` increasing, ``y`` is ``(..., g)``.
    """
    flat = np.asarray(y, dtype=float).reshape(-1, len(x))
    out = np.empty_like(flat)
    for row, values in enumerate(flat):
        hull: list[int] = []
        for j in range(len(x)):
            while len(hull) > 1:
                i, k = hull[-2], hull[-1]
                if (values[k] - values[i]) * (x[j] - x[i]) < (
                    values[j] - values[i]
                ) * (x[k] - x[i]):
                    break
                hull.pop()
            hull.append(j)
        out[row] = np.interp(x, x[hull], values[hull])
    return out.reshape(np.shape(y))


@dataclass(frozen=True)
class Split:
    """Fins' and heel's shares of a moment; arrays of the shape asked for.

    ``cost_l`` includes the charge for heel over the limit, ``slope_l_per_t_m`` is
    its derivative by the moment (a subgradient at kinks).
    """

    cost_l: Floats
    slope_l_per_t_m: Floats
    fins_t_m: Floats
    over_limit_t_m: Floats


@dataclass(frozen=True)
class LegCost:
    """Prices of one problem's legs in terms of moment; arrays ``(n,)``.

    ``knots_t_m`` ``(n, g)`` and ``offset_l`` ``(n, g)`` hold the convex price of
    lost roll work against the moment the fins hold.
    """

    fin_a: Floats
    fin_max: Floats
    heel_h2: Floats
    heel_h1: Floats
    limit_t_m: Floats
    over_l_per_t_m: Floats
    knots_t_m: Floats
    offset_l: Floats

    @classmethod
    def of(cls, problem: HeelProblem) -> LegCost:
        """Prices by moment, degrees turned into moment at the leg's stiffness."""
        per_t_m = np.degrees(1.0 / problem.stiffness_t_m)
        n = problem.n_legs
        if problem.offset_fraction is None or problem.offset_price_l is None:
            fraction = np.array([0.0, 1.0])
            price = np.zeros((n, 2))
        else:
            fraction = np.asarray(problem.offset_fraction, dtype=float)
            raw = np.maximum.accumulate(problem.offset_price_l, axis=1)
            price = convex_below(fraction, raw - raw[:, :1])
        limit = lowest_stiffness_t_m(problem) * np.tan(
            np.radians(np.minimum(problem.limit_deg, 89.0))
        )
        return cls(
            fin_a=problem.fin_l_per_moment2,
            fin_max=problem.fin_moment_max_t_m,
            heel_h2=problem.leave_l_per_deg2 * per_t_m**2,
            heel_h1=problem.comfort_l_per_deg * per_t_m,
            limit_t_m=np.where(np.isfinite(problem.limit_deg), limit, np.inf),
            over_l_per_t_m=problem.over_limit_l_per_deg * per_t_m,
            knots_t_m=fraction * problem.fin_moment_max_t_m[:, None],
            offset_l=price,
        )

    def fins_l(self, fins_t_m: Floats) -> tuple[Floats, Floats]:
        """Litres of induced drag, and what lost roll work is worth, ``(n,)`` each."""
        size = np.abs(fins_t_m)
        lost = np.array(
            [
                np.interp(m, knots, price) if knots[-1] > 0.0 else 0.0
                for m, knots, price in zip(
                    size, self.knots_t_m, self.offset_l, strict=True
                )
            ]
        )
        return self.fin_a * size**2, lost

    def heel_l(self, residual_t_m: Floats) -> tuple[Floats, Floats]:
        """Litres of hull drag, and what heel is worth to those aboard, ``(n,)``."""
        size = np.abs(residual_t_m)
        return self.heel_h2 * size**2, self.heel_h1 * size

    def best_split(self, moment_t_m: Floats) -> Split:
        """Cheapest split of moments ``(..., n)`` (last axis: legs).

        Within one piece of the roll price the cost is a quadratic of the fins'
        share, so its minimum is known; the best over pieces is exact. Ties go to
        the smaller offset.
        """
        moment = np.asarray(moment_t_m, dtype=float)
        size = np.abs(moment)
        best = np.full(moment.shape, np.inf)
        fins = np.zeros(moment.shape)
        a, h2, h1 = self.fin_a, self.heel_h2, self.heel_h1
        over_at = self.limit_t_m
        curvature = 2.0 * (a + h2)
        for j in range(self.knots_t_m.shape[1] - 1):
            left, right = self.knots_t_m[:, j], self.knots_t_m[:, j + 1]
            width = right - left
            slope = np.divide(
                self.offset_l[:, j + 1] - self.offset_l[:, j],
                width,
                out=np.zeros_like(width),
                where=width > 0.0,
            )
            # Candidates: stationary points below and above the limit, and the edges
            # of the range; each clipped into the piece, the cheapest is the answer.
            floor = size - over_at
            for marginal in (h1, h1 + self.over_l_per_t_m):
                gain = 2.0 * h2 * size + marginal - slope
                still = np.divide(
                    gain,
                    curvature,
                    out=np.where(gain > 0.0, size, 0.0),
                    where=np.broadcast_to(curvature > 0.0, gain.shape),
                )
                best, fins = self._take(best, fins, size, still, left, right, j, slope)
            best, fins = self._take(best, fins, size, floor, left, right, j, slope)
        residual = size - fins
        over = np.maximum(residual - over_at, 0.0)
        # Envelope: the derivative is that of whichever share is free to move.
        at_cap = fins >= np.minimum(self.fin_max, size) - 1e-12
        heel_slope = 2.0 * h2 * residual + h1 + np.where(
            residual > over_at + 1e-12, self.over_l_per_t_m, 0.0
        )
        fin_slope = self._fin_slope(fins)
        holds_all = at_cap & (size <= self.fin_max)
        at_limit = np.isfinite(over_at) & (np.abs(residual - over_at) <= 1e-9)
        slope_out = np.where(
            holds_all & (fin_slope < heel_slope), fin_slope, heel_slope
        )
        slope_out = np.where(
            at_limit & (fins > 0.0) & (fins < self.fin_max), fin_slope, slope_out
        )
        return Split(
            cost_l=best,
            slope_l_per_t_m=np.sign(moment) * slope_out,
            fins_t_m=np.sign(moment) * fins,
            over_limit_t_m=over,
        )

    def _fin_slope(self, fins: Floats) -> Floats:
        marginal = 2.0 * self.fin_a * fins
        for j in range(self.knots_t_m.shape[1] - 1):
            left, right = self.knots_t_m[:, j], self.knots_t_m[:, j + 1]
            width = right - left
            slope = np.divide(
                self.offset_l[:, j + 1] - self.offset_l[:, j],
                width,
                out=np.zeros_like(width),
                where=width > 0.0,
            )
            inside = (fins > left) & (fins <= right)
            marginal = marginal + np.where(inside, slope, 0.0)
        return marginal

    def _take(
        self,
        best: Floats,
        fins: Floats,
        size: Floats,
        share: Floats,
        left: Floats,
        right: Floats,
        j: int,
        slope: Floats,
    ) -> tuple[Floats, Floats]:
        """Try one share of the fins, clipped into piece ``j``; keep the cheaper."""
        m = np.minimum(np.clip(share, left, right), size)
        r = size - m
        over = np.where(r > self.limit_t_m, r - self.limit_t_m, 0.0)
        cost = (
            self.fin_a * m**2
            + np.where(m > left, self.offset_l[:, j] + slope * (m - left), 0.0)
            + np.where(m <= left, np.where(left > 0.0, self.offset_l[:, j], 0.0), 0.0)
            + self.heel_h2 * r**2
            + self.heel_h1 * r
            + self.over_l_per_t_m * over
        )
        # A share below this piece belongs to an earlier one.
        cost = np.where(m < left - 1e-12, np.inf, cost)
        better = cost < best - 1e-12
        return np.where(better, cost, best), np.where(better, m, fins)
