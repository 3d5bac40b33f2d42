"""From the vessel file and the legs of a plan to one heel problem.

Every value that had to be assumed is written into the problem's notes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passage.inputs.vessel import Vessel
from passage.physics.fins.drag import heel_drag_share
from passage.physics.fins.use import UNDER_WAY_M_S
from passage.physics.fuel.propulsion import generator_fuel
from passage.planning.heel.model import (
    SEA,
    Flags,
    Floats,
    HeelProblem,
    HeelTank,
    slack_tanks,
)
from passage.units import DEG_RAD, knots_to_m_s

#: Heel at which the hull's own drag is matched by a price per degree squared [deg].
_MATCH_DEG = 2.0
#: Litres set against one transfer when no money is given; assumption.
CREW_L_PER_TRANSFER = 5.0


@dataclass(frozen=True, kw_only=True)
class HeelLegs:
    """What a plan knows of each leg; arrays ``(n,)`` unless said otherwise.

    ``fuel_l`` is all fuel of the leg without any correction of heel, ``hull_fuel_l``
    the main engines' still-water part (the same when ``None``). ``roll_significant_deg``
    is what the crew feel, with the fins as planned. ``fin_l_per_moment2`` and
    ``fin_moment_max_t_m`` as in :class:`HeelProblem`; a leg at rest, astern or where
    fins must stand centred gets 0 by ``offset_forbidden``. ``offset_roll_deg``
    ``(n, g)`` is the significant roll with offsets of ``offset_fraction`` ``(g,)``
    of the maximum. ``transfer_forbidden`` is the master's word.
    """

    names: tuple[str, ...]
    hours: Floats
    speed_kn: Floats
    fuel_l: Floats
    wind_moment_t_m: Floats
    roll_significant_deg: Floats
    fin_l_per_moment2: Floats
    fin_moment_max_t_m: Floats
    hull_fuel_l: Floats | None = None
    fin_angle_per_moment_deg: Floats | None = None
    offset_forbidden: Flags | None = None
    transfer_forbidden: Flags | None = None
    offset_fraction: Floats | None = None
    offset_roll_deg: Floats | None = None


@dataclass(frozen=True, kw_only=True)
class HeelPrices:
    """What comfort and crew are worth, over and above the vessel file.

    ``heel_l_per_deg_h``: litres an owner would burn to be rid of one degree of heel
    for an hour; ``roll_l_per_deg_h`` the same for a degree of significant roll.
    ``ballast`` says whether taking in and discharging is allowed at all.
    ``alongside_hours``: hours for moving liquid before departure.
    """

    heel_l_per_deg_h: float = 0.0
    roll_l_per_deg_h: float = 0.0
    fuel_price_per_l: float | None = None
    crew_cost_per_hour: float | None = None
    crew_l_per_transfer: float = CREW_L_PER_TRANSFER
    ballast: bool = True
    alongside_hours: float = 12.0
    smallest_transfer_m3: float = 0.05


def draw_down(
    content_m3: Floats, floor_m3: Floats, share: Floats, wanted_m3: Floats
) -> tuple[Floats, Floats]:
    """Fuel drawn from each tank leg by leg, and what no tank could give.

    Shares are kept while every tank has fuel above its floor; when one runs out
    the others carry its part, in proportion to their shares, and after them any
    other tank in proportion to what it holds.

    Returns
    -------
    drawn : ndarray (n, k)
    short : ndarray (n,)
        Cubic metres wanted and not there.
    """
    left = np.maximum(np.asarray(content_m3, dtype=float) - floor_m3, 0.0)
    drawn = np.zeros((len(wanted_m3), len(left)))
    short = np.zeros(len(wanted_m3))
    for leg, wanted in enumerate(np.nan_to_num(wanted_m3)):
        need = float(wanted)
        for weight in (share, left.copy()):
            for _ in range(len(left)):
                able = np.where((left > 1e-12) & (weight > 0.0), weight, 0.0)
                if need <= 1e-12 or able.sum() <= 0.0:
                    break
                take = np.minimum(need * (able / able.sum()), left)
                drawn[leg] += take
                left -= take
                need -= float(take.sum())
        short[leg] = max(need, 0.0) if need > 1e-9 else 0.0
    return drawn, short


def _tanks(vessel: Vessel, notes: list[str]) -> tuple[HeelTank, ...]:
    unknown_z = {tank.holds for tank in vessel.tanks if tank.z_m is None}
    for holds in sorted(unknown_z):
        notes.append(f"height of a {holds} tank not given: moving {holds} leaves KG as it is")
    tanks = []
    for tank in vessel.tanks:
        if tank.length_m is None or tank.breadth_m is None:
            surface = 0.0
            notes.append(f"free surface of {tank.name} not given (length_m, breadth_m): taken as 0")
        else:
            surface = tank.density_t_m3 * tank.length_m * tank.breadth_m**3 / 12.0
        known = tank.z_m is not None and tank.holds not in unknown_z
        # A hull that goes straight up at the waterline gains displacement there, so weight
        # taken in at the waterline leaves displacement x GM as it is; below it adds.
        arm = -tank.z_m if known and tank.z_m is not None else 0.0
        tanks.append(
            HeelTank(
                name=tank.name,
                holds=tank.holds,
                capacity_m3=tank.capacity_m3,
                content_m3=tank.content_m3,
                y_m=tank.y_m,
                density_t_m3=tank.density_t_m3,
                minimum_m3=tank.minimum_m3,
                free_surface_t_m=surface,
                stiffness_t_m_per_m3=tank.density_t_m3 * arm,
            )
        )
    return tuple(tanks)


def named_pairs(vessel: Vessel, ballast: bool) -> tuple[tuple[int, int], ...]:
    """Tank pairs that can help: same liquid, connected, different distance off.

    Ballast tanks also take in from the sea and discharge to it.
    """
    tanks = vessel.tanks
    pairs = []
    for i, source in enumerate(tanks):
        for j, target in enumerate(tanks):
            joined = i != j and source.holds == target.holds and source.y_m != target.y_m
            for one, other in ((source, target), (target, source)):
                if one.moves_with is not None and other.name not in one.moves_with:
                    joined = False
            if joined and (ballast or source.holds != "ballast"):
                pairs.append((i, j))
    if ballast:
        for i, tank in enumerate(tanks):
            if tank.holds == "ballast":
                pairs += [(SEA, i), (i, SEA)]
    return tuple(pairs)


def build_problem(vessel: Vessel, legs: HeelLegs, prices: HeelPrices | None = None) -> HeelProblem:
    """One heel problem from a vessel and the legs of a plan.

    Notes
    -----
    The list at departure and the fluid GM belong to the tanks as filled in the
    vessel file. ``displacement x GM`` is kept along the passage except for the
    surfaces of tanks that the burn makes slack. Extra fuel for offsets is too
    little to be counted in the burn.
    """
    prices = prices or HeelPrices()
    hull, n = vessel.particulars, len(legs.hours)
    notes: list[str] = []
    legs = _known(legs, notes)
    tanks = _tanks(vessel, notes)
    burn = _burn(vessel, legs, notes)
    density = np.array([tank.density_t_m3 for tank in tanks])
    middle = np.cumsum(burn, axis=0) - 0.5 * burn
    displacement = hull.displacement_t - middle @ density
    departure = np.array([tank.content_m3 for tank in tanks])
    start = departure - np.cumsum(burn, axis=0) + burn
    surface = np.array([tank.free_surface_t_m for tank in tanks])
    # The fluid GM given holds the surfaces that are slack at departure already.
    newly_slack = slack_tanks(tanks, start, burn).astype(float)
    newly_slack -= slack_tanks(tanks, departure)
    stiffness0 = hull.displacement_t * hull.gm_m
    events = np.zeros(n)
    for event in vessel.loading.events:
        events[max(event.leg - 1, 0) :] += event.moment_t_m
    at_rest = knots_to_m_s(legs.speed_kn) < UNDER_WAY_M_S - 1e-9
    limits = [vessel.limits.at_rest if rest else vessel.limits.underway for rest in at_rest]
    limit = np.array(
        [np.inf if one.steady_heel_deg is None else one.steady_heel_deg for one in limits]
    )
    forbidden = ~(knots_to_m_s(legs.speed_kn) >= UNDER_WAY_M_S - 1e-9) | (
        np.zeros(n, dtype=bool) if legs.offset_forbidden is None else legs.offset_forbidden
    )
    hull_fuel = legs.fuel_l if legs.hull_fuel_l is None else legs.hull_fuel_l
    hull_fuel = np.where(at_rest, 0.0, hull_fuel)
    transfer = vessel.transfer
    calm = np.ones(n, dtype=bool)
    if transfer is not None:
        # Liquid moved before a leg is pumped in that leg's sea; before the first,
        # alongside. A roll that is not known allows nothing.
        calm = legs.roll_significant_deg <= transfer.max_roll_significant_deg
        if n and prices.alongside_hours > 0.0:
            calm[0] = True
    if legs.transfer_forbidden is not None:
        calm &= ~legs.transfer_forbidden
    hours = legs.hours.copy()
    hours[0] = max(hours[0], prices.alongside_hours) if n else 0.0
    fixed, pump, price, currency = _transfer_prices(vessel, prices, notes)
    offset_price = None
    if legs.offset_fraction is not None and legs.offset_roll_deg is not None:
        more = legs.offset_roll_deg - legs.offset_roll_deg[:, :1]
        offset_price = (
            prices.roll_l_per_deg_h * np.maximum(np.nan_to_num(more), 0.0) * legs.hours[:, None]
        )
    return HeelProblem(
        leg_names=legs.names,
        hours=legs.hours,
        speed_kn=legs.speed_kn,
        fuel_l_per_h=legs.fuel_l / np.where(legs.hours > 0.0, legs.hours, np.inf),
        list_moment_t_m=stiffness0 * float(np.tan(vessel.loading.list_deg * DEG_RAD)),
        wind_moment_t_m=legs.wind_moment_t_m,
        event_moment_t_m=events,
        displacement_t=displacement,
        stiffness_t_m=stiffness0 - newly_slack @ surface,
        gm_minimum_m=hull.minimum_gm_m,
        limit_deg=limit,
        fin_l_per_moment2=np.where(forbidden, 0.0, legs.fin_l_per_moment2),
        fin_moment_max_t_m=np.where(forbidden, 0.0, legs.fin_moment_max_t_m),
        leave_l_per_deg2=float(heel_drag_share(_MATCH_DEG * DEG_RAD)) / _MATCH_DEG**2 * hull_fuel,
        comfort_l_per_deg=prices.heel_l_per_deg_h * legs.hours,
        transfer_allowed=calm,
        transfer_hours=hours,
        tanks=tanks,
        burn_m3=burn,
        pairs=() if transfer is None else named_pairs(vessel, prices.ballast),
        transfer_fixed_l=fixed,
        pump_l_per_m3=pump,
        rate_m3_per_h=np.inf if transfer is None else transfer.rate_m3_per_h,
        carry_l_per_t=2.0 / 3.0 * hull_fuel / displacement,
        smallest_transfer_m3=prices.smallest_transfer_m3,
        offset_fraction=legs.offset_fraction,
        offset_price_l=offset_price,
        fuel_price_per_l=price,
        currency=currency,
        fin_angle_per_moment_deg=legs.fin_angle_per_moment_deg,
        notes=tuple(notes),
    )


def _known(legs: HeelLegs, notes: list[str]) -> HeelLegs:
    """The legs with what is missing left out of the account, each gap noted."""

    def filled(name: str, what: str) -> Floats:
        values = np.asarray(getattr(legs, name), dtype=float)
        gaps = np.nonzero(~np.isfinite(values))[0]
        if len(gaps):
            numbers = ", ".join(str(leg + 1) for leg in gaps)
            notes.append(f"{what} on leg {numbers}")
        return np.where(np.isfinite(values), values, 0.0)

    hours = filled("hours", "duration not known, nothing counted,")
    wind = filled("wind_moment_t_m", "wind heel not known, taken as none,")
    fuel = filled("fuel_l", "fuel not known, no draw-down counted,")
    per_moment2 = filled("fin_l_per_moment2", "price of fins not known, no offset advised,")
    most = np.where(np.isfinite(legs.fin_moment_max_t_m), legs.fin_moment_max_t_m, 0.0)
    most = np.where(np.isfinite(legs.fin_l_per_moment2), most, 0.0)
    hull = legs.hull_fuel_l
    return replace(
        legs,
        hours=hours,
        wind_moment_t_m=wind,
        fuel_l=fuel,
        hull_fuel_l=None if hull is None else np.where(np.isfinite(hull), hull, 0.0),
        fin_l_per_moment2=per_moment2,
        fin_moment_max_t_m=most,
    )


def _burn(vessel: Vessel, legs: HeelLegs, notes: list[str]) -> Floats:
    tanks = vessel.tanks
    burn = np.zeros((len(legs.hours), len(tanks)))
    if not vessel.loading.burn:
        notes.append("no burn shares given: fuel is taken as drawn evenly, without moment")
        return burn
    share = np.zeros(len(tanks))
    names = [tank.name for tank in tanks]
    for one in vessel.loading.burn:
        share[names.index(one.tank)] = one.share
    content = np.array([tank.content_m3 for tank in tanks])
    floor = np.array([tank.minimum_m3 for tank in tanks])
    fuel = np.array([tank.holds == "fuel" for tank in tanks])
    able = np.where(fuel, content, floor)
    drawn, short = draw_down(able, floor, share, legs.fuel_l / 1000.0)
    planned = np.outer(np.nan_to_num(legs.fuel_l) / 1000.0, share)
    if np.abs(drawn - planned).max(initial=0.0) > 1e-6:
        leg = int(np.argmax(np.abs(drawn - planned).max(axis=1) > 1e-6)) + 1
        notes.append(
            f"a burn tank is down to its minimum on leg {leg}: other tanks carry its share"
        )
    if short.sum() > 1e-6:
        leg = int(np.argmax(short > 1e-9)) + 1
        notes.append(
            f"the fuel aboard ends on leg {leg}, {short.sum():.1f} m3 short at the arrival; "
            "contents and list beyond that leg are not to be trusted"
        )
    return drawn


def _transfer_prices(
    vessel: Vessel, prices: HeelPrices, notes: list[str]
) -> tuple[float, float, float | None, str]:
    """Litres per transfer and per cubic metre, fuel price and currency."""
    money, transfer = vessel.money, vessel.transfer
    price = prices.fuel_price_per_l
    crew = prices.crew_cost_per_hour
    currency = ""
    if money is not None:
        price = money.fuel_price_per_l if price is None else price
        crew = money.crew_cost_per_hour if crew is None else crew
        currency = money.currency
    if transfer is None:
        notes.append("no [transfer] section: moving liquid is left out of the choices")
        return 0.0, 0.0, price, currency
    if price and crew is not None:
        fixed = crew * transfer.crew_minutes_per_transfer / 60.0 / price
    else:
        fixed = prices.crew_l_per_transfer
        notes.append(f"no prices given: one transfer is set at {fixed:.0f} litres of fuel")
    kwh = transfer.pump_kw / transfer.rate_m3_per_h
    pump = float(
        generator_fuel(
            kwh,
            vessel.hotel.generator_specific_fuel_g_per_kwh,
            vessel.propulsion.fuel_density_t_m3,
        )
    )
    return fixed, pump, price, currency
