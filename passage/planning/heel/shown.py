"""What a heel answer shows beside the decision: points for charts, wind and fins missing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.physics.fins import use
from passage.planning.heel.options import Comparison
from passage.planning.heel.points import Voyage
from passage.planning.plan.result import Caution
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.legs import leg_starts, leg_sum
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import Passage


def wind_unknown_at(
    passage: Passage, evaluation: Evaluation, missing: Sequence[Caution]
) -> npt.NDArray[np.bool_]:
    """``(n,)`` points without wind, where enough are for a caution to say so."""
    said = any(one.code.startswith("wind_") and one.severity != "note" for one in missing)
    if passage.vessel.windage is None or not said:
        return np.zeros(len(passage.track.leg), dtype=bool)
    return np.asarray(~evaluation.wind_known)


def chart_points(voyage: Voyage, comparison: Comparison) -> dict[str, npt.NDArray[Any]]:
    """Values over time for charts."""
    values, problem, plan = voyage.evaluation.values, comparison.problem, comparison.plan
    per_moment = problem.fin_angle_per_moment_deg
    return {
        "time_s": voyage.way.time_s,
        "leg": problem.leg_of + 1,
        "hours": voyage.way.hours,
        "heel_without_deg": values["heel_without_correction_deg"],
        "heel_left_deg": plan.heel_deg,
        "limit_deg": problem.limit_deg,
        "fins_t_m": plan.fins_t_m,
        "fins_max_t_m": problem.fin_moment_max_t_m,
        "fin_offset_deg": plan.fins_t_m * (np.nan if per_moment is None else per_moment),
        "wind_moment_t_m": problem.wind_moment_t_m,
        "gm_m": plan.gm_m,
    }


def centred_for_a_while(
    passage: Passage, way: March, evaluation: Evaluation, comparison: Comparison
) -> list[Caution]:
    """Cautions on legs where the fins hold a list but must stand centred for part of the time."""
    starts = leg_starts(passage.track.leg)
    centred = use.fins_centred(evaluation.fin_use)
    hours = leg_sum(np.where(centred, way.hours, 0.0), starts)
    held = np.abs(comparison.plan.fins_t_m) > 0.0
    holds = np.add.reduceat(held.astype(int), starts) > 0
    return [
        Caution(
            "offset_interrupted",
            "caution",
            (int(leg) + 1,),
            f"the fins must stand centred for {hours[leg]:.1f} h of leg {leg + 1} (slamming "
            "likely, or too slow); her heel is not held then.",
        )
        for leg in np.flatnonzero((hours > 0.0) & holds)
    ]
