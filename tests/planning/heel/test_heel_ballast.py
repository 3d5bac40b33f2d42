"""Ballast goes over the side for heel alone; listing her beforehand is reported."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from heel_cases import problem, tank
from numpy.testing import assert_allclose

from passage.planning.heel.cautions import heel_cautions
from passage.planning.heel.model import SEA
from passage.planning.heel.options import compare_policies, price
from passage.planning.heel.words import side_words

TANKS = (
    tank("port", -2.5),
    tank("starboard", 2.5),
    tank("ballast port", -3.0, holds="ballast", capacity=3.0, content=3.0, density=1.025),
)


def _codes(comparison):
    return {one.code: one for one in heel_cautions(comparison)}


@pytest.mark.parametrize("carry", [0.0, 5.0, 50.0])
def test_ballast_is_not_discharged_to_save_fuel(carry):
    # Upright, with three tonnes aboard that cost a lot to carry.
    p = problem(3, TANKS, ((SEA, 2), (2, SEA)), list_moment_t_m=0.0)
    p = replace(p, carry_l_per_t=np.full(3, carry), transfer_fixed_l=1.0)
    comparison = compare_policies(p)
    assert comparison.plan.moves == ()
    assert "ballast_rules" not in _codes(comparison)


def test_ballast_is_discharged_where_that_takes_heel_off_and_the_fuel_is_counted():
    # 3.0 m3 x 1.025 x 3.0 m = 9.2 t m to port is just what the ballast gives her.
    p = problem(3, TANKS, ((SEA, 2), (2, SEA)), list_moment_t_m=-9.225)
    p = replace(p, carry_l_per_t=np.full(3, 2.0), transfer_fixed_l=1.0)
    comparison = compare_policies(p)
    (move,) = comparison.plan.moves
    assert (move.source, move.target) == (2, SEA)
    assert_allclose(move.amount_m3, 3.0, atol=0.01)
    # 3.1 t less for three points at 2 l a tonne: shown as saved, not weighed as earned.
    assert_allclose(comparison.plan.ballast_l.sum(), -3.0 * 1.025 * 2.0 * 3, rtol=0.01)
    free = price(
        replace(p, carry_l_per_t=np.zeros(3)), comparison.cost, (move,), comparison.plan.rule
    )
    assert_allclose(comparison.plan.weighed_l, free.weighed_l, rtol=1e-9)
    rules = _codes(comparison)["ballast_rules"]
    assert rules.severity == "caution"
    assert "ballast-water rules apply" in rules.text


def test_liquid_moved_against_forecast_wind_says_what_list_she_has_alongside():
    p = problem(3, list_moment_t_m=0.0, wind_moment_t_m=np.full(3, 9.0))
    comparison = compare_policies(p)
    (move,) = comparison.plan.moves
    assert move.point == 0
    listed = np.degrees(np.arctan(-move.amount_m3 * 0.845 * 5.0 / 560.0))
    assert listed < -0.5
    said = _codes(comparison)["list_alongside"]
    assert side_words(float(listed)) in said.text
    assert "Without that wind she keeps it" in said.text
    # The same list taken out of her is no pre-listing.
    listing = compare_policies(problem(3, list_moment_t_m=9.0))
    assert listing.plan.moves
    assert "list_alongside" not in _codes(listing)
