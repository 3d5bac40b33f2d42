"""From the invented yacht's file and a plan's legs to the heel problem."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from passage.inputs.vessel import read_vessel
from passage.planning.heel.build import (
    HeelPoints,
    HeelPrices,
    build_problem,
    named_pairs,
)
from passage.planning.heel.model import SEA
from passage.planning.heel.options import compare_policies
from passage.planning.heel.rules import broken_rules
from passage.planning.voyage.loading import draw_down

FILE = Path(__file__).parents[3] / "sample_forecasts" / "brambling.toml"


@pytest.fixture(scope="module")
def vessel():
    """The invented yacht Brambling."""
    return read_vessel(FILE)


def _legs(n=4, **changes):
    values = {
        "names": tuple(f"{i}" for i in range(n)),
        "hours": np.full(n, 3.0),
        "speed_kn": np.full(n, 11.0),
        "fuel_l": np.full(n, 550.0),
        "wind_moment_t_m": np.zeros(n),
        "roll_significant_deg": np.full(n, 3.0),
        "fin_l_per_moment2": np.full(n, 0.14),
        "fin_moment_max_t_m": np.full(n, 15.0),
    }
    values.update(changes)
    return HeelPoints(**values)


def test_numbers_of_the_file_arrive(vessel):
    p = build_problem(vessel, _legs())
    assert_allclose(p.list_moment_t_m, 550.0 * np.tan(np.radians(1.5)), rtol=1e-12)
    # 25 min of crew at 45 an hour, fuel at 1.10: 17.0 l.
    assert_allclose(p.transfer_fixed_l, 45.0 * 25.0 / 60.0 / 1.10, rtol=1e-12)
    # 3 kW for 1/12 h a cubic metre.
    generator = vessel.hotel.generator_specific_fuel_g_per_kwh
    assert_allclose(p.pump_l_per_m3, 3.0 / 12.0 * generator / 845.0, rtol=1e-9)
    assert_allclose(p.limit_deg, 1.0, rtol=1e-7)
    assert p.gm_minimum_m == 0.60
    # 550 l a leg by shares 0.45 and 0.55.
    assert_allclose(p.burn_m3[:, :2], [[0.2475, 0.3025]] * 4, rtol=1e-12)
    assert_allclose(p.carry_l_per_t, 2.0 / 3.0 * 550.0 / 550.0, rtol=1e-12)
    # Displacement x GM = rho I + displacement (KB - KG). A layer w taken on at the
    # waterline T adds w T to displacement x KB, and w (T + z) to displacement x KG, so
    # a wall-sided hull gains -w z: 1.2 m under the waterline here.
    assert_allclose(p.tanks[0].stiffness_t_m_per_m3, 0.845 * 1.2, rtol=1e-12)
    assert_allclose(p.tanks[0].free_surface_t_m, 0.845 * 6.0 * 1.6**3 / 12.0, rtol=1e-12)


def test_pairs_hold_the_same_liquid_and_help(vessel):
    pairs = named_pairs(vessel, True)
    names = [tank.name for tank in vessel.tanks]
    words = {tuple("sea" if i == SEA else names[i] for i in pair) for pair in pairs}
    assert ("fuel port", "fuel starboard") in words
    assert ("fuel centre", "fuel port") in words
    assert ("sea", "ballast port") in words
    assert ("ballast starboard", "sea") in words
    assert not any("fuel" in a and "water" in b for a, b in words)
    assert not any(SEA in pair for pair in named_pairs(vessel, False))
    only = replace(vessel.tanks[0], moves_with=("fuel centre",))
    joined = named_pairs(replace(vessel, tanks=(only, *vessel.tanks[1:])), True)
    assert (0, 1) not in joined
    assert (1, 0) not in joined
    assert (0, 2) in joined


def test_at_rest_and_forbidden_legs_get_no_offset(vessel):
    p = build_problem(
        vessel,
        _legs(
            speed_kn=np.array([11.0, 0.0, 2.9, np.nan]),
            offset_forbidden=np.array([True, False, False, False]),
        ),
    )
    assert p.fin_moment_max_t_m.tolist() == [0.0, 0.0, 0.0, 0.0]
    assert p.limit_deg.tolist()[:3] == [1.0, 1.5, 1.5]
    assert p.leave_l_per_deg2[1] == 0.0


def test_roll_forbids_transfers_at_sea_but_not_alongside(vessel):
    rough = np.array([9.0, 9.0, 3.0, np.nan])
    p = build_problem(vessel, _legs(roll_significant_deg=rough))
    assert p.transfer_allowed.tolist() == [True, False, True, False]
    assert p.transfer_hours[0] == 12.0
    masters = build_problem(
        vessel,
        _legs(transfer_forbidden=np.array([True, False, True, False])),
        HeelPrices(alongside_hours=0.0),
    )
    assert masters.transfer_allowed.tolist() == [False, True, False, True]


def test_missing_numbers_are_noted_and_allow_nothing(vessel):
    p = build_problem(
        vessel,
        _legs(
            wind_moment_t_m=np.array([1.0, np.nan, np.nan, 1.0]),
            fin_l_per_moment2=np.array([0.1, 0.1, np.nan, 0.1]),
            fuel_l=np.array([500.0, 500.0, 500.0, np.nan]),
        ),
    )
    assert any("wind heel not known" in note and "2, 3" in note for note in p.notes)
    assert p.fin_moment_max_t_m[2] == 0.0
    assert p.burn_m3[3].sum() == 0.0
    plan = compare_policies(p).plan
    assert np.isfinite(plan.total_l)


def test_worth_of_roll_lost_to_an_offset(vessel):
    p = build_problem(
        vessel,
        _legs(
            offset_fraction=np.array([0.0, 0.5, 1.0]),
            offset_roll_deg=np.array([[2.0, 2.5, 4.0]] * 4),
        ),
        HeelPrices(roll_l_per_deg_h=2.0),
    )
    assert p.offset_price_l is not None
    assert_allclose(p.offset_price_l[0], [0.0, 3.0, 12.0], rtol=1e-12)


def test_without_money_a_transfer_is_set_in_litres(vessel):
    p = build_problem(replace(vessel, money=None), _legs())
    assert p.transfer_fixed_l == 5.0
    assert any("no prices given" in note for note in p.notes)
    assert p.fuel_price_per_l is None


def test_without_a_pump_nothing_is_moved(vessel):
    p = build_problem(replace(vessel, transfer=None), _legs())
    assert p.pairs == ()
    assert compare_policies(p).plan.moves == ()


def test_events_add_from_their_leg_on(vessel):
    from passage.inputs.vessel.model import LoadingEvent

    event = LoadingEvent(leg=3, moment_t_m=-6.0, what="tender launched")
    loaded = replace(vessel, loading=replace(vessel.loading, events=(event,)))
    assert build_problem(loaded, _legs()).event_moment_t_m.tolist() == [0.0, 0.0, -6.0, -6.0]


def test_the_advice_for_the_invented_yacht_keeps_every_rule(vessel):
    found = compare_policies(build_problem(vessel, _legs(12)))
    assert found.sequence.proven
    assert broken_rules(found.problem, found.plan.moves) == []
    assert found.plan.within_limit
    # A list that lasts 36 hours: moved, as the trade's rule says.
    assert len(found.plan.moves) == 1
    assert found.plan.gm_m.min() >= 0.60


def test_on_a_short_leg_the_fins_hold_it(vessel):
    # Half an hour at 11 kn: fins hold the rest above the limit for less than a transfer.
    short = _legs(
        1, hours=np.array([0.5]), fuel_l=np.array([80.0]), fin_l_per_moment2=np.array([0.023])
    )
    found = compare_policies(build_problem(vessel, short))
    assert found.plan.moves == ()
    assert abs(found.plan.fins_t_m[0]) > 1.0
    assert found.plan.within_limit


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.floats(0.0, 10.0), min_size=3, max_size=3),
    st.lists(st.floats(0.0, 3.0), min_size=1, max_size=6),
    st.floats(0.0, 1.0),
)
def test_draw_down_takes_what_is_wanted_and_no_more_than_there_is(content, wanted, first):
    content, wanted = np.array(content), np.array(wanted)
    floor = np.array([0.5, 0.0, 0.2])
    drawn, short = draw_down(content, floor, np.array([first, 1.0 - first, 0.0]), wanted)
    assert np.all(drawn >= 0.0)
    assert_allclose(drawn.sum(axis=1) + short, wanted, atol=1e-6)
    left = content - drawn.sum(axis=0)
    assert np.all(left >= np.minimum(content, floor) - 1e-9)
    if short.sum() > 1e-6:
        assert_allclose(np.maximum(left - floor, 0.0), 0.0, atol=1e-6)
