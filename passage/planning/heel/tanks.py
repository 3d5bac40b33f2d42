"""State of the tanks, GM, trim and draughts before and after each transfer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from passage.inputs.vessel import Vessel
from passage.physics.hull.stability import is_slack_through, sinkage_m_per_t
from passage.planning.heel.model import SEA, Floats, HeelProblem
from passage.planning.heel.moves import Move, moved_by
from passage.planning.voyage.loading import (
    free_surfaces_t_m,
    stiffness_per_m3,
    trim_per_m3,
)


@dataclass(frozen=True, kw_only=True)
class Condition:
    """How she floats with given tank contents; the list is that from loading alone.

    ``trim_m`` is the change since departure, positive by the bow. It and the draughts at
    the ends are ``None`` where a tank that changed has no ``x_m``.
    """

    content_m3: tuple[float, ...]
    displacement_t: float
    gm_m: float
    list_deg: float
    trim_m: float | None
    draught_fore_m: float | None
    draught_aft_m: float | None


@dataclass(frozen=True, kw_only=True)
class TransferState:
    """One transfer, or several before the same point, with the state on both sides.

    ``gm_pumping_m`` is the least GM while the pump runs, with every tank of the moves slack.
    """

    leg: int
    point: int
    moves: tuple[Move, ...]
    before: Condition
    after: Condition
    gm_pumping_m: float


def condition(
    vessel: Vessel,
    content_m3: Floats,
    events_t_m: float = 0.0,
    touched: Sequence[int] = (),
) -> Condition:
    """How she floats with these tank contents; tanks in ``touched`` are taken as slack."""
    hull, tanks = vessel.particulars, vessel.tanks
    start = np.array([tank.content_m3 for tank in tanks])
    capacity = np.array([tank.capacity_m3 for tank in tanks])
    density = np.array([tank.density_t_m3 for tank in tanks])
    change = np.asarray(content_m3, dtype=float) - start
    weight = float(change @ density)
    stiffness0 = hull.displacement_t * hull.gm_m
    now = is_slack_through(content_m3, content_m3, capacity)
    now[list(touched)] = True
    lost = (now.astype(float) - is_slack_through(start, start, capacity)) @ free_surfaces_t_m(
        vessel
    )
    stiffness = stiffness0 + float(change @ stiffness_per_m3(vessel)) - float(lost)
    moment = stiffness0 * float(np.tan(np.radians(vessel.loading.list_deg))) + events_t_m
    moment += float(change @ (density * np.array([tank.y_m for tank in tanks])))
    trim = float(np.where(np.abs(change) > 1e-9, change * trim_per_m3(vessel), 0.0).sum())
    mean = hull.draught_m + weight * sinkage_m_per_t(
        hull.length_waterline_m, hull.beam_waterline_m, hull.waterplane_coefficient
    )
    fore0 = hull.bow_draught_m - hull.draught_m
    known = bool(np.isfinite(trim))
    return Condition(
        content_m3=tuple(float(c) for c in content_m3),
        displacement_t=hull.displacement_t + weight,
        gm_m=stiffness / (hull.displacement_t + weight),
        list_deg=float(np.degrees(np.arctan2(moment, stiffness))),
        trim_m=trim if known else None,
        draught_fore_m=mean + fore0 + 0.5 * trim if known else None,
        draught_aft_m=mean - fore0 - 0.5 * trim if known else None,
    )


def transfer_states(
    vessel: Vessel, problem: HeelProblem, moves: Sequence[Move]
) -> tuple[TransferState, ...]:
    """Each transfer with the state before and after it."""
    moves = tuple(moves)
    start = problem.content_start_m3
    after_all = start + moved_by(problem, moves)
    out = []
    for point in sorted({move.point for move in moves}):
        here = tuple(move for move in moves if move.point == point)
        earlier = tuple(move for move in moves if move.point < point)
        before = (start + moved_by(problem, earlier))[point]
        after = after_all[point]
        events = float(problem.event_moment_t_m[point])
        touched = sorted({i for m in here for i in (m.source, m.target) if i != SEA})
        pumping = min(
            condition(vessel, content, events, touched).gm_m for content in (before, after)
        )
        out.append(
            TransferState(
                leg=int(problem.leg_of[point]) + 1,
                point=point,
                moves=here,
                before=condition(vessel, before, events),
                after=condition(vessel, after, events),
                gm_pumping_m=pumping,
            )
        )
    return tuple(out)


def arrival(vessel: Vessel, problem: HeelProblem, moves: Sequence[Move]) -> Condition:
    """How she floats on arrival."""
    end = problem.content_start_m3[-1] - problem.burn_m3[-1]
    if problem.n_points:
        end = end + moved_by(problem, tuple(moves))[-1]
    return condition(vessel, end, float(problem.event_moment_t_m[-1]))
