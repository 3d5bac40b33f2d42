"""Further values for the charts of a plan: limits, wave systems, the sea around her."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from passage.inputs.route import Route
from passage.inputs.vessel import Vessel
from passage.planning.plan.sea_frames import SeaAt, even_times, map_area, sea_frames
from passage.planning.plan.totals import usable_fuel_l
from passage.units import HOUR_S

if TYPE_CHECKING:
    from passage.inputs.forecast import Conditions, Forecast
    from passage.planning.plan.result import PlannedPassage

__all__ = ["map_area", "plan_marks", "sea_along"]


def plan_marks(vessel: Vessel, route: Route, sky: Conditions) -> dict[str, Any]:
    """Limits and waypoints of the plan, and the height of each system at its points."""
    first = route.legs[0]
    angles = [fin.max_angle_deg for fin in vessel.fins]
    return {
        "roll_limit_deg": vessel.limits.underway.roll_significant_deg,
        "window_h": vessel.limits.window_h,
        "roll_limit_at_rest_deg": vessel.limits.at_rest.roll_significant_deg,
        "motion_sickness_limit_percent": vessel.limits.underway.motion_sickness_percent,
        "limits": {
            "underway": asdict(vessel.limits.underway),
            "at_rest": asdict(vessel.limits.at_rest),
        },
        "fin_max_angle_deg": max(angles) if angles else None,
        "fin_max_rate_deg_s": max((fin.max_rate_deg_s for fin in vessel.fins), default=None),
        "natural_roll_period_s": vessel.roll.natural_period_s,
        "fin_gains": {
            "rate_gain_s": vessel.fins[0].rate_gain_s,
            "angle_gain": vessel.fins[0].angle_gain,
        }
        if vessel.fins
        else None,
        "usable_fuel_l": usable_fuel_l(vessel),
        "systems": {
            name: np.asarray(sky.height_m[..., i], dtype=float)
            for i, name in enumerate(sky.system_names)
        },
        "way_names": [first.name_from, *(leg.name_to for leg in route.legs if leg.kind != "stay")],
        "way_lat_deg": [
            first.lat_from_deg,
            *(leg.lat_to_deg for leg in route.legs if leg.kind != "stay"),
        ],
        "way_lon_deg": [
            first.lon_from_deg,
            *(leg.lon_to_deg for leg in route.legs if leg.kind != "stay"),
        ],
    }


def sea_along(
    route: Route, made: PlannedPassage, forecast: Forecast, count: int
) -> tuple[SeaAt, ...]:
    """Sea around the route at ``count`` times from departure to arrival."""
    hours = np.array([leg["hours"] for leg in made.legs], dtype=float)
    ends = made.departure_s + np.r_[0.0, np.cumsum(hours) * HOUR_S]
    times = even_times(made.departure_s, float(ends[-1]), count)
    return sea_frames(forecast, [route], times, [ends])
