"""Waypoints joined into a checked route."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from passage.errors import Problem, RouteError, join_problems
from passage.inputs.route.geometry import Array, great_circle_inverse, rhumb_inverse
from passage.inputs.route.model import MAX_WAYPOINTS, Leg, Route, Waypoint
from passage.inputs.route.positions import wrap_longitude
from passage.units import HOUR_S, NM_M

#: Most problems listed in one message.
_SHOWN = 40
#: Waypoints closer than this are one place for a ship [m].
_SAME_PLACE_M = 1.0
#: A degree of latitude [m].
_DEGREE_M = 60.0 * NM_M
#: Within this of the antipode the great circle's course is not defined well enough [nm].
_ANTIPODE_NM = 60.0


def build_route(
    file: str,
    name: str,
    waypoints: list[Waypoint],
    *,
    notes: tuple[str, ...] = (),
    problems: list[Problem] | None = None,
) -> Route:
    """Join waypoints into legs, or raise with every problem of the file.

    Parameters
    ----------
    file
        Name for messages.
    problems
        What the reader found already; reported together with what is found here.

    Raises
    ------
    RouteError
        Fewer than two waypoints, equal neighbours, lines without a definite course,
        or anything in ``problems``.
    """
    found = list(problems or [])
    if not found and len(waypoints) < 2:
        found.append(
            Problem(
                file=file,
                what=f"holds {len(waypoints)} waypoint(s)",
                fix="A route needs at least two.",
            )
        )
    if len(waypoints) > MAX_WAYPOINTS:
        found.append(
            Problem(
                file=file,
                what=f"holds {len(waypoints)} waypoints, more than {MAX_WAYPOINTS}",
                fix="Keep the turning points; a recorded track is not a route.",
            )
        )
        raise _refused(found)
    waypoints = [_plain(point) for point in waypoints]
    waypoints, doubled = _without_doubles(waypoints)
    notes = (*notes, *doubled)
    waypoints, schedule_note = _checked_schedule(waypoints)
    if schedule_note:
        notes = (*notes, schedule_note)
    if any(point.lat_deg == 0.0 == point.lon_deg for point in waypoints):
        notes = (*notes, "a waypoint lies at 0 N 0 E: is its position missing?")
    distances_m, courses_deg = _measured(waypoints)
    legs: list[Leg] = []
    for index, point in enumerate(waypoints):
        if index:
            before = waypoints[index - 1]
            distance_m = float(distances_m[index - 1])
            problem = _leg_problem(file, before, point, distance_m)
            # The reader has already reported the positions that it could not read.
            if problem and not (problems and math.isnan(distance_m)):
                found.append(problem)
            legs.append(_leg(before, point, distance_m, float(courses_deg[index - 1])))
        if point.stay_h > 0.0:
            legs.append(_stay(point))
    if found:
        raise _refused(found)
    return Route(name=name, legs=tuple(legs), notes=notes, path=file)


def _refused(found: list[Problem]) -> RouteError:
    text = join_problems(found[:_SHOWN])
    if len(found) > _SHOWN:
        text += f"\n... and {len(found) - _SHOWN} more like these"
    return RouteError(text)


def _plain(point: Waypoint) -> Waypoint:
    """The waypoint with plain floats and its longitude in range."""
    return replace(
        point,
        lat_deg=float(point.lat_deg),
        lon_deg=wrap_longitude(float(point.lon_deg)),
        stay_h=float(point.stay_h),
        speed_kn=None if point.speed_kn is None else float(point.speed_kn),
    )


def _without_doubles(waypoints: list[Waypoint]) -> tuple[list[Waypoint], list[str]]:
    """Waypoints without those at the same place as the one before, and a note for each.

    Time spent at the dropped one is kept, and its time of leaving. A route that is at one
    place altogether stays as it is, to be refused.
    """
    kept, notes = waypoints[:1], []
    for point in waypoints[1:]:
        last = kept[-1]
        north_m = (point.lat_deg - last.lat_deg) * _DEGREE_M
        east_m = wrap_longitude(point.lon_deg - last.lon_deg) * _DEGREE_M
        east_m *= math.cos(math.radians(last.lat_deg))
        if not math.hypot(north_m, east_m) < _SAME_PLACE_M:  # a place that is missing stays
            kept.append(point)
            continue
        kept[-1] = replace(
            last,
            stay_h=last.stay_h + point.stay_h,
            etd_s=last.etd_s if point.etd_s is None else point.etd_s,
        )
        notes.append(f"{point.name} is at the same place as {last.name} before it and is dropped")
    return (kept, notes) if len(kept) > 1 else (waypoints, [])


def _measured(waypoints: list[Waypoint]) -> tuple[Array, Array]:
    """Length [m] and course at the start [deg] of the leg to each next waypoint."""
    lat = np.array([point.lat_deg for point in waypoints])
    lon = np.array([point.lon_deg for point in waypoints])
    great = np.array([point.kind == "great circle" for point in waypoints[1:]], dtype=bool)
    ends = np.stack([lat[:-1], lon[:-1], lat[1:], lon[1:]])
    distance_m, course_deg = rhumb_inverse(*ends)
    if great.any():
        distance_m[great], course_deg[great] = great_circle_inverse(*ends[:, great])
    return distance_m, course_deg


def _leg(before: Waypoint, point: Waypoint, distance_m: float, course_deg: float) -> Leg:
    return Leg(
        name_from=before.name,
        name_to=point.name,
        lat_from_deg=before.lat_deg,
        lon_from_deg=before.lon_deg,
        lat_to_deg=point.lat_deg,
        lon_to_deg=point.lon_deg,
        kind=point.kind,
        speed_kn=point.speed_kn,
        stay_h=0.0,
        distance_m=distance_m,
        course_true_deg=course_deg,
        etd_s=before.etd_s,
        eta_s=point.eta_s,
        transfer=before.transfer,
    )


def _stay(point: Waypoint) -> Leg:
    return Leg(
        name_from=point.name,
        name_to=point.name,
        lat_from_deg=point.lat_deg,
        lon_from_deg=point.lon_deg,
        lat_to_deg=point.lat_deg,
        lon_to_deg=point.lon_deg,
        kind="stay",
        speed_kn=None,
        stay_h=point.stay_h,
        distance_m=0.0,
        course_true_deg=math.nan,
        etd_s=point.eta_s,
        eta_s=point.etd_s,
        transfer=point.transfer,
    )


def _leg_problem(file: str, before: Waypoint, point: Waypoint, distance_m: float) -> Problem | None:
    leg = f"leg {before.name} to {point.name}"
    if math.isnan(distance_m):
        return Problem(
            file=file,
            place=point.place,
            what=f"{leg} has an end without a position",
            fix="Give both latitude and longitude.",
        )
    if distance_m < _SAME_PLACE_M:
        return Problem(
            file=file,
            place=point.place,
            what=f"{leg} has no length: both waypoints are at the same place",
            fix="Remove one of the two; for time spent there use stay_h.",
        )
    for end in (before, point):
        if abs(end.lat_deg) >= 90.0:
            return Problem(
                file=file,
                place=end.place,
                what=f"{leg} has an end on the pole, where no course can be given",
                fix="Move the waypoint off the pole.",
            )
    turn = abs(point.lon_deg - before.lon_deg)
    if point.kind == "rhumb" and math.isclose(turn, 180.0, abs_tol=1e-9):
        return Problem(
            file=file,
            place=point.place,
            what=f"{leg} goes half-way round the earth, east and west are equally long",
            fix="Put a waypoint between them.",
        )
    if point.kind == "great circle":
        opposite = (point.lon_deg + 360.0) % 360.0 - 180.0
        gap_m, _ = great_circle_inverse(before.lat_deg, before.lon_deg, -point.lat_deg, opposite)
        if float(gap_m) < _ANTIPODE_NM * NM_M:
            return Problem(
                file=file,
                place=point.place,
                what=f"{leg} joins opposite sides of the earth, "
                "where a great circle has no definite course",
                fix="Put a waypoint between them.",
            )
    return None


def _checked_schedule(waypoints: list[Waypoint]) -> tuple[list[Waypoint], str]:
    """Waypoints without their times when these run backwards, and a note about it.

    The departure is chosen for every plan, so a stale schedule does not stop one.
    """
    last = -math.inf
    for point in waypoints:
        for word, time_s in (("arrival", point.eta_s), ("departure", point.etd_s)):
            if time_s is None:
                continue
            if time_s < last:
                hours = (last - time_s) / HOUR_S
                bare = [replace(p, eta_s=None, etd_s=None) for p in waypoints]
                return bare, (
                    f"the file's schedule is not used: {word} at {point.name} is "
                    f"{hours:.1f} h before the time that precedes it"
                )
            last = time_s
    return waypoints, ""
