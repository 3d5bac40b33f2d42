"""Planning again at sea: the route from here, and the present contents of the tanks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from passage.errors import VesselError, did_you_mean
from passage.inputs.route import Route
from passage.inputs.route.join import join_route
from passage.inputs.vessel import Vessel
from passage.planning.voyage.list_drift import list_of
from passage.planning.voyage.loading import SEA, Shift, loading_along
from passage.units import rad_to_deg

Soundings = Sequence[tuple[str, float]]


def from_here(
    vessel: Vessel,
    route: Route,
    start: tuple[float, float] | None,
    tanks_m3: Soundings = (),
) -> tuple[Vessel, Route]:
    """Vessel and route for the rest of a passage.

    Parameters
    ----------
    start : (float, float) or None
        Present latitude and longitude; None leaves the route unchanged. [deg]
    tanks_m3 : sequence of (str, float)
        Present contents by tank; the other tanks are as in the vessel file. [m3]

    Raises
    ------
    PassageError
        She is too far off the route, a tank does not exist, or a content is beyond its
        capacity.
    """
    if tanks_m3:
        vessel = with_contents(vessel, tanks_m3)
        found = ", ".join(f"{name} {content:g} m3" for name, content in tanks_m3)
        words = (
            f"tanks as now: {found}; weight, list and GM follow, GM {vessel.particulars.gm_m:.2f} m"
        )
        route = replace(route, notes=(*route.notes, words))
    if start is None:
        return vessel, route
    joined = join_route(route, *start)
    # Events keep their place although the legs are renumbered; earlier ones stay in force.
    events = tuple(
        event
        if event.leg is None
        else replace(event, leg=max(event.leg - joined.leg + joined.first, 1))
        for event in vessel.loading.events
    )
    return replace(vessel, loading=replace(vessel.loading, events=events)), joined.route


def with_contents(vessel: Vessel, tanks_m3: Soundings) -> Vessel:
    """Vessel with other contents of tanks, and the weight, list and GM that follow.

    The list of the vessel file belongs to the contents in that file.

    Raises
    ------
    VesselError
        Unknown tanks and contents beyond capacity, all in one message; or a GM that would not
        be positive.
    """
    names = [tank.name for tank in vessel.tanks]
    problems, shifts, contents = [], [], {}
    for name, content in tanks_m3:
        if name not in names:
            hint = f" {did_you_mean(name, names) or 'She has ' + ', '.join(names) + '.'}"
            problems.append(
                f"--tank {name!r}: {vessel.name} has no such tank."
                + (hint if names else " The vessel file has no [[tanks]].")
            )
            continue
        tank = vessel.tanks[names.index(name)]
        if content > tank.capacity_m3 * (1.0 + 1e-9):
            problems.append(
                f"--tank {name}={content:g}: {content:g} m3 is more than its "
                f"{tank.capacity_m3:g} m3."
            )
            continue
        contents[name] = content
        shifts.append(Shift(0, SEA, names.index(name), content - tank.content_m3))
    if problems:
        raise VesselError("\n".join(problems))
    # The difference is pumped aboard or over the side before the first point.
    bare = replace(vessel, loading=replace(vessel.loading, events=()))
    after = loading_along(bare, [0], [0.0], shifts)
    hull = vessel.particulars
    gm, draught = float(after.gm_m[0]), float(after.draught_m[0])
    if not gm > 0.0:
        raise VesselError(f"{vessel.path}: with these tanks GM would be {gm:.2f} m: she is unsafe.")
    displacement = float(after.displacement_t[0])
    if hull.sections:
        # Sections of the file are for one waterline.
        draught = hull.draught_m
    sunk = draught - hull.draught_m
    list_rad = np.arctan(
        np.tan(list_of(bare, after)[0]) * (hull.displacement_t * hull.gm_m) / (displacement * gm)
    )
    return replace(
        vessel,
        particulars=replace(
            hull,
            displacement_t=displacement,
            gm_m=gm,
            draught_m=draught,
            bow_draught_m=hull.bow_draught_m + sunk,
        ),
        roll=replace(
            vessel.roll, natural_period_s=vessel.roll.natural_period_s * (hull.gm_m / gm) ** 0.5
        ),
        loading=replace(vessel.loading, list_deg=float(rad_to_deg(list_rad))),
        tanks=tuple(
            replace(tank, content_m3=contents.get(tank.name, tank.content_m3))
            for tank in vessel.tanks
        ),
    )
