"""The owner's limits on the legs of one plan: worst windows, when, and for how long."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from passage.inputs.vessel import Vessel
from passage.planning.voyage.limits import LegLimit, leg_limits
from passage.units import HOUR_S, utc_text
from passage.variables import BY_NAME

if TYPE_CHECKING:
    from passage.inputs.route import Track
    from passage.planning.voyage.evaluate import Evaluation
    from passage.planning.voyage.march import March


def judge_legs(
    vessel: Vessel,
    track: Track,
    way: March,
    evaluation: Evaluation,
    legs: Sequence[dict[str, Any]],
    departure_s: float,
    fins: str = "active",
) -> tuple[dict[str, Any], ...]:
    """Give every leg row its worst windows; the same in detail for limits that are set.

    Parameters
    ----------
    vessel, track, way, evaluation
        Of one passage, arrays of shape ``(n,)``.
    legs : sequence of dict
        Rows of :func:`legtable.leg_table`, filled in place.
    departure_s : float
        When she leaves. [s]
    fins
        The user's choice.

    Returns
    -------
    tuple of dict
        One a limit and leg: ``leg``, ``limit_key``, ``limit``, ``worst``, ``unit``, ``from_utc``
        and ``to_utc`` of the worst window, ``hours_over``, and ``known``, false where part of
        the leg's windows is not.
    """
    found = leg_limits(vessel, track.leg, track.length_m == 0.0, way.hours, evaluation.values, fins)
    rows = []
    for one in found:
        for i, leg in enumerate(legs):
            if one.key.startswith("window_"):
                leg[one.key] = float(one.value[i])
            if np.isfinite(one.limit[i]):
                rows.append(_row(one, i, departure_s))
    return tuple(rows)


def _row(one: LegLimit, i: int, departure_s: float) -> dict[str, Any]:
    begins = departure_s + (one.middle_h[i] - 0.5 * one.length_h[i]) * HOUR_S
    ends = begins + one.length_h[i] * HOUR_S
    seen = bool(np.isfinite(begins))
    return {
        "leg": i + 1,
        "limit_key": one.limit_key,
        "limit": float(one.limit[i]),
        "worst": float(one.worst[i]),
        "unit": BY_NAME[one.key].unit,
        "from_utc": utc_text(begins) if seen else None,
        "to_utc": utc_text(ends) if seen else None,
        "hours_over": float(one.over_h[i]),
        "known": not bool(one.unknown[i]),
    }


def window_words(row: dict[str, Any] | None) -> str:
    """``from 10:20Z to 11:20Z, 2.3 h over``: when a limit is exceeded most, and how long."""
    if row is None or row["from_utc"] is None or not row["hours_over"] > 0.0:
        return ""
    first, last = row["from_utc"][11:], row["to_utc"][11:]
    when = f"at {first}" if first == last else f"from {first} to {last}"
    hours = row["hours_over"]
    return f" {when}, {f'{hours:.1f}' if hours >= 0.05 else 'under 0.1'} h over"
