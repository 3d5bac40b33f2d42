"""The heel problem: tanks, moments, prices and rules, point by point.

All are plain numbers and arrays over the points of one passage, so a problem can be built
from a forecast, from a log, or by hand. A point is a piece of the track short enough that
nothing changes on it. Legs are those of the route file and are used for words only. A
stage lies between two places where liquid may be moved; within it the tanks are left
alone. Moments, heel and y are positive to starboard. Moments are in tonne-metres (a mass
times a lever, as in the stability booklet); multiply by g for kN m.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.int_]

#: Index of the sea in a pair, when ballast is taken in or discharged.
SEA = -1
#: A tank filled to this share counts as pressed up and has no free surface
#: (2008 IS Code, Part A, 3.1: free surface counts below 98 %; from memory).
PRESSED_UP = 0.98
#: A tank with less than this share left counts as empty; common practice, no source.
EMPTY = 0.02


@dataclass(frozen=True, kw_only=True)
class HeelTank:
    """One tank that can list the vessel or put her upright.

    ``free_surface_t_m`` is density times the second moment of area of the surface, the
    stiffness lost while the tank is slack. ``stiffness_t_m_per_m3`` is the stiffness
    (displacement times GM) gained per cubic metre put in; between tanks only the difference
    counts, so 0 for all means that they are at the same height. ``trim_m_per_m3`` is the
    trim by the bow per cubic metre put in, ``None`` where the tank's place along the hull
    is not known.
    """

    name: str
    holds: str
    capacity_m3: float
    content_m3: float
    y_m: float
    density_t_m3: float
    minimum_m3: float = 0.0
    free_surface_t_m: float = 0.0
    stiffness_t_m_per_m3: float = 0.0
    trim_m_per_m3: float | None = None

    @property
    def moment_t_m_per_m3(self) -> float:
        """Heeling moment per cubic metre, positive to starboard."""
        return self.density_t_m3 * self.y_m


class TankArrays(NamedTuple):
    """Numbers of all tanks, ``(k,)`` each."""

    capacity_m3: Floats
    minimum_m3: Floats
    density_t_m3: Floats
    free_surface_t_m: Floats
    stiffness_t_m_per_m3: Floats


@dataclass(frozen=True, kw_only=True)
class HeelProblem:
    """One passage of ``n`` points and ``k`` tanks, before any decision.

    Arrays are ``(n,)`` over points unless stated otherwise.

    Attributes
    ----------
    leg_names
        One for each leg of the route.
    leg
        Index of the leg each point belongs to, never falling; ``None`` when every
        point is a leg of its own.
    hours, speed_kn, distance_nm, fuel_l_per_h
        Each point as planned, its fuel without any correction of heel.
    list_moment_t_m
        Moment of the list observed at departure.
    wind_moment_t_m, event_moment_t_m
        Wind moment, and moment of people, tenders or stores moved since
        departure.
    displacement_t, stiffness_t_m
        Displacement, and displacement times fluid GM, in the middle of the point, with
        fuel burnt but nothing transferred.
    gm_minimum_m
        Least fluid GM allowed; ``None`` when not given.
    limit_deg
        Owner's limit of steady heel; ``inf`` where there is none.
    fin_l_per_moment2
        Litres on the point per (t m)^2 of moment held by the fins.
    hold_l
        Litres on the point for holding anything at all: fuel of active over centred fins,
        where roll alone would leave them centred. 0 elsewhere, and everywhere when
        ``None``.
    fin_moment_max_t_m
        Largest steady moment the fins can hold beside their work against roll; 0 where an
        offset is not allowed (at rest, astern, centred required).
    offset_fraction, offset_price_l
        Optional ``(g,)`` from 0 to 1 and ``(n, g)``: cost of an offset beyond the square of
        its moment, and the worth of its extra roll, in litres, at shares of
        ``fin_moment_max_t_m``.
    roll_l_per_deg_h
        Worth of one degree less significant roll for an hour.
    leave_l_per_deg2, comfort_l_per_deg
        Cost of steady heel left on the point: hull drag per degree squared, and the worth
        of a degree of heel for that long to those aboard.
    transfer_allowed, transfer_hours
        Whether liquid may be moved before the point, and the hours available for it.
    burn_m3
        ``(n, k)`` drawn from each tank on the point.
    pairs
        ``(from, to)`` tank indices that pumps and valves connect; :data:`SEA` for
        ballast from or to the sea.
    transfer_fixed_l, pump_l_per_m3, rate_m3_per_h, smallest_transfer_m3
        Price of setting up one transfer and of pumping, pump rate, and the smallest amount
        to be transferred.
    carry_l_per_t
        Extra litres on the point per tonne of ballast carried.
    trim_limit_m
        Change of trim by moves and burn above which there is a caution.
    sea_unknown
        ``(n,)`` points where the sea, and so what the fins can hold, is not known; none when
        ``None``.
    over_limit_l_per_deg
        Charge per hour for each degree above the owner's limit, so large that limits are
        exceeded only where nothing can keep them. Not a cost in any result.
    limit_stiffness_t_m
        Stiffness that turns the owner's heel limit into a moment; when ``None`` the lowest
        that moves could cause, so that the limit holds whatever is moved.
    """

    leg_names: tuple[str, ...]
    hours: Floats
    speed_kn: Floats
    fuel_l_per_h: Floats
    list_moment_t_m: float
    wind_moment_t_m: Floats
    event_moment_t_m: Floats
    displacement_t: Floats
    stiffness_t_m: Floats
    gm_minimum_m: float | None
    limit_deg: Floats
    fin_l_per_moment2: Floats
    fin_moment_max_t_m: Floats
    leave_l_per_deg2: Floats
    comfort_l_per_deg: Floats
    transfer_allowed: Flags
    transfer_hours: Floats
    tanks: tuple[HeelTank, ...]
    burn_m3: Floats
    pairs: tuple[tuple[int, int], ...]
    transfer_fixed_l: float
    pump_l_per_m3: float
    rate_m3_per_h: float
    carry_l_per_t: Floats
    smallest_transfer_m3: float = 0.05
    offset_fraction: Floats | None = None
    offset_price_l: Floats | None = None
    sea_unknown: Flags | None = None
    over_limit_l_per_deg: float = 1.0e4
    limit_stiffness_t_m: Floats | None = None
    fuel_price_per_l: float | None = None
    currency: str = ""
    fin_angle_per_moment_deg: Floats | None = None
    leg: Indices | None = None
    hold_l: Floats | None = None
    trim_limit_m: float | None = None
    roll_l_per_deg_h: float = 0.0
    notes: tuple[str, ...] = field(default_factory=tuple)

    @property
    def n_points(self) -> int:
        """Number of points."""
        return len(self.hours)

    @property
    def n_legs(self) -> int:
        """Number of legs."""
        return len(self.leg_names)

    @property
    def leg_of(self) -> Indices:
        """``(n,)`` index of the leg of each point."""
        return np.arange(self.n_points) if self.leg is None else np.asarray(self.leg)

    @property
    def unknown_sea(self) -> Flags:
        """``(n,)`` points where the sea is not known."""
        given = self.sea_unknown
        return np.zeros(self.n_points, dtype=bool) if given is None else given

    @property
    def leg_starts(self) -> Indices:
        """First point of each leg."""
        leg = self.leg_of
        return np.flatnonzero(np.r_[True, leg[1:] != leg[:-1]])

    @property
    def stage_starts(self) -> Indices:
        """First point of each stage: the start, and wherever liquid may be moved."""
        first = np.asarray(self.transfer_allowed).copy()
        first[:1] = True
        return np.flatnonzero(first)

    @property
    def distance_nm(self) -> Floats:
        """Miles through the water, point by point."""
        return self.hours * self.speed_kn

    @cached_property
    def tank_moment_per_m3(self) -> Floats:
        """``(k,)`` heeling moment per cubic metre in each tank [t m/m3]."""
        return np.array([tank.moment_t_m_per_m3 for tank in self.tanks])

    @cached_property
    def content_start_m3(self) -> Floats:
        """``(n, k)`` contents as each point starts, nothing transferred."""
        content = np.array([tank.content_m3 for tank in self.tanks])
        burnt = np.vstack([np.zeros(len(self.tanks)), np.cumsum(self.burn_m3, axis=0)])
        return content - burnt[:-1]

    @property
    def burn_moment_t_m(self) -> Floats:
        """Moment from drawing tanks down, in the middle of each point."""
        middle = np.cumsum(self.burn_m3, axis=0) - 0.5 * self.burn_m3
        return -middle @ self.tank_moment_per_m3

    @cached_property
    def moment_t_m(self) -> Floats:
        """Heeling moment at each point with nothing done."""
        return (
            self.list_moment_t_m
            + self.burn_moment_t_m
            + self.wind_moment_t_m
            + self.event_moment_t_m
        )

    @cached_property
    def tank_arrays(self) -> TankArrays:
        """Numbers of the tanks, ``(k,)`` each."""
        return TankArrays(
            *(
                np.array([getattr(tank, name) for tank in self.tanks], dtype=float)
                for name in (
                    "capacity_m3",
                    "minimum_m3",
                    "density_t_m3",
                    "free_surface_t_m",
                    "stiffness_t_m_per_m3",
                )
            )
        )

    @cached_property
    def slack_untouched(self) -> Flags:
        """``(n, k)`` whether each tank is slack on each point, nothing transferred."""
        return slack(self, self.content_start_m3)

    @cached_property
    def gm_untouched_m(self) -> Floats:
        """Fluid GM at each point, nothing transferred."""
        return stability(self, np.zeros(self.content_start_m3.shape))[2]

    def heel_deg(self, moment_t_m: Floats, stiffness_t_m: Floats | None = None) -> Floats:
        """Steady heel under a moment [deg]: tan(heel) = moment / (displacement GM)."""
        stiffness = self.stiffness_t_m if stiffness_t_m is None else stiffness_t_m
        return np.degrees(np.arctan2(moment_t_m, stiffness))


def slack_tanks(
    tanks: tuple[HeelTank, ...], start_m3: Floats, burn_m3: Floats | float = 0.0
) -> Flags:
    """Whether each tank (last axis) is slack at any time on a point.

    It is not slack only if it stays pressed up to the end of the point or is empty from its
    start: a tank being drawn down has a free surface.
    """
    return _slack(np.array([tank.capacity_m3 for tank in tanks]), start_m3, burn_m3)


def _slack(capacity_m3: Floats, start_m3: Floats, burn_m3: Floats | float) -> Flags:
    pressed = start_m3 - burn_m3 >= PRESSED_UP * capacity_m3 - 1e-9
    empty = start_m3 <= EMPTY * capacity_m3 + 1e-9
    return np.asarray(~(pressed | empty))


def slack(problem: HeelProblem, content_start_m3: Floats) -> Flags:
    """Whether each tank is slack on each point, ``(n, k)``, given contents at its start."""
    return _slack(problem.tank_arrays.capacity_m3, content_start_m3, problem.burn_m3)


def stability(problem: HeelProblem, moved_m3: Floats) -> tuple[Floats, Floats, Floats]:
    """Displacement [t], stiffness [t m] and fluid GM [m] per point after moves.

    ``moved_m3`` ``(n, k)`` is what transfers up to and including the one before the point
    have put into each tank (negative: taken out). A tank pumped from or to before a point
    counts as slack on it, since it is slack while the pump runs.
    """
    base, tanks = problem.content_start_m3, problem.tank_arrays
    pumped = np.abs(moved_m3[0:1]) > 1e-9
    if len(moved_m3) > 1:
        pumped = np.concatenate([pumped, np.abs(moved_m3[1:] - moved_m3[:-1]) > 1e-9])
    now = slack(problem, base + moved_m3) | pumped
    more_surface = (now.astype(float) - problem.slack_untouched) @ tanks.free_surface_t_m
    displacement = problem.displacement_t + moved_m3 @ tanks.density_t_m3
    stiffness = problem.stiffness_t_m + moved_m3 @ tanks.stiffness_t_m_per_m3 - more_surface
    return displacement, stiffness, stiffness / displacement


def movable(problem: HeelProblem) -> Flags:
    """``(k,)`` whether the tank is in any pair."""
    touched = np.zeros(len(problem.tanks), dtype=bool)
    for pair in problem.pairs:
        for index in pair:
            if index != SEA:
                touched[index] = True
    return touched


def moved_bounds_m3(problem: HeelProblem) -> tuple[Floats, Floats]:
    """Least and most that moves may have put into each tank, ``(n, k)`` each.

    The tank must have its minimum to the end of the point and never more than its capacity.
    Where burning alone takes it below the minimum, moves must not take out more.
    """
    start = problem.content_start_m3
    tanks, touched = problem.tank_arrays, movable(problem)
    low = np.where(touched, np.minimum(0.0, tanks.minimum_m3 + problem.burn_m3 - start), 0.0)
    high = np.where(touched, np.maximum(0.0, tanks.capacity_m3 - start), 0.0)
    return low, high


def lowest_stiffness_t_m(problem: HeelProblem) -> Floats:
    """Lowest stiffness at each point that any moves could cause.

    Every tank in a pair is taken as slack and at the content of least stiffness. The
    owner's heel limit becomes a moment with this value, so that it holds whatever is moved;
    reported heel uses the actual stiffness.
    """
    base_slack = problem.slack_untouched
    surface = problem.tank_arrays.free_surface_t_m
    per_m3 = problem.tank_arrays.stiffness_t_m_per_m3
    low, high = moved_bounds_m3(problem)
    loss = (movable(problem) & ~base_slack) @ surface
    change = np.minimum(low * per_m3, high * per_m3).sum(axis=1)
    level = per_m3.size == 0 or np.ptp(per_m3) == 0.0
    if level and not any(SEA in pair for pair in problem.pairs):
        change = np.zeros(problem.n_points)
    return problem.stiffness_t_m - loss + change
