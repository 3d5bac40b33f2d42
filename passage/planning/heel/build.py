"""From the vessel file and the points of a plan to one heel problem.

Every value that had to be assumed is written into the problem's notes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passage.inputs.vessel import Vessel
from passage.physics.fins.drag import heel_drag_share
from passage.physics.fins.use import UNDER_WAY_M_S
from passage.physics.fuel.propulsion import generator_fuel
from passage.planning.heel.leg_cost import convex_below
from passage.planning.heel.model import (
    SEA,
    Flags,
    Floats,
    HeelProblem,
    HeelTank,
    Indices,
)
from passage.planning.voyage.loading import (
    Loading,
    burn_shares,
    events_t_m,
    free_surfaces_t_m,
    loading_along,
    stiffness_per_m3,
    trim_per_m3,
)
from passage.units import DEG_RAD, knots_to_m_s

#: Least heel at which a price per degree squared is fitted to the hull's own drag. [deg]
_MATCH_LEAST_DEG = 0.25
#: Litres for the crew time of one transfer when no prices are given; assumption.
CREW_L_PER_TRANSFER = 5.0


@dataclass(frozen=True, kw_only=True)
class HeelPoints:
    """Values at each point of a plan; arrays ``(n,)`` unless stated otherwise.

    ``names`` is one for each leg, ``leg`` the index of each point's leg (``None`` when
    every point is a leg), ``length_m`` its length. ``fuel_l`` is all fuel of the point
    without any correction of heel, ``hull_fuel_l`` the main engines' still-water part (the
    same when ``None``). ``roll_significant_deg`` is with the fins as planned.
    ``fin_l_per_moment2``, ``hold_l`` and ``fin_moment_max_t_m`` as in
    :class:`HeelProblem`; ``offset_forbidden`` makes them 0 at rest, astern or where the fins
    must stand centred. ``offset_price_l`` ``(n, g)`` is fuel, and ``offset_roll_deg`` the
    significant roll, with offsets of ``offset_fraction`` ``(g,)`` of the largest.
    ``sea_unknown``: what the fins can hold is not known at this point.
    ``transfer_forbidden``: the master or the route allows no transfer before this point;
    ``transfer_asked``: one is allowed although no leg begins there.
    """

    names: tuple[str, ...]
    hours: Floats
    speed_kn: Floats
    fuel_l: Floats
    wind_moment_t_m: Floats
    roll_significant_deg: Floats
    fin_l_per_moment2: Floats
    fin_moment_max_t_m: Floats
    leg: Indices | None = None
    length_m: Floats | None = None
    hull_fuel_l: Floats | None = None
    hold_l: Floats | None = None
    fin_angle_per_moment_deg: Floats | None = None
    offset_forbidden: Flags | None = None
    sea_unknown: Flags | None = None
    transfer_forbidden: Flags | None = None
    transfer_asked: Flags | None = None
    offset_fraction: Floats | None = None
    offset_price_l: Floats | None = None
    offset_roll_deg: Floats | None = None


@dataclass(frozen=True, kw_only=True)
class HeelPrices:
    """Worth of comfort and crew time, besides the vessel file.

    ``heel_l_per_deg_h``: litres that the owner would burn to avoid one degree of heel for
    an hour; ``roll_l_per_deg_h`` the same for a degree of significant roll. ``ballast``:
    whether taking in and discharging is allowed. ``alongside_hours``: hours for moving
    liquid before departure. ``smallest_transfer_m3`` replaces that of the vessel file.
    """

    heel_l_per_deg_h: float = 0.0
    roll_l_per_deg_h: float = 0.0
    fuel_price_per_l: float | None = None
    crew_cost_per_hour: float | None = None
    crew_l_per_transfer: float = CREW_L_PER_TRANSFER
    ballast: bool = True
    alongside_hours: float = 12.0
    smallest_transfer_m3: float | None = None


def _tanks(vessel: Vessel, notes: list[str]) -> tuple[HeelTank, ...]:
    for holds in sorted({tank.holds for tank in vessel.tanks if tank.z_m is None}):
        notes.append(
            f"height of a {holds} tank not given (z_m): taken as that of others that hold the "
            "same, else half the draught below the waterline"
        )
    if any(tank.x_m is None for tank in vessel.tanks):
        notes.append("a tank has no x_m: trim is not followed through its burn and transfers")
    for tank in vessel.tanks:
        if tank.length_m is None or tank.breadth_m is None:
            notes.append(f"free surface of {tank.name} not given (length_m, breadth_m): taken as 0")
    rows = zip(
        vessel.tanks,
        free_surfaces_t_m(vessel),
        stiffness_per_m3(vessel),
        trim_per_m3(vessel),
        strict=True,
    )
    return tuple(
        HeelTank(
            name=tank.name,
            holds=tank.holds,
            capacity_m3=tank.capacity_m3,
            content_m3=tank.content_m3,
            y_m=tank.y_m,
            density_t_m3=tank.density_t_m3,
            minimum_m3=tank.minimum_m3,
            free_surface_t_m=float(surface),
            stiffness_t_m_per_m3=float(stiffness),
            trim_m_per_m3=None if np.isnan(trim) else float(trim),
        )
        for tank, surface, stiffness, trim in rows
    )


def named_pairs(vessel: Vessel, ballast: bool) -> tuple[tuple[int, int], ...]:
    """Tank pairs that can help: same liquid, connected, at different athwartships places.

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


def build_problem(
    vessel: Vessel, points: HeelPoints, prices: HeelPrices | None = None
) -> HeelProblem:
    """One heel problem from a vessel and the points of a plan.

    Notes
    -----
    The list at departure and the fluid GM belong to the tanks as filled in the
    vessel file; `loading_along` computes both from there. Extra fuel for offsets is too
    little to count in the burn.
    """
    prices = prices or HeelPrices()
    hull, n = vessel.particulars, len(points.hours)
    notes: list[str] = []
    points = _known(points, notes)
    leg = np.arange(n) if points.leg is None else points.leg
    tanks = _tanks(vessel, notes)
    loading = loading_along(vessel, leg, points.fuel_l, length_m=points.length_m)
    burn = loading.burn_m3
    _say_burn(vessel, leg, points, loading, notes)
    stiffness0 = hull.displacement_t * hull.gm_m
    events = events_t_m(vessel, leg, points.length_m)
    at_rest = knots_to_m_s(points.speed_kn) < UNDER_WAY_M_S - 1e-9
    limits = [vessel.limits.at_rest if rest else vessel.limits.underway for rest in at_rest]
    limit = np.array(
        [np.inf if one.steady_heel_deg is None else one.steady_heel_deg for one in limits]
    )
    forbidden = ~(knots_to_m_s(points.speed_kn) >= UNDER_WAY_M_S - 1e-9) | (
        np.zeros(n, dtype=bool) if points.offset_forbidden is None else points.offset_forbidden
    )
    hull_fuel = points.fuel_l if points.hull_fuel_l is None else points.hull_fuel_l
    hull_fuel = np.where(at_rest, 0.0, hull_fuel)
    allowed, hours = _pumping(vessel, points, leg, prices)
    fixed, pump, price, currency = transfer_prices(vessel, prices, notes)
    transfer = vessel.transfer
    smallest = prices.smallest_transfer_m3
    if smallest is None:
        smallest = 0.0 if transfer is None else transfer.smallest_m3
    stiffness = loading.stiffness_t_m
    # The price of the hull's own drag is fitted where her heel is likely to be left: at the
    # limit or at the heel she has, whichever is less.
    moment = loading.moment_t_m + points.wind_moment_t_m
    heel = np.degrees(np.arctan2(np.abs(moment), stiffness))
    match = np.maximum(np.minimum(heel, limit), _MATCH_LEAST_DEG)
    per_deg2 = heel_drag_share(match * DEG_RAD) / match**2
    return HeelProblem(
        leg_names=points.names,
        leg=leg,
        hours=points.hours,
        speed_kn=points.speed_kn,
        fuel_l_per_h=points.fuel_l / np.where(points.hours > 0.0, points.hours, np.inf),
        list_moment_t_m=stiffness0 * float(np.tan(vessel.loading.list_deg * DEG_RAD)),
        wind_moment_t_m=points.wind_moment_t_m,
        event_moment_t_m=events,
        displacement_t=loading.displacement_t,
        stiffness_t_m=stiffness,
        gm_minimum_m=hull.minimum_gm_m,
        limit_deg=limit,
        fin_l_per_moment2=np.where(forbidden, 0.0, points.fin_l_per_moment2),
        fin_moment_max_t_m=np.where(forbidden, 0.0, points.fin_moment_max_t_m),
        hold_l=points.hold_l,
        leave_l_per_deg2=per_deg2 * hull_fuel,
        comfort_l_per_deg=prices.heel_l_per_deg_h * points.hours,
        transfer_allowed=allowed,
        transfer_hours=hours,
        tanks=tanks,
        burn_m3=burn,
        pairs=() if transfer is None else named_pairs(vessel, prices.ballast),
        transfer_fixed_l=fixed,
        pump_l_per_m3=pump,
        rate_m3_per_h=np.inf if transfer is None else transfer.rate_m3_per_h,
        carry_l_per_t=2.0 / 3.0 * hull_fuel / hull.displacement_t,
        smallest_transfer_m3=smallest,
        offset_fraction=points.offset_fraction,
        sea_unknown=points.sea_unknown,
        offset_price_l=_offset_price(points, prices),
        fuel_price_per_l=price,
        currency=currency,
        fin_angle_per_moment_deg=points.fin_angle_per_moment_deg,
        roll_l_per_deg_h=prices.roll_l_per_deg_h,
        trim_limit_m=None if transfer is None else transfer.trim_limit_m,
        notes=tuple(notes),
    )


def _offset_price(points: HeelPoints, prices: HeelPrices) -> Floats | None:
    """Fuel beyond the square of the moment, and the worth of the extra roll. [l]"""
    if points.offset_fraction is None:
        return None
    out = np.zeros((len(points.hours), len(points.offset_fraction)))
    if points.offset_price_l is not None:
        out += np.nan_to_num(points.offset_price_l)
    if points.offset_roll_deg is not None:
        more = points.offset_roll_deg - points.offset_roll_deg[:, :1]
        worth = prices.roll_l_per_deg_h * points.hours[:, None]
        out += worth * np.maximum(np.nan_to_num(more), 0.0)
    # Convex, as the decision needs it; made once here.
    raw = np.maximum.accumulate(out, axis=1)
    return convex_below(points.offset_fraction, raw - raw[:, :1])


def _pumping(
    vessel: Vessel, points: HeelPoints, leg: Indices, prices: HeelPrices
) -> tuple[Flags, Floats]:
    """Points before which liquid may be moved, and the hours available for it.

    Liquid is moved as a leg begins, in the sea of its first points; before the first leg,
    alongside. The hours last until roll forbids it or the next place for a transfer comes.
    With unknown roll no transfer is allowed.
    """
    n = len(leg)
    allowed = np.r_[True, leg[1:] != leg[:-1]][:n]
    if points.transfer_asked is not None:
        allowed = allowed | points.transfer_asked
    if points.transfer_forbidden is not None:
        allowed &= ~points.transfer_forbidden
    calm = np.ones(n, dtype=bool)
    if vessel.transfer is not None:
        calm = points.roll_significant_deg <= vessel.transfer.max_roll_significant_deg
    alongside = prices.alongside_hours if n else 0.0
    places = np.flatnonzero(allowed)
    allowed &= calm | ((np.arange(n) == 0) & (alongside > 0.0))
    # To the next place, or to the first rough point before it.
    ends = np.r_[places[1:], n] if len(places) else places
    rough = np.r_[np.flatnonzero(~calm), n]
    ends = np.minimum(ends, rough[np.searchsorted(rough, places)])
    begin = np.r_[0.0, np.cumsum(points.hours)]
    hours = np.zeros(n)
    hours[places] = begin[ends] - begin[places]
    if n:
        hours[0] = max(hours[0], alongside)
    return allowed, hours


def _known(points: HeelPoints, notes: list[str]) -> HeelPoints:
    """The points with missing values counted as 0, and a note on each gap."""

    leg = np.arange(len(points.hours)) if points.leg is None else points.leg

    def filled(name: str, what: str) -> Floats:
        values = np.asarray(getattr(points, name), dtype=float)
        gaps = np.unique(leg[~np.isfinite(values)])
        if len(gaps):
            numbers = ", ".join(str(one + 1) for one in gaps)
            notes.append(f"{what} on leg {numbers}")
        return np.where(np.isfinite(values), values, 0.0)

    hours = filled("hours", "duration not known, nothing counted,")
    wind = filled("wind_moment_t_m", "wind heel not known, taken as none,")
    fuel = filled("fuel_l", "fuel not known, no draw-down counted,")
    per_moment2 = filled("fin_l_per_moment2", "price of fins not known, no offset advised,")
    most = np.where(np.isfinite(points.fin_moment_max_t_m), points.fin_moment_max_t_m, 0.0)
    most = np.where(np.isfinite(points.fin_l_per_moment2), most, 0.0)
    hull, hold = points.hull_fuel_l, points.hold_l
    return replace(
        points,
        hours=hours,
        wind_moment_t_m=wind,
        fuel_l=fuel,
        hull_fuel_l=None if hull is None else np.where(np.isfinite(hull), hull, 0.0),
        hold_l=None if hold is None else np.where(np.isfinite(hold), hold, 0.0),
        fin_l_per_moment2=per_moment2,
        fin_moment_max_t_m=most,
    )


def _say_burn(
    vessel: Vessel, leg: Indices, points: HeelPoints, loading: Loading, notes: list[str]
) -> None:
    """Add notes where the burn differs from the given shares."""
    if not vessel.loading.burn:
        notes.append("no burn shares given: fuel is taken as drawn evenly, without moment")
        return
    planned = np.outer(points.fuel_l / 1000.0, burn_shares(vessel))
    off = np.abs(loading.burn_m3 - planned).max(axis=1, initial=0.0) > 1e-6
    if np.any(off):
        notes.append(
            f"a burn tank is down to its minimum on leg {leg[np.argmax(off)] + 1}: other tanks "
            "carry its share"
        )
    short = loading.short_m3
    if short.sum() > 1e-6:
        notes.append(
            f"the fuel aboard ends on leg {leg[np.argmax(short > 1e-9)] + 1}, {short.sum():.1f} m3 "
            "short at the arrival; contents and list beyond that leg are not to be trusted"
        )


def transfer_prices(
    vessel: Vessel, prices: HeelPrices, notes: list[str]
) -> tuple[float, float, float | None, str]:
    """Litres per transfer and per cubic metre, fuel price and currency.

    ``prices`` replaces those of the vessel file; assumptions are added to ``notes``.
    """
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
