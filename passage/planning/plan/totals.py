"""Totals of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.vessel import Vessel
from passage.physics.fins.use import MANOEUVRING, fin_totals, fins_work
from passage.physics.fuel.propulsion import co2_tonnes, fuel_tonnes
from passage.planning.plan.partial import FUEL_PARTS, extended_sum, known_percent
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.limits import LIMIT_KEYS
from passage.planning.voyage.march import March

#: Leg keys of worst windows.
WINDOWS = tuple(key for key, _ in LIMIT_KEYS if key.startswith("window_"))
#: Leg keys that are summed.
SUMS: tuple[str, ...] = (
    "distance_nm",
    "hours",
    "fuel_l",
    "fuel_low_l",
    "fuel_high_l",
    *FUEL_PARTS,
)


def usable_fuel_l(vessel: Vessel) -> float | None:
    """Fuel above the tanks' minimum; None where the vessel file has no fuel tank. [l]"""
    tanks = [tank for tank in vessel.tanks if tank.holds == "fuel"]
    if not tanks:
        return None
    return 1000.0 * sum(max(tank.content_m3 - tank.minimum_m3, 0.0) for tank in tanks)


#: Share of time at a limit or beyond the stall up to which roll is within 5 % and drag within 10 %
#: of simulations in time, but for a few cases in a hundred (docs/roll-validation.md). [%]
CHECKED_TO_PERCENT = 50.0
#: The share up to which roll and drag were compared with simulations at all. [%]
SIMULATED_TO_PERCENT = 80.0


def fuel_aboard_note(vessel: Vessel, fuel_l: npt.ArrayLike, what: str) -> str | None:
    """Sentence if some of many fuel totals are more than is aboard; None otherwise.

    ``fuel_l`` of any shape, NaN where not known [l]; ``what`` is the word for the totals, in
    the plural.
    """
    usable = usable_fuel_l(vessel)
    fuel = np.asarray(fuel_l, dtype=float)
    known = np.isfinite(fuel)
    if usable is None or not np.any(known):
        return None
    short = int(np.sum(fuel[known] > usable))
    if not short:
        return None
    return (
        f"the fuel aboard does not last on {short} of {int(known.sum())} {what}: the tanks hold "
        f"{usable:,.0f} l above their minimum, and up to {np.max(fuel[known]):,.0f} l are burnt"
    )


def at_limits_note(
    share_percent: npt.ArrayLike, what: str, where: str = "on a leg of"
) -> str | None:
    """Sentence if fins are at a limit so often that roll is doubtful; None otherwise.

    ``share_percent`` of any shape is that of the worst leg, NaN where not known; ``what`` is the
    word for the passages, in the plural, and ``where`` the words before their number.
    """
    share = np.asarray(share_percent, dtype=float)
    share = share[np.isfinite(share)]
    busy = int(np.sum(share > CHECKED_TO_PERCENT))
    if not busy:
        return None
    return (
        f"the fins are at a limit of angle or rate more than {CHECKED_TO_PERCENT:.0f} % of the "
        f"time {where} {busy} of {share.size} {what} (up to {np.max(share):.0f} %): the roll "
        "there is doubtful, by some 5 % either way, and the fins' drag by 10 % and more"
    )


def plan_totals(
    vessel: Vessel,
    legs: Sequence[dict[str, Any]],
    evaluation: Evaluation,
    way: March,
    fins: str = "active",
) -> dict[str, Any]:
    """Sums, worst values and the engineer's fin totals; ``fins`` is the user's choice.

    Where part of the passage is not covered, a sum is extended if enough is (``partial.py``)
    and otherwise None; ``known_percent`` is the known share of the time, ``fuel_covered_l`` the
    fuel of that part, and ``legs_with_fuel`` the number of legs known in full.
    """
    totals: dict[str, Any] = {}
    for name in SUMS:
        totals[name] = extended_sum(name, legs, way, evaluation)
    everywhere = np.ones(np.shape(way.hours), bool)
    totals["known_percent"] = known_percent(way, evaluation, everywhere)
    points = np.asarray(evaluation.values["fuel_l"], dtype=float)
    totals["fuel_covered_l"] = float(np.nansum(points))
    full = [leg for leg in legs if leg.get("known_percent", 100.0) >= 100.0]
    totals["legs_with_fuel"] = len([leg for leg in full if _is_number(leg["fuel_l"])])
    totals["eta_utc"] = legs[-1]["eta_utc"]
    fuel = totals["fuel_l"]
    density = vessel.propulsion.fuel_density_t_m3
    totals["fuel_t"] = None if fuel is None else float(fuel_tonnes(fuel, density))
    totals["co2_t"] = None if fuel is None else float(co2_tonnes(fuel, density))
    distance = totals["distance_nm"]
    totals["fuel_l_per_nm"] = fuel / distance if fuel is not None and distance else None
    totals["cost"] = None
    totals["currency"] = None
    if vessel.money is not None:
        totals["currency"] = vessel.money.currency
        totals["cost"] = None if fuel is None else fuel * vessel.money.fuel_price_per_l
    for name in (
        "significant_height_m",
        "roll_centred_significant_deg",
        "roll_active_significant_deg",
        "lateral_acceleration_rms_g",
        "vertical_acceleration_rms_g",
        "fin_at_limit_percent",
        "motion_sickness_percent",
    ):
        totals[f"worst_leg_{name}"] = _worst(legs, name)
    for name in WINDOWS:
        totals[f"worst_{name}"] = _worst(legs, name)
    worst = np.asarray(evaluation.values["roll_active_rms_deg"])
    totals["worst_point_roll_active_rms_deg"] = (
        float(np.nanmax(worst)) if np.any(np.isfinite(worst)) else None
    )
    codes = evaluation.fin_use
    if fins != "active":
        # The user chose not to use the fins where they could work.
        codes = np.where(fins_work(codes), MANOEUVRING, codes)
    engineer = fin_totals(
        codes,
        way.hours,
        evaluation.values["fin_travel_deg_per_h"],
        evaluation.values["fin_at_limit_percent"],
    )
    for name in (
        "hours_active",
        "hours_centred",
        "hours_at_rest",
        "travel_deg",
        "at_limit_percent",
    ):
        key = name if name.startswith("hours") else f"fin_{name}"
        totals[key.replace("hours_", "fin_hours_")] = float(getattr(engineer, name))
    return totals


def _is_number(value: Any) -> bool:
    return value is not None and value == value


def _worst(legs: Sequence[dict[str, Any]], name: str) -> float | None:
    values = [leg[name] for leg in legs if _is_number(leg.get(name))]
    return float(max(values)) if values else None
