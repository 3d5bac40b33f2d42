"""Roll with each use of the fins: offset, working, centred, absent.

Connects the vessel to the roll solver. Points have the shape ``P``, and roll excitation the
shape ``P + (nodes,)``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.physics.fins import use
from passage.physics.fins.drag import fin_drag, fin_side_force, rudder_drag
from passage.physics.fins.force import Fins
from passage.physics.roll.response import RollResponse, solve_roll
from passage.planning.voyage.yacht import Yacht
from passage.units import DEG_RAD, deg_to_rad

Array = npt.NDArray[np.float64]

#: Relative half-width of the metacentric height in the band of roll (assumption).
GM_BAND = 0.10


#: Largest shortfall of the heel to hold that is ignored: 0.02 degrees [rad].
SHORT_RAD = 0.02 * DEG_RAD
#: Number of times the offset is raised to reduce a shortfall.
RAISES = 2

#: A pair without moment, for a yacht without fins.
NO_FINS = Fins(np.zeros(1), np.zeros(1), np.ones(1))


@dataclass(frozen=True)
class Doubt:
    """Uncertainty as factors on values and formulas; arrays broadcasting to P.

    ``gm`` is on the metacentric height, ``slope`` on the variance of effective wave slope,
    ``damping`` on the hull's linear damping, ``wind`` on force and heel by wind.
    ``waves`` is not a factor but a standard normal number; 1.645 is the end of the plan's
    band.
    """

    gm: Array | float = 1.0
    slope: Array | float = 1.0
    damping: Array | float = 1.0
    wind: Array | float = 1.0
    waves: Array | float = 0.0


#: No uncertainty.
SURE = Doubt()


def doubt_rows(doubt: Doubt, rows: npt.NDArray[Any]) -> Doubt:
    """Uncertainty of some rows; scalars are unchanged."""
    return Doubt(
        **{name: made[rows] if np.ndim(made) else made for name, made in vars(doubt).items()}
    )


@dataclass(frozen=True)
class Choices:
    """The user's choices for all points.

    ``fins`` is "active", "centred" or "absent"; ``heel`` is "fins", "limit" or "leave";
    ``list_rad`` broadcasts to P; with ``band``, low and high ends are computed.

    ``stiffness_ratio`` is the present displacement x GM over that of the vessel file. List and
    offset are moments, given as angles at the GM of the file; the heel shown is at the present
    GM. ``gm_ratio`` is the present fluid GM over the file's; the two decide the natural roll
    period. ``hold_rad`` is the moment that the fins shall hold at each point, given in the same
    way; it takes precedence over ``heel``.

    ``doubt`` changes the vessel's values; without ``both``, roll is computed only for the fins
    as chosen. With ``rest_fins``, active fins stand centred where roll keeps within the owner's
    limit without them and they hold no heel; ``calm``, P, is where that is, if known already.
    """

    fins: str = "active"
    heel: str = "fins"
    list_rad: npt.ArrayLike = 0.0
    wave_method: str = "all-heading"
    band: bool = True
    displacement_ratio: npt.ArrayLike | None = None
    stiffness_ratio: npt.ArrayLike = 1.0
    gm_ratio: npt.ArrayLike = 1.0
    hold_rad: npt.ArrayLike | None = None
    doubt: Doubt = SURE
    both: bool = True
    rest_fins: bool = False
    calm: npt.NDArray[np.bool_] | None = None


def fin_offset(
    yacht: Yacht,
    stw: Array,
    static: Array,
    codes: npt.NDArray[np.int8],
    choices: Choices,
) -> tuple[Array, Array]:
    """Offset of each pair, ``P + (pairs,)``, and the heel that it should hold, P. [rad]

    All pairs have the same offset up to their limits. Both are zero where fins do not work
    under way, NaN where that is not known.
    """
    pairs = max(len(yacht.vessel.fins), 1)
    shape = (*stw.shape, pairs)
    leave = choices.heel == "leave" and choices.hold_rad is None
    if not yacht.has_fins or leave or choices.fins != "active":
        return np.zeros(shape), np.zeros(stw.shape)
    target = np.zeros(stw.shape)
    limit_deg = yacht.vessel.limits.underway.steady_heel_deg
    if choices.hold_rad is not None:
        target = static - np.asarray(choices.hold_rad, dtype=float)
    elif choices.heel == "limit" and limit_deg is not None:
        limit = deg_to_rad(limit_deg) * np.asarray(choices.stiffness_ratio, dtype=float)
        # The moment at which her heel is the limit, at the GM of each draw.
        limit = limit * choices.doubt.gm
        target = np.clip(static, -limit, limit)
    fins = yacht.fins_at(stw)
    moment = np.sum(fins.moment_ratio, axis=-1)
    open_ = (codes == use.ACTIVE) & (moment > 0.0)
    angle = (static - target) / np.where(open_, moment, 1.0)
    most = yacht.offset_most_rad
    offset = np.clip(angle[..., None], -most, most)
    unknown = np.isnan(static) | (codes == use.UNKNOWN)
    closed = np.where(unknown, np.nan, 0.0)
    asked = np.where(open_, static - target, closed)
    return np.where(open_[..., None], offset, closed[..., None]), asked


def solve(
    yacht: Yacht,
    stw: Array,
    excitation: Array,
    static: Array,
    fins: Any,
    gm_factor: npt.ArrayLike = 1.0,
    damping_factor: Array | float = 1.0,
    stiffness_ratio: npt.ArrayLike = 1.0,
    gm_ratio: npt.ArrayLike = 1.0,
) -> RollResponse:
    """Roll at points; the mean heel is a moment, given as an angle at the GM of the file.

    ``gm_factor`` is the uncertainty of GM at constant displacement; ``stiffness_ratio``
    (displacement x GM) and ``gm_ratio`` are present values over those of the vessel file.
    """
    # At a constant radius of gyration, the natural frequency goes with the root of GM. Moment
    # ratios and static heel go with the inverse of displacement x GM; the damping ratio, at
    # constant damping, with the inverse root of inertia times stiffness.
    gm = np.asarray(gm_factor, dtype=float)
    stiff = np.asarray(stiffness_ratio, dtype=float)
    day = np.asarray(gm_ratio, dtype=float)
    weight = stiff / day
    moments = gm * stiff
    own = yacht.hull_roll(stw, static / moments)
    hull = replace(
        own,
        natural_frequency_rad_s=yacht.natural_frequency_rad_s * np.sqrt(gm * day),
        damping_ratio=np.asarray(own.damping_ratio) * damping_factor / np.sqrt(weight * moments),
        righting_ratio=np.asarray(own.righting_ratio) * moments,
    )
    scaled = replace(
        fins,
        moment_ratio=np.asarray(fins.moment_ratio) / moments[..., None],
        rest_moment_rad=np.asarray(fins.rest_moment_rad) / moments[..., None],
    )
    found = solve_roll(excitation, yacht.excitation.nodes_rad_s, hull, scaled)
    if np.all(stiff == 1.0):
        return found
    return replace(
        found,
        mean_heel_rad=found.mean_heel_rad * stiff,
        heel_shortfall_rad=found.heel_shortfall_rad * stiff,
    )


def working_fins(yacht: Yacht, stw: Array, offset: Array, codes: npt.NDArray[np.int8]) -> Any:
    """Fins as they work at each point: active, at rest, or centred where required."""
    fins = yacht.fins_at(stw, offset)
    active = (codes == use.ACTIVE)[..., None]
    rest = (codes == use.AT_REST)[..., None]
    zero = {
        name: np.where(active, getattr(fins, name), 0.0)
        for name in ("angle_gain", "rate_gain_s", "acceleration_gain_s2", "offset_rad")
    }
    return replace(fins, **zero, rest_moment_rad=np.where(rest, yacht.rest_moment_rad, 0.0))


@dataclass(frozen=True)
class RollPoints:
    """Everything besides the yacht that roll depends on; arrays P, offset P + (pairs,)."""

    speed_m_s: Array
    excitation: Array
    static_heel_rad: Array
    offset_rad: Array
    fin_use: npt.NDArray[np.int8]
    gm_factor: Array | float = 1.0
    damping_factor: Array | float = 1.0
    stiffness_ratio: npt.ArrayLike = 1.0
    gm_ratio: npt.ArrayLike = 1.0

    def solved(self, yacht: Yacht, fins: Any, gm_factor: float = 1.0) -> RollResponse:
        """Roll with these fins."""
        gm = np.asarray(self.gm_factor) * gm_factor
        points = (self.speed_m_s, self.excitation, self.static_heel_rad)
        return solve(
            yacht, *points, fins, gm, self.damping_factor, self.stiffness_ratio, self.gm_ratio
        )

    def fins(self, yacht: Yacht, choice: str) -> Any:
        """Fins for a choice: "active" (as they would work), "centred" or "absent"."""
        if not yacht.has_fins or choice == "absent":
            return NO_FINS
        if choice == "active":
            return working_fins(yacht, self.speed_m_s, self.offset_rad, self.fin_use)
        return yacht.fins_at(self.speed_m_s).centred()


def roll_with_fins(
    yacht: Yacht, points: RollPoints, choices: Choices
) -> tuple[RollResponse, RollResponse]:
    """Roll with fins centred, and with fins as they would work.

    With absent fins both are the roll of the bare hull; without ``choices.both``, both are the
    roll with the fins as chosen.
    """
    if not yacht.has_fins or choices.fins == "absent":
        bare = points.solved(yacht, NO_FINS)
        return bare, bare
    if not choices.both:
        chosen = points.solved(yacht, points.fins(yacht, choices.fins))
        return chosen, chosen
    centred, active = (
        points.solved(yacht, points.fins(yacht, choice)) for choice in ("centred", "active")
    )
    return centred, active


def rested(
    yacht: Yacht, points: RollPoints, asked: Array, choices: Choices
) -> npt.NDArray[np.int8]:
    """Fin use with fins centred where neither roll nor a heel to hold needs them.

    ``asked`` is the heel that they should hold, P. They keep working where the owner has no
    limit of roll or the roll is not known.
    """
    codes = points.fin_use
    limit = yacht.vessel.limits.underway.roll_significant_deg
    if not choices.rest_fins or choices.fins != "active" or limit is None or not yacht.has_fins:
        return codes
    idle = (codes == use.ACTIVE) & (asked == 0.0)
    if not np.any(idle):
        return codes
    calm = choices.calm
    if calm is None:
        calm = calm_without(points.solved(yacht, points.fins(yacht, "centred")), limit)
    return np.where(idle & calm, np.int8(use.NOT_NEEDED), codes)


def calm_without(centred: RollResponse, limit_deg: float) -> npt.NDArray[np.bool_]:
    """Whether roll with the fins centred is within the owner's limit of significant roll [deg]."""
    return np.asarray(2.0 * centred.roll_rms_rad <= deg_to_rad(limit_deg))


def driven_by_fins(values: Mapping[str, Array]) -> Any:
    """Whether the fins hunt somewhere on each passage, L: roll is known centred, not active.

    ``values`` has ``roll_centred_rms_deg`` and ``roll_active_rms_deg``, ``L + (n,)``.
    """
    centred, active = (values[f"roll_{name}_rms_deg"] for name in ("centred", "active"))
    return np.any(np.isfinite(centred) & np.isnan(active), axis=-1)


def holds_to_a_heel(choices: Choices) -> bool:
    """Whether the fins hold only part of the heel and leave a given heel.

    The offset is then raised until she has that heel (:func:`held_as_asked`).
    """
    return choices.heel == "limit" or choices.hold_rad is not None


def offset_falls_short(asked: Array, held: Array, offset: Array, most: Array) -> Any:
    """Whether fins hold less heel than they should, P, though the offset can still grow.

    Heels in rad; ``offset`` ``P + (pairs,)`` and ``most`` in rad.
    """
    room = np.any(np.abs(offset) < most - 1e-9, axis=-1)
    return (np.abs(asked) - np.abs(held) > SHORT_RAD) & room & (np.abs(held) > 0.0)


def held_as_asked(
    yacht: Yacht, points: RollPoints, roll: RollResponse, asked: Array
) -> tuple[RollPoints, RollResponse]:
    """Points and roll with the offset raised where working fins hold less heel than they should.

    Where roll drives the fins to their limits, their mean lift is less than that of the offset.
    A control that holds a heel raises the offset to make up for it, up to its share of the
    range. ``asked`` is the moment to hold, as an angle [rad].
    """
    gm = np.broadcast_to(points.gm_factor, points.speed_m_s.shape)
    damping = np.broadcast_to(points.damping_factor, points.speed_m_s.shape)
    stiff, day = (
        np.broadcast_to(np.asarray(ratio, dtype=float), points.speed_m_s.shape)
        for ratio in (points.stiffness_ratio, points.gm_ratio)
    )
    held = points.static_heel_rad - gm * roll.mean_heel_rad
    offset = points.offset_rad
    most = yacht.offset_most_rad
    where = offset_falls_short(asked, held, offset, most)
    if not np.any(where):
        return points, roll
    for _ in range(RAISES):
        ratio = np.where(where, asked / np.where(where, held, 1.0), 1.0)
        offset = np.clip(offset * ratio[..., None], -most, most)
        some = RollPoints(
            np.broadcast_to(points.speed_m_s, where.shape)[where],
            points.excitation[where],
            np.broadcast_to(points.static_heel_rad, where.shape)[where],
            offset[where],
            points.fin_use[where],
            gm[where],
            damping[where],
            stiff[where],
            day[where],
        )
        again = some.solved(yacht, some.fins(yacht, "active"))
        changed = {}
        for one in fields(roll):
            values = np.array(getattr(roll, one.name))
            values[where] = getattr(again, one.name)
            changed[one.name] = values
        roll = RollResponse(**changed)
        held = points.static_heel_rad - gm * roll.mean_heel_rad
    return replace(points, offset_rad=offset), roll


def roll_band(
    yacht: Yacht, points: RollPoints, choices: Choices
) -> tuple[RollResponse, RollResponse]:
    """Roll with the fins as chosen, at a GM 10 % less and 10 % more."""
    fins = points.fins(yacht, choices.fins)
    low, high = (points.solved(yacht, fins, 1.0 + sign * GM_BAND) for sign in (-1.0, 1.0))
    return low, high


def response_fin_forces(
    yacht: Yacht, stw: Array, roll: RollResponse, choices: Choices
) -> tuple[Array, Array]:
    """:func:`fin_forces` for a result of the roll solver. [N]"""
    mean, rms = roll.incidence_mean_rad, roll.incidence_rms_rad
    return fin_forces(yacht, stw, mean, rms, choices, roll.beyond_stall_rms_rad)


def fin_forces(
    yacht: Yacht,
    stw: Array,
    mean_rad: Array,
    rms_rad: Array,
    choices: Choices,
    beyond_rad: Array | None = None,
) -> tuple[Array, Array]:
    """Drag of working against roll, and of the offset. [N]

    ``mean_rad`` and ``rms_rad`` are mean and rms of the incidence of each pair,
    ``P + (pairs,)``; ``beyond_rad`` is the root mean square of the incidence beyond the stall.
    Profile drag is part of the owner's speed-fuel points, which were measured with the fins in
    the water, so it is not added. With absent fins it is not subtracted, as no saving has been
    measured.
    """
    active, offset = np.zeros(stw.shape), np.zeros(stw.shape)
    if not yacht.has_fins or choices.fins != "active":
        still = np.where(np.isnan(stw), np.nan, 0.0)
        return still, still
    sideways = []
    for i, pair in enumerate(yacht.fin_drag):
        mean = mean_rad[..., i]
        beyond = None if beyond_rad is None else beyond_rad[..., i]
        drag = fin_drag(stw, mean, rms_rad[..., i], pair, beyond)
        active = active + drag.active_n
        offset = offset + drag.offset_n
        sideways.append(fin_side_force(stw, mean, pair))
    # The offset also turns her a little; the rudder that balances it has drag.
    steering = rudder_drag(stw, np.stack(sideways, axis=-1), yacht.fin_x_m, yacht.rudder)
    return active, offset + steering
