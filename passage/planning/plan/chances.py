"""Odds and spread of a plan, from ensemble members or from draws of the error model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.inputs.vessel import Vessel
from passage.planning.odds.count import (
    PERCENTILES,
    count_odds,
    fans,
    interval_percent,
    model_share_percent,
    percentiles,
)
from passage.planning.odds.draws import Sailing, sail_draws
from passage.planning.odds.versions import versions_of
from passage.planning.plan.members import spread_of_members
from passage.planning.plan.totals import usable_fuel_l
from passage.planning.voyage.limits import LIMIT_KEYS, limits_of
from passage.units import HOUR_S, utc_text

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.voyage.prepare import Passage, PlanOptions

Array = npt.NDArray[np.float64]


Rows = list[dict[str, Any]]


def chances(
    passage: Passage,
    forecast: Forecast,
    options: PlanOptions,
    legs: Rows,
    totals: dict[str, Any],
    sailing: Sailing,
    member_of: Callable[[int], tuple[Rows, dict[str, Array]]],
    points: dict[str, Array],
) -> dict[str, tuple[Array, Array]]:
    """Odds and spread over the forecast's members or, where it has none, over draws.

    ``member_of`` gives the leg rows of a member and its point values for fans; ``points`` are
    the point values of the first member. ``legs`` and ``totals`` get new keys. Returns the fans
    by name.
    """
    known = (passage.vessel, options.departure_s)
    if forecast.n_members > 1:
        others = [member_of(member) for member in range(1, forecast.n_members)]
        members = [legs, *(rows for rows, _ in others)]
        named = getattr(forecast, "members", None)
        gaps = () if named is None else named.gaps
        totals["members"] = spread_of_members(members, gaps) | {
            "first": "the first member" if named is None else named.first
        }
        source = f"{forecast.n_members} members"
        put_chances(legs, totals, member_legs(members), *known, source, gaps=gaps)
        every = [points, *(more for _, more in others)]
        return fans({name: np.stack([one[name] for one in every]) for name in points})
    versions = versions_of(forecast, options.departure_s, options.draws, options.forecast_error)
    if versions is None:
        return {}
    made = sail_draws(passage, versions.sea, sailing)
    put_chances(legs, totals, made.legs, *known, versions.words(known[1]), made.doubts)
    return fans(made.points)


def member_legs(members: Sequence[Sequence[dict[str, Any]]]) -> dict[str, Array]:
    """Leg tables of members as arrays ``(members, legs)``, of the quantities that odds need."""
    names = {
        *(key for key, _ in LIMIT_KEYS),
        "fuel_l",
        "hours",
    }
    return {
        name: np.array([[_number(leg[name]) for leg in legs] for legs in members]) for name in names
    }


def _number(value: Any) -> float:
    return float("nan") if value is None else float(value)


def put_chances(
    legs: Sequence[dict[str, Any]],
    totals: dict[str, Any],
    values: dict[str, Array],
    vessel: Vessel,
    departure_s: float,
    source: str,
    doubts: Array | None = None,
    gaps: Sequence[int] = (),
) -> None:
    """Add odds and percentiles to leg rows and totals, without changing existing keys.

    ``values`` are arrays ``(draws, legs)``; ``doubts`` are the model's uncertain numbers in
    each draw. Percentiles leave out the members in ``gaps``, which miss values that others
    have; for the odds they do not keep a limit that is not known.
    """
    at_rest = [leg["type"] == "stay" for leg in legs]
    limits, judged = {}, {}
    for key, limit_key in LIMIT_KEYS:
        limits[limit_key] = limits_of(vessel, at_rest, limit_key)
        judged[limit_key] = values[key]
    odds = count_odds(judged, limits)
    fuel = np.sum(values["fuel_l"], axis=1)
    hours = np.sum(values["hours"], axis=1)
    draws = fuel.size
    totals["odds_source"] = source
    totals["odds_draws"] = draws
    totals["odds_within_limits_percent"] = None if odds is None else odds.whole
    totals["odds_interval_percent"] = None
    totals["odds_percent"] = {} if odds is None else odds.by_limit
    if odds is not None and odds.whole is not None:
        totals["odds_interval_percent"] = list(interval_percent(odds.whole, draws))
    for index, leg in enumerate(legs):
        leg["odds_within_limits_percent"] = None if odds is None else odds.by_leg[index]
    worst = np.max(values["window_roll_significant_deg"], axis=1)
    for name, made in (
        ("fuel_l", fuel),
        ("hours", hours),
        ("worst_window_roll_significant_deg", worst),
    ):
        whole = np.delete(made, list(gaps))
        for percent, value in zip(PERCENTILES, percentiles(whole), strict=True):
            totals[f"{name}_p{percent}"] = value
    for percent in PERCENTILES:
        taken = totals[f"hours_p{percent}"]
        totals[f"eta_utc_p{percent}"] = (
            None if taken is None else utc_text(departure_s + taken * HOUR_S)
        )
    usable = usable_fuel_l(vessel)
    totals["odds_fuel_lasts_percent"] = (
        None if usable is None or np.isnan(fuel).all() else float(100.0 * np.mean(fuel <= usable))
    )
    missing = int(np.sum(np.isnan(fuel)))
    totals["odds_draws_unknown"] = missing
    totals["spread_from_model_percent"] = None
    if doubts is not None:
        shares = {"fuel": model_share_percent(fuel, doubts),
                  "roll": model_share_percent(worst, doubts)}  # fmt: skip
        # A share that may be nothing is noise; how much it is at most is not.
        totals["spread_from_model_percent"] = {
            name: None if one is None or one[1] <= 0.0 else one[0] for name, one in shares.items()
        }
        totals["spread_from_model_interval_percent"] = {
            name: None if one is None else list(one[1:]) for name, one in shares.items()
        }
