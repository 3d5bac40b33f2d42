"""The best sequence of transfers over the whole passage, with proof.

A mixed-integer programme over amounts, tank contents and yes-or-no transfers.
Leg costs are convex curves of the tank moment; they enter as tangents, which lie
below them, so every bound the solver proves is a true one. Tangents are added
where the last answer stood until the true cost of the best sequence found and the
proven bound meet. The floor of :mod:`heel_bound` is carried inside as a shortest
path, which makes the search short.
"""

from __future__ import annotations

import contextlib
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy import optimize, sparse

from passage.planning.heel_bound import shortest_path, stretch_bounds, worth_keeping
from passage.planning.heel_leg_cost import LegCost, Split
from passage.planning.heel_model import (
    EMPTY,
    PRESSED_UP,
    SEA,
    Flags,
    Floats,
    HeelProblem,
    NotPossible,
    lowest_stiffness_t_m,
    moved_bounds_m3,
    slack,
)

#: What a transfer must save to be worth ordering at all [l]; breaks ties towards
#: fewer transfers.
TIE_L = 1e-3
#: Gap at which a plan counts as proven [l], and as a share of its cost.
GAP_L = 0.01
GAP_SHARE = 1e-4


@dataclass(frozen=True)
class Move:
    """Liquid moved before a leg (0-based); tank indices, :data:`SEA` for the sea."""

    leg: int
    source: int
    target: int
    amount_m3: float


@dataclass(frozen=True)
class Sequence:
    """A sequence of moves, what it costs, and how far below it the optimum may be.

    ``cost_l`` is in litres and holds the charge for heel above the limit;
    ``floor_l`` is the proven bound; ``proven`` says that the gap is within
    :data:`GAP_L` or :data:`GAP_SHARE`.
    """

    moves: tuple[Move, ...]
    moved_m3: Floats
    cost_l: float
    floor_l: float
    proven: bool
    rounds: int

    @property
    def gap_l(self) -> float:
        """Litres that the best possible plan could still be cheaper by."""
        return max(self.cost_l - self.floor_l, 0.0)


def moved_by(problem: HeelProblem, moves: tuple[Move, ...]) -> Floats:
    """``(n, k)`` put into each tank by the moves up to and including each leg's."""
    moved = np.zeros((problem.n_legs, len(problem.tanks)))
    for move in moves:
        if move.source != SEA:
            moved[move.leg :, move.source] -= move.amount_m3
        if move.target != SEA:
            moved[move.leg :, move.target] += move.amount_m3
    return moved


def is_ballast(problem: HeelProblem) -> Floats:
    """``(k,)`` 1 for tanks whose content can come from or go to the sea."""
    out = np.zeros(len(problem.tanks))
    for source, target in problem.pairs:
        if source == SEA:
            out[target] = 1.0
        elif target == SEA:
            out[source] = 1.0
    return out


def carry_l(problem: HeelProblem, moved_m3: Floats) -> Floats:
    """``(n,)`` litres for displacement taken on (negative: given up)."""
    density = np.array([tank.density_t_m3 for tank in problem.tanks])
    return problem.carry_l_per_t * (moved_m3 @ (density * is_ballast(problem)))


def price_moves(problem: HeelProblem, moves: tuple[Move, ...]) -> float:
    """Litres for setting up and pumping."""
    pumped = sum(move.amount_m3 for move in moves)
    return problem.transfer_fixed_l * len(moves) + problem.pump_l_per_m3 * pumped


def price_sequence(
    problem: HeelProblem, cost: LegCost, moves: tuple[Move, ...]
) -> tuple[float, Split]:
    """True cost of a sequence with fins used at their best on every leg."""
    moved = moved_by(problem, moves)
    split = cost.best_split(problem.moment_t_m + moved @ problem.tank_moment_per_m3)
    total = split.cost_l.sum() + carry_l(problem, moved).sum()
    return float(total) + price_moves(problem, moves), split


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep the solver's own stray lines off standard output.

    Some builds print progress lines although told not to; they would end up in a
    table or a JSON file that the user is writing to standard output.
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


class _Programme:
    """Variables and rows of the mixed-integer programme."""

    def __init__(self, problem: HeelProblem, cost: LegCost, most_transfers: int | None) -> None:
        self.problem, self.cost = problem, cost
        n, k, a = problem.n_legs, len(problem.tanks), len(problem.pairs)
        self.n, self.k, self.a = n, k, a
        sizes = [("amount", n * a), ("open", n * a), ("moved", n * k), ("leg", n)]
        sizes += [("path", n * (n + 1) // 2), ("calm", n), ("turn", n), ("tank", n)]
        low, high = moved_bounds_m3(problem)
        weight = problem.tank_moment_per_m3
        reach_low = np.minimum(low * weight, high * weight).sum(axis=1).min()
        reach_high = np.maximum(low * weight, high * weight).sum(axis=1).max()
        self.reach = (float(reach_low), float(max(reach_high, reach_low + 1e-6)))
        self.gm_legs = self._gm_legs()
        sizes.append(("state", 2 * k * len(self.gm_legs)))
        self.at: dict[str, int] = {}
        total = 0
        for name, size in sizes:
            self.at[name] = total
            total += size
        self.size = total
        self.rows: list[tuple[list[int], list[float], float, float]] = []
        density = np.array([tank.density_t_m3 for tank in problem.tanks])
        emptied = problem.carry_l_per_t @ (low * density * is_ballast(problem))
        #: Least that displacement can cost; negative if ballast aboard can go.
        self.least_carry_l = float(emptied.sum())
        self.lower = np.zeros(total)
        self.upper = np.full(total, np.inf)
        self.price = np.zeros(total)
        self.whole = np.zeros(total)
        self.bounds = stretch_bounds(problem, cost, *self.reach)
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
        """Legs on which some move could bring GM under the minimum."""
        problem = self.problem
        if problem.gm_minimum_m is None or not problem.pairs:
            return []
        heaviest = problem.displacement_t + (
            moved_bounds_m3(problem)[1]
            @ (np.array([t.density_t_m3 for t in problem.tanks]) * is_ballast(problem))
        )
        worst = lowest_stiffness_t_m(problem) - problem.gm_minimum_m * heaviest
        return [int(i) for i in np.nonzero(worst < 0.0)[0]]

    def _transfers(self, low: Floats, high: Floats) -> None:
        p, n = self.problem, self.n
        start = p.content_start_m3
        span = slice(self.at["moved"], self.at["moved"] + n * self.k)
        self.lower[span], self.upper[span] = low.ravel(), high.ravel()
        opens = slice(self.at["open"], self.at["open"] + n * self.a)
        self.upper[opens] = np.repeat(p.transfer_allowed.astype(float), self.a)
        self.whole[opens] = 1.0
        self.price[opens] = p.transfer_fixed_l + TIE_L
        amounts = slice(self.at["amount"], self.at["amount"] + n * self.a)
        self.price[amounts] = p.pump_l_per_m3
        self.price[self.at["leg"] : self.at["leg"] + n] = 1.0
        sea = is_ballast(p)
        tank_at = slice(self.at["tank"], self.at["tank"] + n)
        self.lower[tank_at], self.upper[tank_at] = self.reach
        for leg in range(n):
            self.row(
                [self.at["tank"] + leg, *(self.moved(leg, t) for t in range(self.k))],
                [1.0, *(-p.tank_moment_per_m3)],
                0.0,
                0.0,
            )
            for tank, spec in enumerate(p.tanks):
                self.price[self.moved(leg, tank)] = (
                    p.carry_l_per_t[leg] * spec.density_t_m3 * sea[tank]
                )
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
                if outs:  # only what is in the tank before the leg can be taken
                    at = [self.amount(leg, j) for j in outs]
                    by = [1.0] * len(outs)
                    if leg:
                        at.append(self.moved(leg - 1, tank))
                        by.append(-1.0)
                    self.row(at, by, -np.inf, max(start[leg, tank] - spec.minimum_m3, 0.0))
            pumped = p.rate_m3_per_h * max(float(p.transfer_hours[leg]), 0.0)
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
        """Fluid GM from what each tank really is: pressed up, empty, or slack."""
        p = self.problem
        start = p.content_start_m3
        base_slack = slack(p, start)
        assert p.gm_minimum_m is not None
        sea = is_ballast(p)
        for index, leg in enumerate(self.gm_legs):
            at: list[int] = []
            by: list[float] = []
            surface_all = 0.0
            for tank, spec in enumerate(p.tanks):
                at.append(self.moved(leg, tank))
                by.append(
                    spec.stiffness_t_m_per_m3 - p.gm_minimum_m * spec.density_t_m3 * sea[tank]
                )
                if spec.free_surface_t_m <= 0.0:
                    continue
                surface_all += spec.free_surface_t_m * (1.0 - base_slack[leg, tank])
                pressed = self.at["state"] + 2 * (index * self.k + tank)
                empty = pressed + 1
                self.upper[[pressed, empty]] = 1.0
                self.whole[[pressed, empty]] = 1.0
                end = start[leg, tank] - p.burn_m3[leg, tank]
                need = PRESSED_UP * spec.capacity_m3 - end
                floor = self.lower[self.moved(leg, tank)]
                top = self.upper[self.moved(leg, tank)]
                self.row(
                    [self.moved(leg, tank), pressed],
                    [1.0, floor - need],
                    floor,
                    np.inf,
                )
                most = EMPTY * spec.capacity_m3 - start[leg, tank]
                self.row([self.moved(leg, tank), empty], [1.0, top - most], -np.inf, top)
                self.row([pressed, empty], [1.0, 1.0], -np.inf, 1.0)
                at += [pressed, empty]
                by += [spec.free_surface_t_m] * 2
            spare = p.stiffness_t_m[leg] - p.gm_minimum_m * p.displacement_t[leg]
            # A leg already short of GM must not be made worse.
            self.row(at, by, surface_all - max(float(spare), 0.0), np.inf)

    def add_tangents(self, tank_moment: Floats) -> None:
        """Tangents to the leg costs at tank moments ``(..., n)``."""
        moments = np.atleast_2d(tank_moment)
        split = self.cost.best_split(self.problem.moment_t_m + moments)
        for row, value, slope in zip(moments, split.cost_l, split.slope_l_per_t_m, strict=True):
            for leg in range(self.n):
                at = [self.at["leg"] + leg, self.at["tank"] + leg]
                by = [1.0, -float(slope[leg])]
                low = value[leg] - slope[leg] * row[leg]
                self.tangents.append((at, by, float(low), np.inf))

    def matrix(self) -> optimize.LinearConstraint:
        rows = self.rows + self.tangents
        lengths = [len(row[0]) for row in rows]
        pointer = np.concatenate([[0], np.cumsum(lengths)])
        columns = np.concatenate([np.asarray(row[0], dtype=np.int64) for row in rows])
        values = np.concatenate([np.asarray(row[1], dtype=float) for row in rows])
        matrix = sparse.csr_array((values, columns, pointer), shape=(len(rows), self.size))
        return optimize.LinearConstraint(
            matrix, np.array([r[2] for r in rows]), np.array([r[3] for r in rows])
        )

    def cut_off(self, ceiling_l: float) -> None:
        """Leave out every stretch that only dearer plans contain."""
        keep, calm = worth_keeping(
            self.bounds,
            self.problem.transfer_fixed_l,
            self.problem.transfer_allowed,
            ceiling_l - self.least_carry_l,
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

    def drop_twins(self) -> None:
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
                    "mip_rel_gap": GAP_SHARE / 10.0 if near is None else 5e-3,
                    "time_limit": seconds,
                },
            )

    def moves(self, x: Floats) -> tuple[Move, ...]:
        """Moves of a solution; traces under a litre are solver noise."""
        out = []
        for leg in range(self.n):
            for j, (source, target) in enumerate(self.problem.pairs):
                if x[self.open(leg, j)] > 0.5:
                    amount = float(x[self.amount(leg, j)])
                    if amount > 1e-6:
                        out.append(Move(leg, source, target, amount))
        return tuple(out)


def best_sequence(
    problem: HeelProblem,
    *,
    most_transfers: int | None = None,
    seconds: float = 20.0,
) -> Sequence:
    """Cheapest sequence of moves and fin use, with the proven bound.

    Parameters
    ----------
    problem : HeelProblem
    most_transfers : int, optional
        At most so many transfers over the passage (1 for the best single one).
    seconds : float
        Time for the whole search; when it runs out the best found so far comes
        back with its gap, and ``proven`` is false.

    Raises
    ------
    NotPossible
        If no sequence keeps every tank and GM rule.
    """
    until = time.monotonic() + seconds
    cost = LegCost.of(problem)
    search = _Search(problem, cost, _Programme(problem, cost, most_transfers), until)
    search.first_guess()
    search.prove()
    return search.result()


class _Search:
    """Rounds of solving: a good sequence first, then the proof."""

    def __init__(
        self, problem: HeelProblem, cost: LegCost, programme: _Programme, until: float
    ) -> None:
        self.problem, self.cost, self.programme = problem, cost, programme
        self.until = until
        self.moves: tuple[Move, ...] = ()
        self.cost_l = price_sequence(problem, cost, ())[0]
        self.floor_l, self.rounds = -np.inf, 0
        # Nothing moved is a plan unless GM or a tank rule forbids it.
        self.legal = not programme.gm_legs

    @property
    def _ranked_l(self) -> float:
        return self.cost_l + TIE_L * len(self.moves)

    def _left(self) -> float:
        return max(self.until - time.monotonic(), 0.1)

    def _note(self, x: Floats) -> tuple[Floats, float]:
        """Keep a solution if it is the cheapest; its tank moments and true cost."""
        moves = self.programme.moves(x)
        true_l, _ = price_sequence(self.problem, self.cost, moves)
        ranked = true_l + TIE_L * len(moves)
        if not self.legal or ranked < self._ranked_l - 1e-9:
            self.moves, self.cost_l, self.legal = moves, true_l, True
        moved = moved_by(self.problem, moves)
        return moved @ self.problem.tank_moment_per_m3, ranked

    def _polish(self, x: Floats) -> None:
        """Exact amounts for the transfers a solution opens."""
        p = self.programme
        opened = np.round(x[p.at["open"] : p.at["open"] + p.n * p.a])
        for _ in range(10):
            tank_moment, ranked = self._note(x)
            p.add_tangents(tank_moment)
            again = p.solve(self._left(), opened=opened)
            if again.x is None or ranked - again.fun < GAP_L / 10.0:
                return
            x = again.x

    def first_guess(self) -> None:
        """Tangents where they matter, and a sequence near the floor's shape."""
        problem, p = self.problem, self.programme
        n = problem.n_legs
        _, stretches = shortest_path(p.bounds, problem.transfer_fixed_l, problem.transfer_allowed)
        wish = np.zeros(n)
        near = np.zeros(n, dtype=bool)
        for start, end, moment in stretches:
            wish[start:end] = moment
            near[max(start - 1, 0) : start + 2] = True
        scale = max(float(np.abs(problem.moment_t_m).max()), 1.0)
        for share in (0.0, 0.04, 0.1, 0.2, 0.35, 0.6, 1.0, 2.0, 4.0):
            for sign in (1.0, -1.0):
                # Around upright, and around what the floor would have moved.
                p.add_tangents(sign * share * scale - problem.moment_t_m)
                if share < 0.3:
                    p.add_tangents(wish + sign * share * scale)
        p.drop_twins()
        if p.a:
            found = p.solve(self._left(), near=near)
            if found.x is not None:
                self._polish(found.x)

    def prove(self) -> None:
        """Search everything that could still be cheaper."""
        p = self.programme
        for self.rounds in range(1, 13):
            if self.legal:
                p.cut_off(self._ranked_l + GAP_L)
            found = p.solve(self._left())
            if found.x is None:
                if found.status == 2 and self.legal:
                    self.floor_l = self._ranked_l
                elif found.status == 2:
                    raise NotPossible(
                        "no sequence of transfers keeps every tank between its "
                        "minimum and its capacity with GM at or above the minimum; "
                        "check the burn shares, the minimum contents and the "
                        "minimum GM."
                    )
                elif found.mip_dual_bound is not None:
                    self.floor_l = max(self.floor_l, float(found.mip_dual_bound))
                return
            # Plans dearer than the cut-off were left out, so the bound cannot
            # exceed it.
            bound = float(found.mip_dual_bound)
            self.floor_l = max(self.floor_l, min(bound, self._ranked_l + GAP_L))
            self._polish(found.x)
            if _proven(self._ranked_l, self.floor_l) or self._left() <= 0.1:
                return

    def result(self) -> Sequence:
        """The best sequence with its floor."""
        floor_l = min(self.floor_l - TIE_L * len(self.moves), self.cost_l)
        return Sequence(
            moves=self.moves,
            moved_m3=moved_by(self.problem, self.moves),
            cost_l=self.cost_l,
            floor_l=floor_l,
            proven=_proven(self.cost_l, floor_l),
            rounds=self.rounds,
        )


def _proven(cost_l: float, floor_l: float) -> bool:
    return cost_l - floor_l <= max(GAP_L, GAP_SHARE * abs(cost_l))
