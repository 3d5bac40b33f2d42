"""The owner's limits on the legs of a plan: worst windows, their times, and hours over."""

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
    """Add the worst windows to every leg row; returns details for the limits that are set.

    Parameters
    ----------
    vessel, track, way, evaluation
        One passage, with arrays of shape ``(n,)``.
    legs : sequence of dict
        Rows of :func:`legtable.leg_table`, filled in place.
    departure_s : float
        Departure. [s]
    fins
        The user's choice of fins.

    Returns
    -------
    tuple of dict
        One for each limit and leg: ``leg``, ``limit_key``, ``limit``, ``worst``, ``unit``,
        ``from_utc`` and ``to_utc`` of the worst window, ``hours_over``; ``known``, False where
        part of the leg's windows is unknown; ``past_midnight``, whether the passage goes past
        midnight (UTC).
    """
    found = leg_limits(vessel, track.leg, track.length_m == 0.0, way.hours, evaluation.values, fins)
    rows = []
    # A clock time is enough only if the passage begins and ends on the same day.
    end_s = departure_s + float(np.nansum(way.hours)) * HOUR_S
    past_midnight = utc_text(departure_s)[:10] != utc_text(end_s)[:10]
    for one in found:
        for i, leg in enumerate(legs):
            if one.key.startswith("window_"):
                leg[one.key] = float(one.value[i])
            if np.isfinite(one.limit[i]):
                rows.append(_row(one, i, departure_s, past_midnight))
    return tuple(rows)


_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def _row(one: LegLimit, i: int, departure_s: float, past_midnight: bool) -> dict[str, Any]:
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
        "past_midnight": past_midnight,
    }


def window_words(row: dict[str, Any] | None) -> str:
    """Worst window and hours over a limit, such as ``from 10:20Z to 11:20Z, 2.3 h over``.

    With the day (``from 14 Mar 23:40Z to 15 Mar 00:40Z``) if the passage goes past midnight.
    """
    if row is None or row["from_utc"] is None or not row["hours_over"] > 0.0:
        return ""
    first, last = row["from_utc"], row["to_utc"]
    if row["past_midnight"]:
        first, last = (f"{when[8:10]} {_MONTHS[int(when[5:7]) - 1]} {when[11:]}"
                       for when in (first, last))  # fmt: skip
        last = last if first[:6] != last[:6] else last[7:]
    else:
        first, last = first[11:], last[11:]
    when = f"at {first}" if row["from_utc"] == row["to_utc"] else f"from {first} to {last}"
    hours = row["hours_over"]
    return f" {when}, {f'{hours:.1f}' if hours >= 0.05 else 'under 0.1'} h over"
