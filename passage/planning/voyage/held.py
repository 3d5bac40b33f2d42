"""The way at a held fuel rate, slowed by all that she drags: fins at work, an offset, heel.

What fins and heel take of the engines depends on the roll along the way, and the way on
what they take. She is sailed without it first, then with what it was there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.vessel import Vessel
from passage.physics.fins.drag import heel_drag_share
from passage.physics.fuel.propulsion import brake_power_from_fuel
from passage.planning.voyage.evaluate import Evaluation, evaluate
from passage.planning.voyage.loaded import loaded_choices
from passage.planning.voyage.march import March, SpeedRule
from passage.planning.voyage.policy import OwnDrag
from passage.planning.voyage.rolling import Choices
from passage.planning.voyage.yacht import Yacht
from passage.units import deg_to_rad, m_s_to_knots

if TYPE_CHECKING:
    from passage.inputs.moves_file import Order

Array = npt.NDArray[np.float64]

#: Ways sailed with the drag of the one before. Each leaves a twentieth of the error: an
#: offset that takes 3 % of the fuel moves the arrival by 20 s after one, by 1 s after two.
HELD_ROUNDS = 2

#: Sails by a rule for the speed, from a first guess of the times at the points.
Go = Callable[[SpeedRule, Array | None], March]
RuleOf = Callable[[OwnDrag | None], SpeedRule]


def own_drag(yacht: Yacht, way: March, here: Evaluation, choices: Choices) -> OwnDrag:
    """What fins and heel take of the engines at the points of a way, as a force.

    0 where it is not known: what is not known of the sea decides there.
    """
    speed = way.speed_through_water_m_s
    ratio = choices.displacement_ratio
    heel = deg_to_rad(here.values["steady_heel_deg"])
    power = brake_power_from_fuel(here.split.still_water, yacht.engine) * heel_drag_share(heel)
    moving = speed > 0.0
    listed = yacht.engine.propulsive_efficiency * power / np.where(moving, speed, 1.0)
    force = here.values["fin_drag_active_n"] + here.values["fin_drag_offset_n"] + listed
    return OwnDrag(np.where(moving, np.nan_to_num(force), 0.0), ratio)


def lost_to(faster: March, way: March) -> tuple[float, float]:
    """Hours by which a way is later than a faster one, and the miles she is behind by."""
    hours = float(np.sum(way.hours) - np.sum(faster.hours))
    ahead = faster.speed_through_water_m_s - way.speed_through_water_m_s
    return hours, float(np.sum(m_s_to_knots(ahead) * way.hours))


def held_way(
    vessel: Vessel,
    yacht: Yacht,
    leg: npt.NDArray[np.int64],
    orders: Sequence[Order],
    choices: Choices,
    go: Go,
    rule_of: RuleOf,
    *,
    length_m: Array,
) -> tuple[March, OwnDrag]:
    """The way, and the drag she was slowed by; arguments as `loaded.evaluate_loaded` has them."""
    way = go(rule_of(None), None)
    own = OwnDrag()
    some = replace(choices, band=False, both=False)
    for _ in range(HELD_ROUNDS):
        here = evaluate(yacht, way, some, fuel_only=True)
        some = loaded_choices(vessel, leg, orders, way, here, some, length_m=length_m)[0]
        own = own_drag(yacht, way, here, some)
        way = go(rule_of(own), way.sampled_s)
    return way, own
