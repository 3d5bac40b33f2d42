"""Routes: waypoints as files give them, legs as the planner uses them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

LegKind = Literal["rhumb", "great circle", "stay"]

#: Above this a number is more likely km/h, or a mistake, than a yacht's speed.
MAX_SPEED_KN = 80.0
#: A year; a longer stay is a mistake of units.
MAX_STAY_H = 8760.0
MAX_WAYPOINTS = 5000


@dataclass(frozen=True, kw_only=True)
class Waypoint:
    """One waypoint; ``kind`` and ``speed_kn`` belong to the leg that ends here.

    ``stay_h`` is spent here after arriving. ``transfer`` says whether liquid may be
    moved between tanks here (None: as at any waypoint). ``eta_s`` and ``etd_s`` are the schedule
    of the file, if any [s since 1970]. ``place`` says where in the file it is.
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
    transfer: bool | None = None


@dataclass(frozen=True)
class Leg:
    """One leg under way, or one stay (length 0, course NaN).

    ``etd_s`` is the departure from its start and ``eta_s`` the arrival at its end as
    the file's schedule gives them, else None. ``course_true_deg`` is the course at
    the start; a great circle's changes along it. ``transfer`` is the mark of the
    waypoint it begins at.
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
    transfer: bool | None = None

    @property
    def label(self) -> str:
        """Words for tables: ``Start to Point A``, or ``stay at Point A``."""
        if self.kind == "stay":
            return f"stay at {self.name_to}"
        return f"{self.name_from} to {self.name_to}"


@dataclass(frozen=True)
class Route:
    """A checked route. ``notes`` go into the plan; ``path`` is its file.

    ``behind`` is what she has sailed of the whole route already; None where she leaves port.
    """

    name: str
    legs: tuple[Leg, ...]
    notes: tuple[str, ...] = ()
    path: str = ""
    behind: Route | None = None

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
                        eta_s=leg.etd_s if leg.kind == "stay" else None,
                        transfer=leg.transfer,
                    )
                )
            last = points[-1]
            if leg.transfer is not None:
                last = points[-1] = replace(last, transfer=leg.transfer)
            if leg.kind == "stay":
                points[-1] = replace(last, stay_h=leg.stay_h, etd_s=leg.eta_s)
                continue
            if last.etd_s is None:
                points[-1] = replace(last, etd_s=leg.etd_s)
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
