"""Small heel problems, and a brute-force solver that shares no code with the planner."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np

from passage.planning.heel.model import SEA, HeelProblem, HeelTank


def tank(name, y_m, *, holds="fuel", capacity=10.0, content=5.0, density=0.845, **more):
    """One tank."""
    return HeelTank(
        name=name,
        holds=holds,
        capacity_m3=capacity,
        content_m3=content,
        y_m=y_m,
        density_t_m3=density,
        **more,
    )


def problem(n=4, tanks=None, pairs=None, **changes) -> HeelProblem:
    """A yacht of 560 t with GM 1.0 m, fins that hold 30 t m, and a port-starboard pair."""
    if tanks is None:
        tanks = (tank("port", -2.5), tank("starboard", 2.5))
    if pairs is None:
        pairs = tuple(
            (i, j)
            for i, one in enumerate(tanks)
            for j, other in enumerate(tanks)
            if i != j and one.holds == other.holds
        )
    values = {
        "leg_names": tuple(f"leg {i + 1}" for i in range(n)),
        "hours": np.full(n, 2.0),
        "speed_kn": np.full(n, 12.0),
        "fuel_l_per_h": np.full(n, 200.0),
        "list_moment_t_m": 10.0,
        "wind_moment_t_m": np.zeros(n),
        "event_moment_t_m": np.zeros(n),
        "displacement_t": np.full(n, 560.0),
        "stiffness_t_m": np.full(n, 560.0),
        "gm_minimum_m": None,
        "limit_deg": np.full(n, np.inf),
        "fin_l_per_moment2": np.full(n, 0.1),
        "fin_moment_max_t_m": np.full(n, 30.0),
        "leave_l_per_deg2": np.zeros(n),
        "comfort_l_per_deg": np.full(n, 1000.0),
        "transfer_allowed": np.ones(n, dtype=bool),
        "transfer_hours": np.full(n, 2.0),
        "tanks": tuple(tanks),
        "burn_m3": np.zeros((n, len(tanks))),
        "pairs": pairs,
        "transfer_fixed_l": 5.0,
        "pump_l_per_m3": 0.0,
        "rate_m3_per_h": 1e6,
        "carry_l_per_t": np.zeros(n),
        "smallest_transfer_m3": 0.0,
    }
    values.update(changes)
    return HeelProblem(**values)


def random_problem(seed: int, n: int = 4, *, ballast: bool = False, gm: bool = False):
    """Legs and tanks at random; the bounds of tanks bind now and then."""
    rng = np.random.default_rng(seed)
    if ballast:
        tanks = (
            tank("port", -2.5, capacity=6.0, content=3.5, minimum_m3=0.5),
            tank("starboard", 2.5, capacity=6.0, content=4.5, minimum_m3=0.5),
            tank("ballast port", -3.0, holds="ballast", capacity=3.0, content=0.0, density=1.025),
        )
        pairs = ((0, 1), (1, 0), (SEA, 2), (2, SEA))
    else:
        surface = {"free_surface_t_m": 9.0} if gm else {}
        tanks = (
            tank("port", -2.5, capacity=6.0, content=6.0 if gm else 3.5, minimum_m3=0.3, **surface),
            tank("starboard", 2.5, capacity=7.0, content=5.0, minimum_m3=0.3, **surface),
            tank("centre", 0.0, capacity=4.0, content=0.0 if gm else 3.0, **surface),
        )
        pairs = tuple(itertools.permutations(range(3), 2))
    burn = np.zeros((n, 3))
    burn[:, 1] = rng.uniform(0.05, 0.35, n)
    return problem(
        n,
        tanks,
        pairs,
        hours=rng.uniform(1.0, 4.0, n),
        list_moment_t_m=float(rng.uniform(-14.0, 14.0)),
        wind_moment_t_m=rng.normal(0.0, 4.0, n),
        limit_deg=rng.uniform(0.4, 1.2, n),
        fin_l_per_moment2=rng.uniform(0.02, 0.12, n),
        fin_moment_max_t_m=rng.uniform(4.0, 20.0, n) * (rng.random(n) > 0.2),
        leave_l_per_deg2=rng.uniform(0.0, 0.4, n),
        comfort_l_per_deg=rng.uniform(0.0, 4.0, n),
        transfer_allowed=rng.random(n) > 0.25,
        transfer_hours=rng.uniform(0.2, 1.0, n),
        burn_m3=burn,
        transfer_fixed_l=float(rng.uniform(2.0, 8.0)),
        pump_l_per_m3=0.1,
        rate_m3_per_h=6.0,
        carry_l_per_t=rng.uniform(0.1, 0.5, n),
        gm_minimum_m=0.962 if gm else None,
    )


def leg_tables(p: HeelProblem, limit_t_m: np.ndarray, reach: float = 90.0, points: int = 7201):
    """Least cost of each leg against its moment, by trying a thousand fin moments."""
    moments = np.linspace(-reach, reach, points)
    size = np.abs(moments)
    tables = []
    for i in range(p.n_points):
        degrees = np.degrees(1.0 / p.stiffness_t_m[i])
        shares = np.linspace(0.0, 1.0, 1001)[:, None]
        fins = shares * np.minimum(size, p.fin_moment_max_t_m[i])
        kink = np.clip(size - limit_t_m[i], 0.0, np.minimum(size, p.fin_moment_max_t_m[i]))
        fins = np.vstack([fins, kink[None]])
        left = size - fins
        cost = (
            p.fin_l_per_moment2[i] * fins**2
            + p.leave_l_per_deg2[i] * (left * degrees) ** 2
            + p.comfort_l_per_deg[i] * left * degrees
            + (0.0 if p.hold_l is None else p.hold_l[i]) * (fins > 1e-12)
            + p.over_limit_l_per_deg * p.hours[i] * degrees * np.maximum(left - limit_t_m[i], 0.0)
        )
        tables.append(cost.min(axis=0))
    return moments, np.array(tables)


def _price_patterns(p, tables, pattern, amounts):
    """Cost of amounts ``(m, transfers)`` for one pattern; inf where a rule is broken."""
    moments, costs = tables
    count = len(amounts)
    content = np.tile([t.content_m3 for t in p.tanks], (count, 1)).astype(float)
    moved = np.zeros_like(content)
    total = np.zeros(count)
    ok = np.ones(count, dtype=bool)
    capacity = np.array([t.capacity_m3 for t in p.tanks])
    minimum = np.array([t.minimum_m3 for t in p.tanks])
    density = np.array([t.density_t_m3 for t in p.tanks])
    lever = density * np.array([t.y_m for t in p.tanks])
    surface = np.array([t.free_surface_t_m for t in p.tanks])
    ballast = np.array([t.holds == "ballast" for t in p.tanks])
    base_start = np.array([t.content_m3 for t in p.tanks]) - np.vstack(
        [np.zeros(len(p.tanks)), np.cumsum(p.burn_m3, axis=0)[:-1]]
    )
    for leg in range(p.n_points):
        here = [j for j, (at, _) in enumerate(pattern) if at == leg]
        before = content.copy()
        taken = np.zeros_like(content)
        for j in here:
            source, target = pattern[j][1]
            if source != SEA:
                content[:, source] -= amounts[:, j]
                taken[:, source] += amounts[:, j]
                moved[:, source] -= amounts[:, j]
            if target != SEA:
                content[:, target] += amounts[:, j]
                moved[:, target] += amounts[:, j]
        pumped = amounts[:, here].sum(axis=1)
        total += len(here) * p.transfer_fixed_l + p.pump_l_per_m3 * pumped
        ok &= pumped <= p.rate_m3_per_h * p.transfer_hours[leg] + 1e-9
        ok &= np.all(taken <= np.maximum(before - minimum, 0.0) + 1e-9, axis=1)
        ok &= np.all(content <= capacity + 1e-9, axis=1)
        end = content - p.burn_m3[leg]
        ok &= np.all(end >= minimum - 1e-9, axis=1)
        if p.gm_minimum_m is not None:
            slack = ~((end >= 0.98 * capacity - 1e-9) | (content <= 0.02 * capacity + 1e-9))
            for j in here:  # slack as well while the pump runs
                for touched in pattern[j][1]:
                    if touched != SEA:
                        slack[:, touched] |= amounts[:, j] > 1e-9
            base = base_start[leg]
            base_slack = ~((base - p.burn_m3[leg] >= 0.98 * capacity) | (base <= 0.02 * capacity))
            stiffness = p.stiffness_t_m[leg] - (slack * surface).sum(axis=1)
            stiffness += (base_slack * surface).sum()
            need = p.gm_minimum_m * p.displacement_t[leg]
            ok &= stiffness >= min(need, p.stiffness_t_m[leg]) - 1e-9
        moment = (
            p.list_moment_t_m
            + p.wind_moment_t_m[leg]
            + p.event_moment_t_m[leg]
            - (p.burn_m3[:leg].sum(axis=0) + 0.5 * p.burn_m3[leg]) @ lever
            + moved @ lever
        )
        total += np.interp(moment, moments, costs[leg])
        total += p.carry_l_per_t[leg] * (moved @ (density * ballast))
        content = end
    return np.where(ok, total, np.inf)


def brute_force(p: HeelProblem, limit_t_m: np.ndarray, most: int):
    """Cheapest plan with up to ``most`` transfers: every choice of legs and pairs.

    For each choice the amounts are searched on a grid that zooms in on its best
    point; costs are convex in the amounts, so the zoom cannot be led astray by a
    second valley (GM rules apart, for which the first grid is finer).
    """
    tables = leg_tables(p, limit_t_m)
    openings = [
        (leg, pair) for leg in range(p.n_points) if p.transfer_allowed[leg] for pair in p.pairs
    ]
    best = float(_price_patterns(p, tables, (), np.zeros((1, 0)))[0])
    best_pattern: tuple = ()
    for count in range(1, most + 1):
        if count * p.transfer_fixed_l >= best:
            break
        for pattern in itertools.combinations(openings, count):
            top = np.array(
                [
                    min(
                        *(p.tanks[t].capacity_m3 for t in pair if t != SEA),
                        p.rate_m3_per_h * p.transfer_hours[leg],
                    )
                    if SEA not in pair
                    else min(
                        max(p.tanks[t].capacity_m3 for t in pair if t != SEA),
                        p.rate_m3_per_h * p.transfer_hours[leg],
                    )
                    for leg, pair in pattern
                ]
            )
            side = {1: 61, 2: 41, 3: 15}[count]
            low, high = np.zeros(count), top
            value = np.inf
            for round_ in range(14):
                axes = [np.linspace(a, b, side) for a, b in zip(low, high, strict=True)]
                grid = np.stack([g.ravel() for g in np.meshgrid(*axes, indexing="ij")], axis=1)
                costs = _price_patterns(p, tables, pattern, grid)
                at = int(np.argmin(costs))
                if not np.isfinite(costs[at]):
                    break
                value = min(value, float(costs[at]))
                if round_ == 0 and value > best + 25.0:
                    break  # a finer grid cannot gain that much
                width = (high - low) * 0.35
                low = np.maximum(grid[at] - width, 0.0)
                high = np.minimum(grid[at] + width, top)
                side = {1: 21, 2: 15, 3: 9}[count]
            if value < best - 1e-9:
                best, best_pattern = value, pattern
    return best, best_pattern


def cheaper(p: HeelProblem, factor: float) -> HeelProblem:
    """The same with transfers at another price."""
    return replace(p, transfer_fixed_l=p.transfer_fixed_l * factor)


def bounds_of(p: HeelProblem, low_t_m: float, high_t_m: float):
    """Floors of stretches of stages, and the stages."""
    from passage.planning.heel.bound import stretch_bounds
    from passage.planning.heel.leg_cost import LegCost
    from passage.planning.heel.stages import StageCosts, Stages

    stages = Stages.of_problem(p)
    costs = StageCosts(p, LegCost.of(p), stages, (low_t_m, high_t_m))
    return stretch_bounds(costs, low_t_m, high_t_m), stages
