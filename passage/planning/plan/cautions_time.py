"""Cautions of a plan about the time of arrival that was asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from passage.planning.plan.result import Caution
from passage.units import HOUR_S, m_s_to_knots, utc_text

if TYPE_CHECKING:
    from passage.planning.voyage.march import March
    from passage.planning.voyage.prepare import PlanOptions

#: An arrival is late or early beyond this much. [h]
_NEAR_H = 0.05


def arrival_cautions(options: PlanOptions, way: March) -> tuple[Caution, ...]:
    """A warning where she arrives after the time asked, a caution where before it.

    Parameters
    ----------
    options : PlanOptions
        ``arrive_s`` is the time asked [s since 1970, UTC]; None gives no caution.
    way : March
        ``hours`` of the segments [h]; a missing one gives no caution.
    """
    if options.arrive_s is None:
        return ()
    arrival_s = options.departure_s + float(np.sum(way.hours)) * HOUR_S
    late_h = (arrival_s - options.arrive_s) / HOUR_S
    if not np.isfinite(late_h) or abs(late_h) <= _NEAR_H:
        return ()
    asked, there = utc_text(options.arrive_s), utc_text(arrival_s)
    if late_h > 0.0:
        text = (
            f"she arrives at {there}, {late_h:.1f} h after the time asked, {asked}: no speed of "
            "the speed-fuel points is fast enough. Leave earlier, or ask for a later arrival."
        )
        return (Caution("arrives_late", "warning", (), text),)
    slowest = float(m_s_to_knots(np.nanmax(way.speed_through_water_m_s)))
    text = (
        f"she arrives at {there}, {-late_h:.1f} h before the time asked, {asked}: {slowest:.1f} "
        "kn, the slowest of the speed-fuel points, is the slowest that is tried (--speed takes "
        "less). Leave later, or plan a stop."
    )
    return (Caution("arrives_early", "caution", (), text),)
