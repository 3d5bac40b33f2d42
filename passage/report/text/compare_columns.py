"""The columns of a comparison, common to the table, CSV, JSON, NetCDF and the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from passage.planning.compare.choice import why_words
from passage.planning.compare.compare import Comparison
from passage.planning.odds.count import PERCENTILES
from passage.planning.plan.result import plain
from passage.planning.voyage.limits import LIMIT_WORDS
from passage.units import utc_text
from passage.variables import BY_NAME


@dataclass(frozen=True)
class TotalColumn:
    """A number of a combination: key, unit (UDUNITS), heading, decimals, meaning."""

    key: str
    unit: str
    heading: str
    decimals: int
    meaning: str


def _worst(name: str, heading: str) -> TotalColumn:
    variable = BY_NAME[name]
    return TotalColumn(
        f"worst_leg_{name}",
        variable.unit,
        heading,
        variable.decimals,
        f"largest of the legs: {variable.meaning}",
    )


def _fuel_part(name: str) -> TotalColumn:
    variable = BY_NAME[name]
    return TotalColumn(name, "L", variable.heading, 0, variable.meaning)


TOTALS: tuple[TotalColumn, ...] = (
    TotalColumn("distance_nm", "nautical_mile", "nm", 1, "length over the ground"),
    TotalColumn("hours", "hour", "hours", 1, "duration"),
    TotalColumn("fuel_l", "L", "fuel", 0, "fuel, all users"),
    TotalColumn(
        "fuel_extended_l",
        "L",
        "fuel extended",
        0,
        "fuel, the part not covered by the forecast taken at the mean rate of the rest; missing "
        "where too little is known",
    ),
    TotalColumn(
        "known_percent", "percent", "known", 0, "share of the hours that the forecast covers"
    ),
    TotalColumn(
        "worst_window_roll_significant_deg",
        "degree",
        "worst roll",
        1,
        "roll of the worst window (an hour), significant single amplitude, fins as used",
    ),
    TotalColumn(
        "mean_roll_significant_deg",
        "degree",
        "mean roll",
        2,
        "roll weighted by time, significant single amplitude, fins as used",
    ),
    TotalColumn(
        "hours_over_roll_limit",
        "hour",
        "h over roll limit",
        1,
        "time with roll above the owner's limit",
    ),
    _worst("motion_sickness_percent", "sick"),
    _worst("lateral_acceleration_rms_g", "lateral g"),
    _worst("vertical_acceleration_rms_g", "vertical g"),
    _worst("significant_height_m", "Hs"),
    _worst("roll_centred_significant_deg", "roll centred"),
    _worst("roll_active_significant_deg", "roll active"),
    _worst("fin_at_limit_percent", "at limit"),
    TotalColumn(
        "limit_share",
        "1",
        "tightest limit",
        2,
        "largest value as a share of its limit, of all legs and limits: above 1 is over",
    ),
    TotalColumn("fin_travel_deg", "degree", "fin travel", 0, "angle a fin swings through"),
    _fuel_part("fuel_still_water_l"),
    _fuel_part("fuel_waves_l"),
    _fuel_part("fuel_wind_l"),
    _fuel_part("fuel_fins_active_l"),
    _fuel_part("fuel_fins_offset_l"),
    _fuel_part("fuel_list_l"),
    _fuel_part("fuel_hotel_l"),
    TotalColumn("co2_t", "t", "CO2", 1, "carbon dioxide from the fuel"),
    TotalColumn(
        "arrival_sun_altitude_deg",
        "degree",
        "sun",
        1,
        "altitude of the sun's centre at the last waypoint on arrival",
    ),
)
#: UDUNITS names by the short unit of a measure of comfort.
_UNITS = {"deg": "degree", "h": "hour", "%": "percent", "g": "1"}
COST = TotalColumn("cost", "", "cost", 0, "price of the fuel, in the vessel file's currency")


def total_columns(found: Comparison) -> tuple[TotalColumn, ...]:
    """The columns this comparison has; cost only with a price."""
    columns = (*TOTALS, COST) if "cost" in found.totals else TOTALS
    return columns if found.odds is None else (*columns, *odds_columns(found))


def odds_columns(found: Comparison) -> tuple[TotalColumn, ...]:
    """Odds and spread of every combination, where they were counted."""
    assert found.odds is not None
    what, measure = f"{found.odds.draws} {found.odds.what}", found.options.measure
    shares = [
        ("asked", "odds", f"{what} that keep limits and what else is asked: arrival, budget"),
        ("within_limits", "odds, limits", f"{what} that keep all limits on all legs"),
    ]
    shares += [
        (key, f"odds, {LIMIT_WORDS[key]}", f"{what} that keep the limit of {LIMIT_WORDS[key]}")
        for key in found.odds.by_limit
    ]
    columns = [
        TotalColumn(f"odds_{key}_percent", "percent", heading, 0, meaning)
        for key, heading, meaning in shares
    ]
    for key, unit, heading, places in (
        ("fuel_l", "L", "fuel", 0),
        ("hours", "hour", "hours", 1),
        ("comfort", _UNITS[measure.unit], measure.heading, measure.decimals),
    ):
        columns += [
            TotalColumn(f"{key}_p{p}", unit, f"{heading}, {p} %", places,
                        f"{heading}: at most this in {p} % by {what}")
            for p in PERCENTILES
        ]  # fmt: skip
    return tuple(columns)


def known_words(found: Comparison, index: int) -> str:
    """``94 % known`` of one combination, never rounded up to all of it."""
    share = float(found.totals["known_percent"][index])
    return f"{np.floor(np.nan_to_num(share)):.0f} % known"


def names_of(found: Comparison) -> dict[int, list[str]]:
    """Combination to its names."""
    names: dict[int, list[str]] = {}
    for name, index in found.names.items():
        names.setdefault(index, []).append(name)
    return names


def record(found: Comparison, index: int, names: dict[int, list[str]]) -> dict[str, Any]:
    """One combination as plain values: None for missing, numbers from 1."""
    cell = found.cell_of(index)
    eta = float(found.totals["eta_s"][index])
    return {
        "number": index + 1,
        "route": found.routes[cell.route].name,
        "departure_utc": utc_text(found.departure_s[index]),
        "speed_kn": cell.speed_kn,
        "leg_speeds_kn": None if cell.leg_speeds_kn is None else list(cell.leg_speeds_kn),
        "fins": cell.fins,
        "eta_utc": utc_text(eta) if eta == eta else None,
        **{c.key: plain(found.totals[c.key][index]) for c in total_columns(found)},
        "open": bool(found.closed[index] == 0),
        "why_closed": why_words(int(found.closed[index])),
        "on_front": bool(found.front[index]),
        "names": names.get(index, []),
    }


def records(found: Comparison) -> list[dict[str, Any]]:
    """All combinations."""
    names = names_of(found)
    return [record(found, index, names) for index in range(len(found))]
