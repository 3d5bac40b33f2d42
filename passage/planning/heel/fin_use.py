"""Whether the fins should be active on a leg, or stand centred to save fuel."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.physics.fins import use
from passage.planning.heel.points import idle_l_per_h
from passage.planning.voyage.legs import leg_mean, leg_starts, leg_sum, leg_worst

if TYPE_CHECKING:
    from passage.planning.heel.options import Priced
    from passage.planning.voyage.evaluate import Evaluation
    from passage.planning.voyage.march import March
    from passage.planning.voyage.prepare import Passage

Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

#: Share of a leg's time for which centred fins must be required to count for the leg: with
#: slamming for minutes the fins are still active for hours. Assumption.
MOST_OF_A_LEG = 0.5

CENTRED_TO_SAVE, ACTIVE_FOR_LIMIT, ACTIVE_NO_SAVING, CENTRED_REQUIRED, UNKNOWN, NO_LIMIT = range(6)

#: Advice and reason of each code.
FIN_DECISION_WORDS: tuple[tuple[str, str], ...] = (
    ("centred", "roll stays within the owner's limit without them, and centring saves fuel"),
    ("active", "without them the roll would exceed the owner's limit"),
    ("active", "centring them would save no fuel"),
    ("centred", "centred required: astern, close quarters, or slamming likely"),
    ("not known", "no roll known on this leg"),
    ("active", "the vessel file does not say how much roll is too much"),
)


@dataclass(frozen=True, kw_only=True)
class FinDecision:
    """For each leg a ``code`` of :data:`FIN_DECISION_WORDS`, litres saved, roll it costs.

    ``saved_l`` is the saving by centred over active fins (0 where active is advised);
    ``roll_cost_deg`` the extra significant roll; ``could_save_l`` what centring would save
    whatever the limit.
    """

    code: Codes
    saved_l: Floats
    roll_cost_deg: Floats
    could_save_l: Floats


def decide_fin_use(
    roll_centred_deg: npt.ArrayLike,
    roll_active_deg: npt.ArrayLike,
    limit_deg: npt.ArrayLike,
    fuel_centred_l: npt.ArrayLike,
    fuel_active_l: npt.ArrayLike,
    *,
    centred_required: npt.ArrayLike = False,
    other_limits_kept: npt.ArrayLike = True,
    worth_l: npt.ArrayLike = 0.0,
) -> FinDecision:
    """Fins active or centred on each leg.

    Parameters
    ----------
    roll_centred_deg, roll_active_deg : array_like
        Significant roll of the leg's worst point, fins centred and active.
    limit_deg : array_like
        Owner's limit of significant roll; ``inf`` for none, where centring is never advised.
    fuel_centred_l, fuel_active_l : array_like
        All fuel of the leg with fins centred and active, hydraulics included.
    centred_required : array_like of bool
        True astern, at close quarters, or with slamming likely.
    other_limits_kept : array_like of bool
        Whether the other comfort limits are kept with fins centred.
    worth_l : array_like
        Litres that the owner would burn on this leg for the smaller roll of active fins,
        even below the limit.

    Returns
    -------
    FinDecision
        With unknown roll there is no advice.
    """
    centred, active, limit, f_centred, f_active, required, kept, worth = np.broadcast_arrays(
        *(
            np.asarray(one, dtype=kind)
            for one, kind in (
                (roll_centred_deg, float),
                (roll_active_deg, float),
                (limit_deg, float),
                (fuel_centred_l, float),
                (fuel_active_l, float),
                (centred_required, bool),
                (other_limits_kept, bool),
                (worth_l, float),
            )
        )
    )
    saving = f_active - f_centred
    known = np.isfinite(centred) & np.isfinite(active) & np.isfinite(saving)
    within = (centred <= limit) & kept
    code = np.select(
        [required, ~known, ~within, saving <= worth, ~np.isfinite(limit)],
        [CENTRED_REQUIRED, UNKNOWN, ACTIVE_FOR_LIMIT, ACTIVE_NO_SAVING, NO_LIMIT],
        default=CENTRED_TO_SAVE,
    ).astype(np.int8)
    centre = code == CENTRED_TO_SAVE
    return FinDecision(
        code=code,
        saved_l=np.where(centre, saving, 0.0),
        roll_cost_deg=np.where(centre, centred - active, 0.0),
        could_save_l=np.where(known, np.maximum(saving, 0.0), np.nan),
    )


def fin_words(decision: FinDecision, plan: Priced) -> tuple[str, ...]:
    """Advice on fin use, a line for each leg, with its litres and its cost in comfort."""
    held = plan.by_leg(np.where(np.abs(plan.fins_t_m) > 0.0, plan.hours, 0.0))
    work = plan.by_leg(plan.fin_work_l)
    lines = []
    for leg, (code, saved, roll, could) in enumerate(
        zip(
            decision.code,
            decision.saved_l,
            decision.roll_cost_deg,
            decision.could_save_l,
            strict=True,
        )
    ):
        advice, why = FIN_DECISION_WORDS[int(code)]
        if code == CENTRED_TO_SAVE and held[leg] > 0.0:
            lines.append(
                f"active for {held[leg]:.1f} h to hold the list, centred for the rest: the roll "
                f"alone would not need them (their work costs {max(work[leg], 0.0):,.0f} l)"
            )
            continue
        line = f"{advice}: {why}"
        if saved > 0.0:
            line += f" ({saved:,.0f} l saved for {roll:.1f} deg more significant roll)"
        elif np.isfinite(could) and could > 0.0 and code == ACTIVE_FOR_LIMIT:
            line += f" (centring would save {could:,.0f} l)"
        lines.append(line)
    return tuple(lines)


def fins_by_leg(passage: Passage, way: March, evaluation: Evaluation) -> FinDecision:
    """Active or centred on each leg, from one march, which has both rolls and the fuel."""
    starts = leg_starts(passage.track.leg)
    values = evaluation.values
    limits = passage.vessel.limits
    stays = np.array([passage.track.length_m[i] == 0.0 for i in starts])
    underway, at_rest = limits.underway.roll_significant_deg, limits.at_rest.roll_significant_deg
    limit = np.where(
        stays,
        np.inf if at_rest is None else at_rest,
        np.inf if underway is None else underway,
    )
    fuel = leg_sum(values["fuel_l"], starts)
    saved = leg_sum(values["fuel_fins_active_l"] - idle_l_per_h(passage) * way.hours, starts)
    centred = use.fins_centred(evaluation.fin_use).astype(float)
    required = leg_mean(centred, way.hours, starts) > 1.0 - MOST_OF_A_LEG
    return decide_fin_use(
        2.0 * leg_worst(values["roll_centred_rms_deg"], starts),
        2.0 * leg_worst(values["roll_active_rms_deg"], starts),
        limit,
        fuel - saved,
        fuel,
        centred_required=required,
    )
