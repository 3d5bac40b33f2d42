"""March at a held fuel rate, slowed by the drag of working fins, offset and heel.

That drag depends on the roll along the track, and the times along the track depend on the
drag. The first march leaves it out; each later one uses the drag of the one before.
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

#: Number of marches with the drag of the one before. Each reduces the error to a twentieth: for
#: an offset that takes 3 % of the fuel, arrival is 20 s out after one, 1 s after two.
HELD_ROUNDS = 2

#: March by a speed rule, from a first guess of the times at the points.
Go = Callable[[SpeedRule, Array | None], March]
RuleOf = Callable[[OwnDrag | None], SpeedRule]


def own_drag(yacht: Yacht, way: March, here: Evaluation, choices: Choices) -> OwnDrag:
    """Drag of fins and heel at the points of a march, as a force on the engines. [N]

    0 where it is not known; there the missing sea decides what is known.
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
    """Hours and miles by which a march is behind a faster one."""
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
    """March at a held fuel rate and the drag in it; arguments as in `loaded.evaluate_loaded`.

    ``rule_of`` gives the speed rule for a drag, ``go`` the march by a rule.
    """
    way = go(rule_of(None), None)
    own = OwnDrag()
    some = replace(choices, band=False, both=False)
    for _ in range(HELD_ROUNDS):
        here = evaluate(yacht, way, some, fuel_only=True)
        some = loaded_choices(vessel, leg, orders, way, here, some, length_m=length_m)[0]
        own = own_drag(yacht, way, here, some)
        way = go(rule_of(own), way.sampled_s)
    return way, own
