"""The mixed-integer programme behind the best sequence: its variables and rows.

Variables of every stage: cubic metres through each pair and whether the pair is opened
before it; the content that moves have put into each tank, and its moment; the stage's
cost, bounded from below by tangents; and the path of `bound`. Where GM could come below
its minimum, also whether each tank is pressed up or empty.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from functools import cached_property

import numpy as np
from scipy import optimize, sparse

from passage.planning.heel.bound import stretch_bounds, worth_keeping
from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import (
    EMPTY,
    PRESSED_UP,
    SEA,
    Flags,
    Floats,
    HeelProblem,
    Indices,
    lowest_stiffness_t_m,
    moved_bounds_m3,
    slack,
)
from passage.planning.heel.moves import TIE_L, Move, is_ballast
from passage.planning.heel.stages import StageCosts, Stages

#: Relative gap at which one solve counts as optimal.
_SOLVER_GAP = 1e-5
#: The same for the first guess, which need not be proven.
_GUESS_GAP = 5e-3


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep lines printed by the solver itself off standard output.

    Some builds print progress lines although asked not to; they would end up in a table or
    JSON text on standard output.
    """
    sys.stdout.flush()
    try:
        keep = os.dup(1)
    except OSError:  # no standard output at all
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(keep, 1)
        os.close(keep)
        os.close(nowhere)


def _flat(
    rows: list[tuple[list[int], list[float], float, float]],
) -> tuple[Indices, Indices, Floats, Floats, Floats]:
    """Entries of each row, their columns and values, and the ends of the rows."""
    return (
        np.array([len(row[0]) for row in rows], dtype=np.int64),
        np.array([column for row in rows for column in row[0]], dtype=np.int64),
        np.array([value for row in rows for value in row[1]], dtype=float),
        np.array([row[2] for row in rows], dtype=float),
        np.array([row[3] for row in rows], dtype=float),
    )


class Programme:
    """Variables and rows of the mixed-integer programme."""

    def __init__(self, problem: HeelProblem, cost: LegCost, most_transfers: int | None) -> None:
        self.problem, self.cost = problem, cost
        self.stages = stages = Stages.of_problem(problem)
        n, k, a = stages.count, len(problem.tanks), len(problem.pairs)
        self.n, self.k, self.a = n, k, a
        sizes = [("amount", n * a), ("open", n * a), ("moved", n * k), ("leg", n)]
        sizes += [("path", n * (n + 1) // 2), ("calm", n), ("turn", n), ("tank", n)]
        sizes.append(("carried", n))
        low, high = stages.low_m3, stages.high_m3
        weight = problem.tank_moment_per_m3
        reach_low = np.minimum(low * weight, high * weight).sum(axis=1).min()
        reach_high = np.maximum(low * weight, high * weight).sum(axis=1).max()
        self.reach = (float(reach_low), float(max(reach_high, reach_low + 0.01)))
        self.costs = StageCosts(problem, cost, stages, self.reach)
        self.gm_legs = self._gm_legs()
        sizes.append(("state", 2 * k * len(self.gm_legs)))
        self.at: dict[str, int] = {}
        total = 0
        for name, size in sizes:
            self.at[name] = total
            total += size
        self.size = total
        self.rows: list[tuple[list[int], list[float], float, float]] = []
        self.lower = np.zeros(total)
        self.upper = np.full(total, np.inf)
        self.price = np.zeros(total)
        self.whole = np.zeros(total)
        self.bounds = stretch_bounds(self.costs, *self.reach)
        self._transfers(low, high)
        self._path()
        if most_transfers is not None:
            opens = list(range(self.at["open"], self.at["open"] + n * a))
            self.row(opens, [1.0] * len(opens), 0.0, float(most_transfers))
        if len(self.gm_legs):
            self._gm()
        self.tangents: list[tuple[list[int], list[float], float, float]] = []

    def row(self, at: list[int], by: list[float], low: float, high: float) -> None:
        """``low <= sum(by * x[at]) <= high``."""
        self.rows.append((at, by, low, high))

    def amount(self, leg: int, pair: int) -> int:
        return self.at["amount"] + leg * self.a + pair

    def open(self, leg: int, pair: int) -> int:
        return self.at["open"] + leg * self.a + pair

    def moved(self, leg: int, tank: int) -> int:
        return self.at["moved"] + leg * self.k + tank

    def path(self, start: int, end: int) -> int:
        return self.at["path"] + start * self.n - start * (start - 1) // 2 + (end - start - 1)

    def _gm_legs(self) -> list[int]:
        """Stages in which some move could bring GM under the minimum."""
        problem = self.problem
        if problem.gm_minimum_m is None or not problem.pairs:
            return []
        heaviest = problem.displacement_t + (
            moved_bounds_m3(problem)[1] @ (problem.tank_arrays.density_t_m3 * is_ballast(problem))
        )
        worst = lowest_stiffness_t_m(problem) - problem.gm_minimum_m * heaviest
        worst = np.minimum.reduceat(worst, self.stages.first)
        return [int(i) for i in np.nonzero(worst < 0.0)[0]]

    def _transfers(self, low: Floats, high: Floats) -> None:
        p, n, stages = self.problem, self.n, self.stages
        start = stages.start_m3
        span = slice(self.at["moved"], self.at["moved"] + n * self.k)
        self.lower[span], self.upper[span] = low.ravel(), high.ravel()
        opens = slice(self.at["open"], self.at["open"] + n * self.a)
        self.upper[opens] = np.repeat(stages.allowed.astype(float), self.a)
        self.whole[opens] = 1.0
        self.price[opens] = p.transfer_fixed_l + TIE_L
        amounts = slice(self.at["amount"], self.at["amount"] + n * self.a)
        self.price[amounts] = p.pump_l_per_m3
        self.price[self.at["leg"] : self.at["leg"] + n] = 1.0
        sea = is_ballast(p)
        tank_at = slice(self.at["tank"], self.at["tank"] + n)
        self.lower[tank_at], self.upper[tank_at] = self.reach
        self.price[self.at["carried"] : self.at["carried"] + n] = stages.carry_l_per_t
        for leg in range(n):
            # Weight taken on costs its carriage; weight given up earns nothing.
            weights = [t.density_t_m3 * by for t, by in zip(p.tanks, sea, strict=True)]
            if any(weights):
                self.row(
                    [self.at["carried"] + leg, *(self.moved(leg, t) for t in range(self.k))],
                    [1.0, *(-w for w in weights)],
                    0.0,
                    np.inf,
                )
            self.row(
                [self.at["tank"] + leg, *(self.moved(leg, t) for t in range(self.k))],
                [1.0, *(-p.tank_moment_per_m3)],
                0.0,
                0.0,
            )
            for tank, spec in enumerate(p.tanks):
                outs = [j for j, pair in enumerate(p.pairs) if pair[0] == tank]
                ins = [j for j, pair in enumerate(p.pairs) if pair[1] == tank]
                at = [self.moved(leg, tank)]
                by = [1.0]
                if leg:
                    at.append(self.moved(leg - 1, tank))
                    by.append(-1.0)
                at += [self.amount(leg, j) for j in ins + outs]
                by += [-1.0] * len(ins) + [1.0] * len(outs)
                self.row(at, by, 0.0, 0.0)
                if outs:  # only what is in the tank before the stage can be taken
                    at = [self.amount(leg, j) for j in outs]
                    by = [1.0] * len(outs)
                    if leg:
                        at.append(self.moved(leg - 1, tank))
                        by.append(-1.0)
                    self.row(at, by, -np.inf, max(start[leg, tank] - spec.minimum_m3, 0.0))
            pumped = p.rate_m3_per_h * max(float(stages.hours[leg]), 0.0)
            if np.isfinite(pumped) and self.a:
                at = [self.amount(leg, j) for j in range(self.a)]
                self.row(at, [1.0] * self.a, -np.inf, pumped)
            for j, (source, target) in enumerate(p.pairs):
                most = min(pumped, 1e6)
                if source != SEA:
                    most = min(most, p.tanks[source].capacity_m3 - p.tanks[source].minimum_m3)
                if target != SEA:
                    room = p.tanks[target].capacity_m3 - p.tanks[target].minimum_m3
                    most = min(most, room)
                at = [self.amount(leg, j), self.open(leg, j)]
                self.row(at, [1.0, -most], -np.inf, 0.0)
                least = min(p.smallest_transfer_m3, most)
                self.row(at, [1.0, -least], 0.0, np.inf)

    def _path(self) -> None:
        """Stretches of constant tank moment as a path from departure to arrival.

        ``calm[e]`` is the first stretch, legs 0..e, with nothing moved; ``path[s,
        e]`` a stretch opened by a transfer before leg s.
        """
        n, bounds = self.n, self.bounds
        total_at = [self.at["leg"] + i for i in range(n)]
        total_by = [1.0] * n
        for leg in range(n):
            turn = self.at["turn"] + leg
            arriving = [self.path(s, leg) for s in range(leg)]
            leaving = [self.path(leg, e) for e in range(leg + 1, n + 1)]
            if leg:
                arriving.append(self.at["calm"] + leg - 1)
                self.row([*arriving, turn], [1.0] * len(arriving) + [-1.0], 0.0, 0.0)
            self.row([*leaving, turn], [1.0] * len(leaving) + [-1.0], 0.0, 0.0)
            for j in range(self.a):
                self.row([self.open(leg, j), turn], [1.0, -1.0], -np.inf, 0.0)
            opens = [self.open(leg, j) for j in range(self.a)]
            self.row([*opens, turn], [1.0] * self.a + [-1.0], 0.0, np.inf)
        calm = [self.at["calm"] + e for e in range(n)]
        first = [self.path(0, e) for e in range(1, n + 1)]
        self.row(calm + first, [1.0] * (len(calm) + len(first)), 1.0, 1.0)
        self.upper[self.at["path"] : self.at["calm"] + n] = 1.0
        for until in sorted({n, *range(n // 6 or 1, n, max(n // 6, 1))}):
            at, by = total_at[:until], list(total_by[:until])
            for start in range(until):
                for end in range(start + 1, n + 1):
                    at.append(self.path(start, end))
                    by.append(-float(bounds.free_l[start, min(end, until)]))
            for end in range(1, n + 1):
                at.append(self.at["calm"] + end - 1)
                by.append(-float(bounds.untouched_l[min(end, until)]))
            self.row(at, by, 0.0, np.inf)

    def _gm(self) -> None:
        """Rows for fluid GM, with each tank pressed up, empty or slack."""
        p, stages = self.problem, self.stages
        base_slack = slack(p, p.content_start_m3)
        surfaces = np.array([tank.free_surface_t_m for tank in p.tanks])
        # Spare stiffness at each point if every tank were slack.
        spare = p.stiffness_t_m - (p.gm_minimum_m or 0.0) * p.displacement_t
        need_all = (1.0 - base_slack) @ surfaces - np.maximum(spare, 0.0)
        need_all = np.maximum.reduceat(need_all, stages.first)
        assert p.gm_minimum_m is not None
        sea = is_ballast(p)
        for index, leg in enumerate(self.gm_legs):
            at: list[int] = []
            by: list[float] = []
            for tank, spec in enumerate(p.tanks):
                at.append(self.moved(leg, tank))
                by.append(
                    spec.stiffness_t_m_per_m3 - p.gm_minimum_m * spec.density_t_m3 * sea[tank]
                )
                if spec.free_surface_t_m <= 0.0:
                    continue
                pressed = self.at["state"] + 2 * (index * self.k + tank)
                empty = pressed + 1
                self.upper[[pressed, empty]] = 1.0
                self.whole[[pressed, empty]] = 1.0
                end = stages.end_m3[leg, tank]
                need = PRESSED_UP * spec.capacity_m3 - end
                floor = self.lower[self.moved(leg, tank)]
                top = self.upper[self.moved(leg, tank)]
                self.row(
                    [self.moved(leg, tank), pressed],
                    [1.0, floor - need],
                    floor,
                    np.inf,
                )
                most = EMPTY * spec.capacity_m3 - stages.start_m3[leg, tank]
                self.row([self.moved(leg, tank), empty], [1.0, top - most], -np.inf, top)
                # A tank is slack too while the pump runs from it or to it.
                opens = [self.open(leg, j) for j, pair in enumerate(p.pairs) if tank in pair]
                for opened in opens or [pressed]:
                    at_most = [pressed, empty, opened] if opens else [pressed, empty]
                    self.row(at_most, [1.0] * len(at_most), -np.inf, 1.0)
                at += [pressed, empty]
                by += [spec.free_surface_t_m] * 2
            # Where GM is short without moves, they must not reduce it further.
            self.row(at, by, float(need_all[leg]), np.inf)

    def add_tangents(self, tank_moment: Floats) -> None:
        """Tangents to the stage costs at tank moments ``(..., stages)``."""
        moments = np.clip(np.atleast_2d(tank_moment), *self.reach)
        values, slopes = self.costs.below(moments)
        for row, value, slope in zip(moments, values, slopes, strict=True):
            for leg in range(self.n):
                at = [self.at["leg"] + leg, self.at["tank"] + leg]
                by = [1.0, -float(slope[leg])]
                low = value[leg] - slope[leg] * row[leg]
                self.tangents.append((at, by, float(low), np.inf))

    def matrix(self) -> optimize.LinearConstraint:
        parts = [self._fixed, _flat(self.tangents)]
        counts, columns, values, low, high = (
            np.concatenate(one) for one in zip(*parts, strict=True)
        )
        pointer = np.concatenate([[0], np.cumsum(counts)])
        matrix = sparse.csr_array((values, columns, pointer), shape=(len(low), self.size))
        return optimize.LinearConstraint(matrix, low, high)

    @cached_property
    def _fixed(self) -> tuple[Indices, Indices, Floats, Floats, Floats]:
        """The rows but for tangents; all are made when the programme is."""
        return _flat(self.rows)

    def cut_off(self, ceiling_l: float) -> None:
        """Leave out the stretches that only plans of higher cost contain."""
        keep, calm = worth_keeping(
            self.bounds,
            self.problem.transfer_fixed_l,
            self.stages.allowed,
            ceiling_l,
        )
        for start in range(self.n):
            for end in range(start + 1, self.n + 1):
                if not keep[start, end]:
                    self.upper[self.path(start, end)] = 0.0
            if not keep[start].any():
                opens = self.open(start, 0)
                self.upper[opens : opens + self.a] = 0.0
                self.upper[self.at["turn"] + start] = 0.0
        for end in range(1, self.n + 1):
            if not calm[end]:
                self.upper[self.at["calm"] + end - 1] = 0.0

    def drop_equal_tangents(self) -> None:
        """Keep one of several equal tangents."""
        kept = {}
        for row in self.tangents:
            kept[(row[0][0], round(row[1][1], 9), round(row[2], 7))] = row
        self.tangents = list(kept.values())

    def solve(
        self,
        seconds: float,
        opened: Floats | None = None,
        near: Flags | None = None,
    ) -> optimize.OptimizeResult:
        """One solve; ``opened`` (n a,) fixes the yes-or-no part, ``near`` (n,) keeps
        transfers to some legs."""
        lower, upper, integrality = self.lower, self.upper, self.whole
        if near is not None:
            upper = upper.copy()
            span = slice(self.at["open"], self.at["open"] + self.n * self.a)
            upper[span] = np.where(np.repeat(near, self.a), upper[span], 0.0)
        if opened is not None:
            span = slice(self.at["open"], self.at["open"] + self.n * self.a)
            lower, upper = lower.copy(), upper.copy()
            lower[span] = upper[span] = opened.ravel()
            if not self.gm_legs:
                integrality = np.zeros_like(integrality)
        with _quiet():
            return optimize.milp(
                self.price,
                integrality=integrality,
                bounds=optimize.Bounds(lower, upper),
                constraints=self.matrix(),
                options={
                    "mip_rel_gap": _SOLVER_GAP if near is None else _GUESS_GAP,
                    "time_limit": seconds,
                },
            )

    def moves(self, x: Floats) -> tuple[Move, ...]:
        """Moves of a solution; amounts below a cubic centimetre are solver noise."""
        out = []
        for leg in range(self.n):
            for j, (source, target) in enumerate(self.problem.pairs):
                if x[self.open(leg, j)] > 0.5:
                    amount = float(x[self.amount(leg, j)])
                    if amount > 1e-6:
                        out.append(Move(int(self.stages.first[leg]), source, target, amount))
        return tuple(out)
