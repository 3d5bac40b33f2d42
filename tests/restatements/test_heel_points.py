"""The heel decision, put in other ways: cut, halved, mirrored, counted by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from heel_cases import brute_force, problem, tank
from numpy.testing import assert_allclose

from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.options import compare_policies
from passage.planning.heel.rules import broken_rules
from passage.planning.heel.sequence import best_sequence

# The search proves its cost to 0.01 l; the enumeration reads leg costs from tables.
PROOF_L = 0.05


def hourly(seed: int, *, work: bool = True):
    """Three legs of four to six hourly points, three tanks, wind that swings."""
    rng = np.random.default_rng(seed)
    counts = rng.integers(4, 7, 3)
    leg = np.repeat(np.arange(3), counts)
    n = len(leg)
    tanks = (
        tank("port", -2.5, capacity=6.0, content=3.5, minimum_m3=0.3),
        tank("starboard", 2.5, capacity=7.0, content=5.0, minimum_m3=0.3),
        tank("centre", 0.0, capacity=4.0, content=3.0),
    )
    burn = np.zeros((n, 3))
    burn[:, 1] = rng.uniform(0.02, 0.08, n)
    wind = np.cumsum(rng.normal(0.0, 2.0, n))
    return problem(
        n,
        tanks,
        leg_names=("one", "two", "three"),
        leg=leg,
        hours=np.ones(n),
        list_moment_t_m=float(rng.uniform(-14.0, 14.0)),
        wind_moment_t_m=wind,
        limit_deg=np.full(n, 0.7),
        fin_l_per_moment2=rng.uniform(0.03, 0.08, n),
        fin_moment_max_t_m=np.where(rng.random(n) > 0.1, 18.0, 0.0),
        leave_l_per_deg2=rng.uniform(0.0, 0.2, n),
        comfort_l_per_deg=np.zeros(n),
        hold_l=np.where(rng.random(n) > 0.5, 2.3, 0.0) if work else None,
        transfer_allowed=np.r_[True, np.diff(leg) > 0],
        transfer_hours=np.full(n, 1.0),
        burn_m3=burn,
        transfer_fixed_l=12.0,
        pump_l_per_m3=0.1,
        rate_m3_per_h=6.0,
    )


def cut(p, at: int, share: float):
    """One point cut into two, the new place closed to transfers."""

    def two(values, by_share: bool):
        values = np.asarray(values)
        first = values[at] * (share if by_share else 1.0)
        second = values[at] * (1.0 - share if by_share else 1.0)
        return np.concatenate([values[:at], [first], [second], values[at + 1 :]])

    amounts = ("hours", "fin_l_per_moment2", "leave_l_per_deg2", "comfort_l_per_deg", "burn_m3",
               "carry_l_per_t", "hold_l")  # fmt: skip
    states = ("speed_kn", "fuel_l_per_h", "wind_moment_t_m", "event_moment_t_m", "displacement_t",
              "stiffness_t_m", "limit_deg", "fin_moment_max_t_m", "leg",
              "transfer_hours")  # fmt: skip
    changes = {
        name: two(getattr(p, name), True) for name in amounts if getattr(p, name) is not None
    }
    changes |= {name: two(getattr(p, name), False) for name in states}
    allowed = two(p.transfer_allowed, False)
    allowed[at + 1] = False
    return replace(p, transfer_allowed=allowed, **changes)


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("work", [False, True])
def test_trying_every_plan_on_points_never_beats_the_search(seed, work):
    p = hourly(seed, work=work)
    found = best_sequence(p)
    truth, _ = brute_force(p, LegCost.of(p).limit_t_m, 2)
    assert broken_rules(p, found.moves) == []
    assert found.cost_l <= truth + max(PROOF_L, 1e-3 * truth)
    assert found.floor_l <= truth + PROOF_L


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("share", [0.1, 0.5, 0.83])
def test_cutting_any_point_changes_no_policy(seed, share):
    p = hourly(seed)
    whole = {one.name: one for one in compare_policies(p).policies}
    # Burn inside a point is taken at its middle: halves of it heel a little differently.
    halves = {one.name: one for one in compare_policies(cut(p, seed + 2, share)).policies}
    assert whole.keys() == halves.keys()
    for name, one in whole.items():
        assert_allclose(halves[name].total_l, one.total_l, rtol=0.01, atol=0.5)
        assert halves[name].within_limit == one.within_limit


@pytest.mark.parametrize("seed", range(4))
def test_a_mirrored_passage_mirrors(seed):
    p = hourly(seed)
    other = replace(
        p,
        list_moment_t_m=-p.list_moment_t_m,
        wind_moment_t_m=-p.wind_moment_t_m,
        tanks=tuple(replace(one, y_m=-one.y_m) for one in p.tanks),
    )
    here, there = compare_policies(p), compare_policies(other)
    for one, mirror in zip(here.policies, there.policies, strict=True):
        assert one.name == mirror.name
        assert_allclose(mirror.total_l, one.total_l, atol=0.02)
        assert_allclose(mirror.worst_heel_deg, -one.worst_heel_deg, atol=0.02)
    assert [(m.point, m.source, m.target) for m in here.plan.moves] == [
        (m.point, m.source, m.target) for m in there.plan.moves
    ]


def test_wind_that_changes_side_within_a_leg_is_not_averaged_away():
    # Half the leg 10 t m to port, half to starboard: a mean of nothing, and a degree each way.
    wind = np.r_[np.full(6, 10.0), np.full(6, -10.0)]
    p = problem(
        12,
        leg_names=("one",),
        leg=np.zeros(12, dtype=int),
        hours=np.ones(12),
        list_moment_t_m=0.0,
        wind_moment_t_m=wind,
        limit_deg=np.full(12, 0.5),
        comfort_l_per_deg=np.zeros(12),
        transfer_allowed=np.arange(12) == 0,
    )
    plan = compare_policies(p).plan
    never = next(one for one in compare_policies(p).policies if one.name == "leave it")
    assert_allclose(never.over_limit_h, [12.0], rtol=1e-7)
    held = 10.0 - 560.0 * np.tan(np.radians(0.5))
    # By hand: 0.1 l per (t m)^2 and point, twelve points, 10 t m less what half a degree is.
    assert_allclose(plan.total_l, 12 * 0.1 * held**2, rtol=1e-6)
    assert plan.moves == ()
