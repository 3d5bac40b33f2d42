"""Time and miles that fuel is worth where the engines hold their rate and speed gives way."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.physics.fuel.propulsion import displacement_factor
from passage.planning.voyage.march import March
from passage.planning.voyage.yacht import Yacht
from passage.units import m_s_to_knots

Array = npt.NDArray[np.float64]


def speed_given_up(yacht: Yacht, way: March, fuel_l: Array) -> tuple[float, float]:
    """Hours and miles that litres at each point cost where the fuel rate is held instead.

    At a held rate the engines give up the speed at which still water burns that much
    less: the slope of the speed-fuel curve there. NaN where speed is outside the curve.
    """
    speed, hours = way.speed_through_water_m_s, way.hours
    curve = yacht.curve
    moves = speed > 0.0
    at = np.where(moves, speed, curve.speed_m_s[0])
    step = 0.01 * at
    slope = (curve.fuel(at + step) - curve.fuel(at - step)) / (2.0 * step)
    slope = slope * displacement_factor(yacht.displacement_ratio)
    lost = np.where(moves, fuel_l / np.where(hours > 0.0, hours, 1.0) / slope, 0.0)
    over_ground = np.where(way.speed_over_ground_m_s > 0.0, way.speed_over_ground_m_s, np.inf)
    return float(np.sum(hours * lost / over_ground)), float(np.sum(m_s_to_knots(lost) * hours))
