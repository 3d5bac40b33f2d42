"""Sections of the vessel file about money: prices, and a list she always has."""

from __future__ import annotations

from dataclasses import dataclass

from passage.inputs.vessel.keys import key, optional


@dataclass(frozen=True, kw_only=True)
class Money:
    """Prices, to compare in money instead of litres."""

    fuel_price_per_l: float = key("price of a litre of fuel", unit="per l", ge=0, le=1000)
    currency: str = key("name of the currency", min_length=1, max_length=12)
    crew_cost_per_hour: float = key(
        "cost of an hour of crew time", unit="per hour", default=0.0, ge=0, le=100_000
    )


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A list she always has, for `passage season`: its cures are priced over the season."""

    lists_deg: tuple[float, ...] = key(
        "standing lists, + to starboard", unit="deg", min_length=1, max_length=8
    )
    ballast_t: float | None = optional("weight carried for good against it", gt=0, le=1000)
    ballast_y_m: float | None = optional("its place, + to starboard", ge=-30, le=30)
    ballast_z_m: float | None = optional("its place above the waterline", ge=-20, le=30)
    passages_per_year: float | None = optional(
        "passages a year, for prices per year", unit="per year", ge=0.1, le=10_000
    )
    ballast_cost: float = key(
        "what the weight costs once", unit="", default=0.0, ge=0, le=1_000_000_000
    )
    ballast_years: float = key(
        "years over which that is written off", unit="years", default=10.0, ge=0.5, le=100
    )
