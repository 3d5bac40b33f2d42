"""Loading events on several routes: an event given by leg must begin at the same place on each."""

from __future__ import annotations

from collections.abc import Sequence

from passage.errors import Problem, VesselError, join_problems
from passage.inputs.route import Leg, Route
from passage.inputs.route.geometry import great_circle_inverse
from passage.inputs.vessel import Vessel
from passage.units import nm_to_m

#: Largest distance between the starts of two legs that begin at the same place. [nm]
SAME_PLACE_NM = 0.1


def refuse_unlike_events(vessel: Vessel, routes: Sequence[Route]) -> None:
    """Refuse events given by a leg that begins at different places on the routes.

    The comparison would be unfair: on one route the tender would be swung out 20 nm from port,
    on another 150 nm from it.

    Raises
    ------
    VesselError
        There are such events; the message says where the leg begins on each route.
    """
    problems = []
    for i, event in enumerate(vessel.loading.events, 1):
        if event.leg is None or event.leg == 1:
            continue
        legs = [
            route.legs[event.leg - 1] if event.leg <= len(route.legs) else None for route in routes
        ]
        if all(_same_start(legs[0], leg) for leg in legs[1:]):
            continue
        where = ", ".join(
            f"{route.name}: {'no such leg' if leg is None else f'at {leg.name_from}'}"
            for route, leg in zip(routes, legs, strict=True)
        )
        problems.append(
            Problem(
                file=str(vessel.path),
                place=f" [loading] events[{i}] leg = {event.leg}",
                what=f"'{event.what}' begins at different places on the routes ({where}), so that "
                "the comparison would be unfair",
                fix="Give miles_to_go, the miles left to the end of the route, instead of leg; "
                "or take one route at a time.",
            )
        )
    if problems:
        raise VesselError(join_problems(problems))


def _same_start(one: Leg | None, other: Leg | None) -> bool:
    if one is None or other is None:
        return one is other
    metres = great_circle_inverse(
        one.lat_from_deg, one.lon_from_deg, other.lat_from_deg, other.lon_from_deg
    )[0]
    return bool(metres <= nm_to_m(SAME_PLACE_NM))
