"""Speed rules end in what the plan then prices: the same still water, the same forces."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.physics.waves.seas import Seas
from passage.planning.voyage.evaluate import Choices, evaluate
from passage.planning.voyage.held import held_way, own_drag
from passage.planning.voyage.march import march
from passage.planning.voyage.policy import engine_rule, fuel_rule
from passage.planning.voyage.seas import resistance_at, sea_channels
from passage.planning.voyage.yacht import Yacht
from passage.units import KNOT_M_S


@pytest.fixture(scope="module")
def plan(load_helper):
    return load_helper("planning_scenario")


def heavy(plan, most=None):
    """A yacht a third heavier than when her speed-fuel points were measured."""
    vessel = plan.vessel()
    trial = vessel.particulars.displacement_t / 1.33
    propulsion = replace(
        vessel.propulsion, trial_displacement_t=trial, max_fuel_l_per_h=most, engine_power_kw=None
    )
    return Yacht(replace(vessel, propulsion=propulsion))


def burnt(plan, yacht, rule, speed_kn):
    track = plan.track((45, -8), (46, -8), speed_kn=speed_kn)
    sea = plan.UniformForecast(from_deg=0.0)
    way = march(track, sea, 0.0, np.full(len(track), speed_kn * KNOT_M_S), rule=rule)
    return evaluate(yacht, way, Choices(fins="centred", band=False)).split.main_engines


# Forces are interpolated between five speeds: a few parts in a thousand of the whole.
def test_fuel_held_is_fuel_burnt(plan):
    yacht = heavy(plan)
    # Admiralty coefficient: power at a speed goes as displacement to the power 2/3.
    expected = yacht.curve.fuel(11.0 * KNOT_M_S) * 1.33 ** (2.0 / 3.0)
    assert_allclose(burnt(plan, yacht, fuel_rule(yacht, "all-heading"), 11.0), expected, rtol=4e-3)


@pytest.mark.parametrize("heel", ["fins", "leave"])
def test_fuel_held_is_fuel_burnt_with_the_fins_at_work_and_a_list(plan, heel):
    """The engines burn the rate whatever she drags: fins at work, an offset, the list itself."""
    vessel = plan.vessel()
    loading = replace(vessel.loading, list_deg=2.0, burn=(), events=())
    yacht = Yacht(vessel := replace(vessel, loading=loading))
    track = plan.track((45, -8), (46, -8), speed_kn=11.0)
    sea = plan.UniformForecast(from_deg=80.0)
    choices = Choices(heel=heel, list_rad=np.radians(2.0), band=False)
    speed = np.full(len(track), 11.0 * KNOT_M_S)
    way, own = held_way(
        vessel, yacht, track.leg, (), choices,
        lambda rule, first_s: march(track, sea, 0.0, speed, rule=rule, first_s=first_s),
        lambda drag: fuel_rule(yacht, "all-heading", drag), length_m=track.length_m,
    )  # fmt: skip
    made = evaluate(yacht, way, choices)
    expected = yacht.curve.fuel(11.0 * KNOT_M_S) * yacht.displacement_ratio ** (2.0 / 3.0)
    assert_allclose(made.split.main_engines, expected, rtol=4e-3)
    # Without it she would burn more: the drag is felt, and what was sailed with is what she has.
    free = march(track, sea, 0.0, speed, rule=fuel_rule(yacht, "all-heading"))
    assert np.all(evaluate(yacht, free, choices).split.main_engines > 1.03 * expected)
    assert_allclose(own.force_n, own_drag(yacht, way, made, choices).force_n, rtol=2e-3)


def test_engines_at_their_most_burn_no_more(plan):
    yacht = heavy(plan, most=250.0)
    assert_allclose(burnt(plan, yacht, engine_rule(yacht, "all-heading"), 13.0), 250.0, rtol=4e-3)


def test_force_at_a_trial_speed_is_that_of_a_plan_at_this_speed(plan):
    """The table of resistance alone answers as the joined one pinned to the same speed."""
    yacht, speed = Yacht(plan.vessel()), 10.37 * KNOT_M_S
    yacht.pin(speed)
    lat = np.array([45.0, 45.5])
    sky = plan.UniformForecast(from_deg=50.0).sample(lat, np.full(2, -8.0), np.zeros(2))
    heading = np.array([0.4, 2.0])
    mu, alone = resistance_at(yacht, sky, heading, speed)
    same_mu, joined = sea_channels(yacht, sky, heading, np.full(2, speed))
    assert_allclose(mu, same_mu, rtol=1e-7)
    # The tables are sums in single precision.
    main = joined[..., yacht.resistance_channel]
    assert_allclose(alone[..., 0], main, rtol=1e-5)
    assert np.all(alone[..., 0] != 0.0)


def test_shapes_made_ready_together_are_those_made_one_by_one(plan):
    one, other = Yacht(plan.vessel(), keep_tables=False), Yacht(plan.vessel(), keep_tables=False)
    speed = np.full(2, 10.0 * KNOT_M_S)
    seas = [Seas(np.full((2, 1), 2.0), 8.0, 1.0, gamma, 0.5) for gamma in (1.0, 3.3)]
    one.roll_tables.make_ready(speed, seas)
    for gamma in (1.0, 3.3):
        asked = (speed, np.full((2, 1), 2.0), 8.0, 1.0, gamma, 0.5)
        together, alone = (y.roll_tables.variance(*asked) for y in (one, other))
        assert_allclose(together, alone, rtol=1e-5)


def test_a_limited_speed_makes_no_table_of_motions(plan):
    """They take ten times as long to make as those of resistance alone."""
    yacht = heavy(plan, most=250.0)
    track = plan.track((45, -8), (46, -8), speed_kn=13.0)
    asked = np.full(len(track), 13.0 * KNOT_M_S)
    rule = engine_rule(yacht, "all-heading")
    way = march(track, plan.UniformForecast(from_deg=0.0), 0.0, asked, rule=rule)
    assert np.all(way.speed_through_water_m_s < asked)
    assert yacht.sea_tables.nbytes == 0
    assert yacht.resistance_tables.nbytes > 0
