"""Speed rules end in what the plan then prices: the same still water, the same forces."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from passage.planning.voyage.evaluate import Choices, evaluate
from passage.planning.voyage.march import march
from passage.planning.voyage.policy import engine_rule, fuel_rule
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


def test_engines_at_their_most_burn_no_more(plan):
    yacht = heavy(plan, most=250.0)
    assert_allclose(burnt(plan, yacht, engine_rule(yacht, "all-heading"), 13.0), 250.0, rtol=4e-3)
