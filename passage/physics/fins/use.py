"""Use of the fins at a point, and running totals for the engineer.

Common practice, no source: fins work under way from 3 kn ahead, and in their at-rest mode
under 3 kn ahead or astern; they stand centred for going astern, for close-quarters
manoeuvring and where slamming is likely.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.units import KNOT_M_S

FloatArray = NDArray[np.float64]
CodeArray = NDArray[np.int8]

#: Speed through the water from which fins work under way; below it, ahead or astern, they may
#: work at rest. [m/s]
UNDER_WAY_M_S = 3.0 * KNOT_M_S
#: Speed astern above which fins are mechanically locked as well, where fitted. [m/s]
ASTERN_LOCK_M_S = 5.0 * KNOT_M_S

(
    UNKNOWN, NONE, ACTIVE, AT_REST, ASTERN, ASTERN_LOCKED, MANOEUVRING, SLAMMING, NO_REST_MODE,
    NOT_NEEDED,
) = range(10)  # fmt: skip

#: Short word of each code.
FIN_USE_WORDS: tuple[str, ...] = (
    "unknown",
    "none",
    "active",
    "at rest",
    "centred",
    "centred and locked",
    "centred",
    "centred",
    "centred",
    "centred",
)

#: Reason and action for each code.
FIN_USE_REASONS: tuple[str, ...] = (
    "speed or sea not known",
    "no fins fitted",
    "under way, 3 kn ahead or more",
    "under 3 kn either way: at-rest mode; check first that nobody works on the fins",
    "going astern at 3 kn or more: centre the fins",
    "going astern above 5 kn: centre the fins and lock them where a lock is fitted",
    "manoeuvring close to others: centre the fins",
    "slamming likely: centre the fins, do not lock them, slow down and alter course",
    "under 3 kn and no at-rest mode: fins centred",
    "roll stays within the owner's limit without them, and no list is held",
)

_CENTRED = (ASTERN, ASTERN_LOCKED, MANOEUVRING, SLAMMING, NO_REST_MODE, NOT_NEEDED)


def fin_use(
    speed_m_s: Any,
    slam_probability: Any = 0.0,
    *,
    slam_limit: Any = 0.03,
    manoeuvring: Any = False,
    fitted: bool = True,
    at_rest_fitted: bool = True,
) -> CodeArray:
    """Use of the fins at each point, as an index of ``FIN_USE_WORDS`` and ``FIN_USE_REASONS``.

    Parameters
    ----------
    speed_m_s : array_like
        Speed through the water, ahead positive, astern negative. [m/s]
    slam_probability : array_like
        Share of encounters with a slam, dimensionless.
    slam_limit : array_like
        Share from which slamming counts as likely (0.03 up to 100 m length, from memory).
    manoeuvring : array_like of bool
        Whether she manoeuvres at close quarters here.
    fitted, at_rest_fitted : bool
        Whether she has fins, and whether they can work at rest.

    Returns
    -------
    ndarray of int8
        Broadcast shape. An unknown speed or slamming share gives ``UNKNOWN``, never a use.
    """
    speed, slam, limit, close = np.broadcast_arrays(
        np.asarray(speed_m_s, dtype=float),
        np.asarray(slam_probability, dtype=float),
        np.asarray(slam_limit, dtype=float),
        np.asarray(manoeuvring, dtype=bool),
    )
    if not fitted:
        return np.full(speed.shape, NONE, dtype=np.int8)
    # A speed of 3 kn converted to m/s may be slightly below the constant.
    tolerance = 1e-9
    unknown = np.isnan(speed) | np.isnan(slam) | np.isnan(limit)
    code: CodeArray = np.select(
        [
            unknown,
            speed < -ASTERN_LOCK_M_S - tolerance,
            speed <= -UNDER_WAY_M_S + tolerance,
            close,
            slam >= limit,
            speed >= UNDER_WAY_M_S - tolerance,
        ],
        [UNKNOWN, ASTERN_LOCKED, ASTERN, MANOEUVRING, SLAMMING, ACTIVE],
        default=AT_REST if at_rest_fitted else NO_REST_MODE,
    ).astype(np.int8)
    return code


def fins_work(code: Any) -> NDArray[np.bool_]:
    """Whether fins work against roll, under way or at rest.

    ``code``: codes of :func:`fin_use`, dimensionless, any shape.
    """
    codes = np.asarray(code)
    result: NDArray[np.bool_] = (codes == ACTIVE) | (codes == AT_REST)
    return result


def fins_centred(code: Any) -> NDArray[np.bool_]:
    """Whether fins are fitted and stand centred.

    ``code``: codes of :func:`fin_use`, dimensionless, any shape.
    """
    return np.isin(np.asarray(code), _CENTRED)


@dataclass(frozen=True, kw_only=True, eq=False)
class FinTotals:
    """Running totals over the segments, for the engineer.

    ``hours_active`` (under way), ``hours_at_rest``, ``hours_centred`` and
    ``hours_unknown`` are the hours of each use; ``travel_deg`` is the angle that one fin swung
    through while working, over the segments where it is known; ``at_limit_percent`` is the
    share of the working time at the angle or rate limit (NaN if it is known nowhere);
    ``hours_without_travel`` are the working hours whose travel is not known, which mark a
    total as partial.
    """

    hours_active: FloatArray
    hours_at_rest: FloatArray
    hours_centred: FloatArray
    hours_unknown: FloatArray
    travel_deg: FloatArray
    at_limit_percent: FloatArray
    hours_without_travel: FloatArray


def fin_totals(
    code: Any,
    hours: Any,
    travel_deg_per_h: Any,
    at_limit_percent: Any,
    axis: int = -1,
) -> FinTotals:
    """Totals over the segments along ``axis``.

    Parameters
    ----------
    code : array_like of int
        From ``fin_use``.
    hours : array_like
        Duration of each segment; NaN makes every total that includes it NaN. [h]
    travel_deg_per_h, at_limit_percent : array_like
        Travel [deg/h] and share of time at a limit [%] of one fin while working; ignored
        where fins are centred.
    axis : int
        Axis of the segments after broadcasting.

    Returns
    -------
    FinTotals
        Arrays without that axis.
    """
    codes, duration, travel, limit = np.broadcast_arrays(
        np.asarray(code),
        np.asarray(hours, dtype=float),
        np.asarray(travel_deg_per_h, dtype=float),
        np.asarray(at_limit_percent, dtype=float),
    )
    working = fins_work(codes)

    def total(where: NDArray[np.bool_], values: FloatArray) -> FloatArray:
        return np.asarray(np.sum(np.where(where, values, 0.0), axis=axis))

    travel_known = working & ~np.isnan(travel)
    limit_known = working & ~np.isnan(limit)
    limit_hours = total(limit_known, duration)
    at_limit = total(limit_known, limit * duration)
    some = limit_hours > 0.0
    return FinTotals(
        hours_active=total(codes == ACTIVE, duration),
        hours_at_rest=total(codes == AT_REST, duration),
        hours_centred=total(fins_centred(codes), duration),
        hours_unknown=total(codes == UNKNOWN, duration),
        travel_deg=total(travel_known, travel * duration),
        at_limit_percent=np.where(some, at_limit / np.where(some, limit_hours, 1.0), np.nan),
        hours_without_travel=total(working & np.isnan(travel), duration),
    )
