"""The price of a transfer of liquid, to compare with holding a list with the fins."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from passage.inputs.vessel import Vessel
from passage.planning.heel.build import HeelPrices, named_pairs, transfer_prices
from passage.units import deg_to_rad


@dataclass(frozen=True)
class TransferPrice:
    """Litres of one transfer; None, with the reason, where impossible."""

    litres: float | None
    words: str


def transfer_price(
    vessel: Vessel,
    *,
    left_deg: float = 0.0,
    fuel_price_per_l: float | None = None,
    crew_cost_per_hour: float | None = None,
) -> TransferPrice:
    """Price of the cheapest single transfer that takes out the list at departure.

    Or leaves a list of ``left_deg``.

    It is crew time (5 litres of fuel where no price is given, an assumption) and pumping,
    priced as in ``passage heel``; prices given here replace the vessel file's. The amount
    is the least that any pair of tanks needs with room for it. Ballast, several transfers and
    stability are considered by ``passage heel`` only.
    """
    if not vessel.fins:
        return TransferPrice(None, "no fins are fitted")
    if vessel.transfer is None:
        return TransferPrice(None, "the vessel file has no [transfer] section")
    if vessel.estimate_of("vessel.gm_m") is not None:
        return TransferPrice(None, "GM is estimated: look it up in the stability booklet first")
    hull = vessel.particulars
    listed, left = (np.tan(deg_to_rad(deg)) for deg in (vessel.loading.list_deg, left_deg))
    moment = hull.displacement_t * hull.gm_m * (listed - left)
    if abs(vessel.loading.list_deg) < 1e-9 or abs(moment) < 1e-9:
        return TransferPrice(None, "she has no list at departure")
    amounts = []
    for source, target in named_pairs(vessel, ballast=False):
        one, two = vessel.tanks[source], vessel.tanks[target]
        per_m3 = one.density_t_m3 * (two.y_m - one.y_m)
        if per_m3 * moment >= 0.0:
            continue
        amount = float(-moment / per_m3)
        free = min(one.content_m3 - one.minimum_m3, two.capacity_m3 - two.content_m3)
        if amount <= free:
            amounts.append((amount, f"{one.name} to {two.name}"))
    if not amounts:
        return TransferPrice(None, "no single transfer between tanks takes out the list")
    amount, words = min(amounts)
    asked = HeelPrices(fuel_price_per_l=fuel_price_per_l, crew_cost_per_hour=crew_cost_per_hour)
    fixed, per_m3, _, _ = transfer_prices(vessel, asked, [])
    pump = per_m3 * amount
    return TransferPrice(
        fixed + pump,
        f"{amount:.1f} m3 from {words}: {fixed + pump:,.0f} l in crew time and pumping",
    )
