"""Leg rows with the keys of ``variables.LEG_VARIABLES``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Route, Track
from passage.physics.fins.use import FIN_USE_WORDS
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.legs import (
    leg_coverage,
    leg_mean_direction,
    leg_starts,
    leg_sum,
    legs_from_points,
)
from passage.planning.voyage.march import March
from passage.units import HOUR_S, deg_to_rad, m_to_nm, rad_to_deg, utc_text, wrap_360
from passage.variables import COVERAGE, LEG_VARIABLES

Array = npt.NDArray[np.float64]

#: Directions, and the quantity whose square is their weight.
_DIRECTIONS = {
    "wave_from_deg": "significant_height_m",
    "wind_from_deg": "wind_speed_kn",
    "current_to_deg": "current_speed_kn",
    "course_to_steer_deg": None,
}
#: Angle from dead ahead or astern within which waves come from neither side [deg].
_NO_SIDE_DEG = 5.0


def leg_table(
    route: Route,
    track: Track,
    way: March,
    evaluation: Evaluation,
    departure_s: float,
    fins: str = "active",
) -> list[dict[str, Any]]:
    """One dict for each leg, for a march of shape ``(n,)``; ``fins`` is the user's choice."""
    starts = leg_starts(track.leg)
    hours = way.hours
    made = legs_from_points(evaluation.values, hours, track.leg)
    values = evaluation.values
    for name, weight_name in _DIRECTIONS.items():
        weight = hours if weight_name is None else hours * values[weight_name] ** 2
        direction = leg_mean_direction(deg_to_rad(values[name]), weight, starts)
        made[name] = wrap_360(rad_to_deg(direction))
    leg_hours = leg_sum(hours, starts)
    ends = departure_s + np.cumsum(leg_hours) * HOUR_S
    coverage = leg_coverage(way.conditions.coverage, starts)
    # The dose is that of the last six hours, so its peak may be before the end of the leg.
    sick = np.maximum.reduceat(np.asarray(values["motion_sickness_percent"]), starts)
    use = _commonest(evaluation.fin_use, hours, starts)
    side = leg_sum(evaluation_side(way, evaluation) * hours, starts)

    rows = []
    begin = departure_s
    for i, leg in enumerate(route.legs):
        row: dict[str, Any] = {variable.name: None for variable in LEG_VARIABLES}
        row |= {name: float(array[i]) for name, array in made.items()}
        stay = leg.kind == "stay"
        known_time = bool(np.isfinite(ends[i]))
        row |= {
            "leg": i + 1,
            "from": leg.name_from,
            "to": leg.name_to,
            "type": leg.kind,
            "distance_nm": float(m_to_nm(leg.distance_m)),
            "course_true_deg": None if stay else leg.course_true_deg,
            "etd_utc": utc_text(begin) if np.isfinite(begin) else None,
            "eta_utc": utc_text(ends[i]) if known_time else None,
            "hours": float(leg_hours[i]),
            "speed_over_ground_kn": 0.0
            if stay
            else float(m_to_nm(leg.distance_m) / leg_hours[i])
            if known_time
            else None,
            "coverage": COVERAGE[coverage[i]],
            "encounter_side": side_word(row["encounter_angle_deg"], side[i]),
            "motion_sickness_percent": float(sick[i]),
            "steady_heel_worst_deg": _largest(values["steady_heel_deg"][track.leg == i]),
            "fin_use": use_word(int(use[i]), fins),
        }
        rows.append(row)
        begin = ends[i]
    return rows


def _largest(values: Array) -> float:
    """Value of the largest magnitude, with its sign; NaN where none is known."""
    known = values[np.isfinite(values)]
    return float(known[np.argmax(np.abs(known))]) if known.size else float("nan")


def use_word(code: int, fins: str) -> str:
    """Word for a fin use; "centred" where the user chose centred fins."""
    word = FIN_USE_WORDS[code]
    return "centred" if fins == "centred" and word in ("active", "at rest") else word


def evaluation_side(way: March, evaluation: Evaluation) -> Array:
    """Side of the whole sea at each point: + starboard, - port."""
    angle = deg_to_rad(evaluation.values["wave_from_deg"]) - way.heading_rad
    return np.nan_to_num(np.sin(angle), nan=0.0)


def side_word(angle_deg: float | None, side: float) -> str | None:
    """Word for the side the sea comes from."""
    if angle_deg is None or not np.isfinite(angle_deg):
        return None
    if angle_deg >= 180.0 - _NO_SIDE_DEG:
        return "ahead"
    if angle_deg <= _NO_SIDE_DEG:
        return "astern"
    return "starboard" if side >= 0.0 else "port"


def _commonest(
    codes: npt.NDArray[np.int8], hours: Array, starts: Sequence[int] | npt.NDArray[np.int_]
) -> npt.NDArray[np.int_]:
    kinds = len(FIN_USE_WORDS)
    weights = np.nan_to_num(hours, nan=1e-6)
    totals = np.stack(
        [leg_sum((codes == code) * weights, np.asarray(starts)) for code in range(kinds)],
        axis=-1,
    )
    return np.argmax(totals, axis=-1)
