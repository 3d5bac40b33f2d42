"""A route from where she is now: joined at its nearest point."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from passage.errors import RouteError
from passage.inputs.route.along import points_on_legs
from passage.inputs.route.build import build_route
from passage.inputs.route.geometry import WGS84
from passage.inputs.route.model import Route, Waypoint
from passage.inputs.route.positions import format_position
from passage.units import m_to_nm

#: Farther off than this, another route is meant or a letter of the position is wrong
#: (assumption). [nm]
MOST_OFF_NM = 30.0
#: Nearer than this she is on the route, or at its waypoint (assumption). [nm]
ON_ROUTE_NM = 0.25
#: Points tried on each leg, and again about the nearest of them.
_POINTS = 201


@dataclass(frozen=True)
class Joined:
    """The rest of a route.

    ``leg`` is the leg of the whole route, from 1, on which it is joined; ``first`` the
    number that this leg has now (2 where a leg leads to it, else 1).
    """

    route: Route
    leg: int
    first: int


def join_route(route: Route, lat_deg: float, lon_deg: float) -> Joined:
    """The rest of a route from a position, by way of its nearest point.

    Parameters
    ----------
    route : Route
        The whole route.
    lat_deg, lon_deg : float
        Where she is. [deg]

    Raises
    ------
    RouteError
        More than 30 nm off, or at the end of the route already.
    """
    here = format_position(lat_deg, lon_deg)
    sailed = [i for i, leg in enumerate(route.legs) if leg.kind != "stay"]
    leg, share, off_m = _nearest(route, sailed, lat_deg, lon_deg)
    left_m = (1.0 - share) * route.legs[leg].distance_m
    if float(m_to_nm(off_m)) > MOST_OFF_NM:
        raise RouteError(
            f"{route.path or route.name}: {here} is {m_to_nm(off_m):.0f} nm from the route "
            f"(nearest to leg {leg + 1}, {route.legs[leg].label}), more than "
            f"{MOST_OFF_NM:g} nm. Check the letters N, S, E and W, or make a route from there."
        )
    later = [i for i in sailed if i > leg]
    if float(m_to_nm(left_m)) <= ON_ROUTE_NM:
        if not later:
            raise RouteError(
                f"{route.path or route.name}: {here} is at the end of the route already: nothing "
                "is left to plan."
            )
        # A stay at that waypoint lies behind too: she is under way.
        leg, share = later[0], 0.0
        left_m = route.legs[leg].distance_m
    joining = points_on_legs(route.legs, np.array([leg]), np.array([share]))
    rest = list(Route(route.name, route.legs[leg:]).waypoints)
    place = replace(
        rest[0], name=f"Joins leg {leg + 1}" if share > 0.0 else rest[0].name,
        lat_deg=float(joining.lat_deg[0]), lon_deg=float(joining.lon_deg[0]), stay_h=0.0,
        eta_s=None, etd_s=None,
    )  # fmt: skip
    off_m = float(WGS84.inv(lon_deg, lat_deg, place.lon_deg, place.lat_deg)[2])
    off = float(m_to_nm(off_m)) > ON_ROUTE_NM
    start = Waypoint(name=here, lat_deg=lat_deg, lon_deg=lon_deg)
    speed = route.legs[leg].speed_kn
    points = [start, replace(place, speed_kn=speed, kind="rhumb")] if off else [start]
    behind_m = route.distance_m - left_m - sum(route.legs[i].distance_m for i in sailed if i > leg)
    words = (
        f"under way: from {here}, {m_to_nm(off_m):.1f} nm from the route, on leg {leg + 1} of the "
        f"whole route ({route.legs[leg].label}) with {m_to_nm(left_m):.1f} nm of it left; "
        f"{m_to_nm(behind_m):.1f} nm of the route lie behind"
    )
    made = build_route(
        route.path or route.name, route.name, [*points, *rest[1:]], notes=(*route.notes, words)
    )
    sailed_legs = list(route.legs[:leg])
    if share > 0.0:
        cut = route.legs[leg]
        part = replace(
            cut, name_to=place.name, lat_to_deg=place.lat_deg, lon_to_deg=place.lon_deg,
            distance_m=share * cut.distance_m, eta_s=None,
        )  # fmt: skip
        sailed_legs.append(part)
    behind = Route(route.name, tuple(sailed_legs), path=route.path) if sailed_legs else None
    return Joined(replace(made, path=route.path, behind=behind), leg + 1, 2 if off else 1)


def _nearest(
    route: Route, sailed: list[int], lat_deg: float, lon_deg: float
) -> tuple[int, float, float]:
    """Leg from 0, share of its length, and distance [m] of the nearest point of a route."""
    best = (0, 0.0, np.inf)
    for leg in sailed:
        low, high = 0.0, 1.0
        share = away = np.zeros(0)
        for _ in range(3):
            share = np.linspace(low, high, _POINTS)
            on = points_on_legs(route.legs, np.full(_POINTS, leg), share)
            away = WGS84.inv(
                np.full(_POINTS, lon_deg), np.full(_POINTS, lat_deg), on.lon_deg, on.lat_deg
            )[2]
            at = int(np.argmin(away))
            low, high = share[max(at - 1, 0)], share[min(at + 1, _POINTS - 1)]
        at = int(np.argmin(away))
        # Of two legs that meet at the nearest point the later one is still to sail.
        if away[at] <= best[2] + 1.0:
            best = (leg, float(share[at]), float(away[at]))
    return best
