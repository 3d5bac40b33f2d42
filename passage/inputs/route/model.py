"""What a route is: waypoints as files give them, legs as the planner uses them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from passage.errors import Problem, RouteError, join_problems
from passage.inputs.route.geometry import great_circle_inverse, line_inverse
from passage.units import HOUR_S, NM_M

LegKind = Literal["rhumb", "great circle", "stay"]

#: Above this a number is more likely km/h, or a mistake, than a yacht's speed.
MAX_SPEED_KN = 80.0
#: A year; a longer stay is a mistake of units.
MAX_STAY_H = 8760.0
MAX_WAYPOINTS = 5000
#: Waypoints closer than this are one place for a ship [m].
_SAME_PLACE_M = 1.0
#: Within this of the antipode the great circle's course is a matter of chance [nm].
_ANTIPODE_NM = 60.0


@dataclass(frozen=True, kw_only=True)
class Waypoint:
    """One waypoint; ``kind`` and ``speed_kn`` belong to the leg that ends here.

    ``stay_h`` is spent here after arriving. ``eta_s`` and ``etd_s`` are the schedule
    of the file, if any [s since 1970]. ``place`` says where in the file it stands.
    """

    name: str
    lat_deg: float
    lon_deg: float
    kind: Literal["rhumb", "great circle"] = "rhumb"
    speed_kn: float | None = None
    stay_h: float = 0.0
    eta_s: float | None = None
    etd_s: float | None = None
    place: str = ""


@dataclass(frozen=True)
class Leg:
    """One leg under way, or one stay (length 0, course NaN).

    ``etd_s`` is the departure from its start and ``eta_s`` the arrival at its end as
    the file's schedule gives them, else None. ``course_true_deg`` is the course at
    the start; a great circle's changes along it.
    """

    name_from: str
    name_to: str
    lat_from_deg: float
    lon_from_deg: float
    lat_to_deg: float
    lon_to_deg: float
    kind: LegKind
    speed_kn: float | None
    stay_h: float
    distance_m: float
    course_true_deg: float
    etd_s: float | None = None
    eta_s: float | None = None

    @property
    def label(self) -> str:
        """Words for tables: ``Start to Point A``, or ``stay at Point A``."""
        if self.kind == "stay":
            return f"stay at {self.name_to}"
        return f"{self.name_from} to {self.name_to}"


@dataclass(frozen=True)
class Route:
    """A checked route. ``notes`` are words for the plan, ``path`` where it came from."""

    name: str
    legs: tuple[Leg, ...]
    notes: tuple[str, ...] = ()
    path: str = ""

    @property
    def distance_m(self) -> float:
        """Length of all legs [m]."""
        return math.fsum(leg.distance_m for leg in self.legs)

    def with_schedule(
        self,
        etd_s: Sequence[float | None],
        eta_s: Sequence[float | None],
        speed_kn: Sequence[float | None] | None = None,
    ) -> Route:
        """The same route with times, and if given speeds, of its legs, stays included.

        Parameters
        ----------
        etd_s, eta_s
            Departure from the start and arrival at the end of each leg [s since
            1970]; None or NaN where unknown.
        speed_kn
            Speed of each leg; None or NaN leaves the leg's own. [kn]

        Raises
        ------
        ValueError
            Not one value per leg.
        """
        speeds = [None] * len(self.legs) if speed_kn is None else list(speed_kn)
        rows = zip(self.legs, etd_s, eta_s, speeds, strict=True)
        legs = tuple(
            replace(
                leg,
                etd_s=_known(etd),
                eta_s=_known(eta),
                speed_kn=leg.speed_kn
                if leg.kind == "stay" or _known(speed) is None
                else _known(speed),
            )
            for leg, etd, eta, speed in rows
        )
        return replace(self, legs=legs)

    @property
    def waypoints(self) -> tuple[Waypoint, ...]:
        """The waypoints again, stays folded into the one they are spent at."""
        points: list[Waypoint] = []
        for leg in self.legs:
            if not points:
                points.append(
                    Waypoint(
                        name=leg.name_from,
                        lat_deg=leg.lat_from_deg,
                        lon_deg=leg.lon_from_deg,
                    )
                )
            last = points[-1]
            if leg.kind == "stay":
                points[-1] = _changed(last, stay_h=leg.stay_h, etd_s=leg.eta_s)
                continue
            if last.etd_s is None:
                points[-1] = _changed(last, etd_s=leg.etd_s)
            points.append(
                Waypoint(
                    name=leg.name_to,
                    lat_deg=leg.lat_to_deg,
                    lon_deg=leg.lon_to_deg,
                    kind=leg.kind,
                    speed_kn=leg.speed_kn,
                    eta_s=leg.eta_s,
                )
            )
        return tuple(points)


def _known(value: float | None) -> float | None:
    return None if value is None or math.isnan(value) else float(value)


def _changed(point: Waypoint, **values: float | None) -> Waypoint:
    return Waypoint(**{**point.__dict__, **values})


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
        raise RouteError(join_problems(found))
    waypoints, schedule_note = _checked_schedule(waypoints)
    if schedule_note:
        notes = (*notes, schedule_note)
    legs: list[Leg] = []
    for index, point in enumerate(waypoints):
        if index:
            before = waypoints[index - 1]
            distance_m, course_deg = line_inverse(
                point.kind, before.lat_deg, before.lon_deg, point.lat_deg, point.lon_deg
            )
            problem = _leg_problem(file, before, point, distance_m)
            if problem:
                found.append(problem)
            legs.append(_leg(before, point, distance_m, course_deg))
        if point.stay_h > 0.0:
            legs.append(_stay(point))
    if found:
        raise RouteError(join_problems(found))
    return Route(name=name, legs=tuple(legs), notes=notes, path=file)


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
    )


def _leg_problem(file: str, before: Waypoint, point: Waypoint, distance_m: float) -> Problem | None:
    leg = f"leg {before.name} to {point.name}"
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
                bare = [_changed(p, eta_s=None, etd_s=None) for p in waypoints]
                return bare, (
                    f"the file's schedule is not used: {word} at {point.name} is "
                    f"{hours:.1f} h before the time that precedes it"
                )
            last = time_s
    return waypoints, ""
