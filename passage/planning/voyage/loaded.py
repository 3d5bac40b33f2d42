"""Evaluation of a track with the loading at each point: fuel burnt changes list and stiffness."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.inputs.vessel import Vessel
from passage.planning.voyage.evaluate import Evaluation, evaluate
from passage.planning.voyage.list_drift import gm_ratio, list_of, stiffness_ratio
from passage.planning.voyage.loading import Loading, carried_t, loading_along, placed
from passage.planning.voyage.march import March
from passage.planning.voyage.rolling import Choices
from passage.planning.voyage.yacht import Yacht
from passage.units import deg_to_rad

if TYPE_CHECKING:
    from passage.inputs.moves_file import Order

#: Change of displacement x GM, as a share, below which there is no second evaluation.
SAME_STIFFNESS = 0.002


def evaluate_loaded(
    vessel: Vessel,
    yacht: Yacht,
    leg: npt.NDArray[np.int64],
    orders: Sequence[Order],
    way: March,
    choices: Choices,
    *,
    length_m: npt.NDArray[np.float64],
) -> tuple[Evaluation, Choices]:
    """Evaluate a track, and again with the list and stiffness after the fuel burnt so far.

    ``leg`` (n,) is the leg of each point from 0, ``length_m`` (n,) its length [m], ``orders``
    the transfers of liquid; ``choices`` has the list at departure. Returns the evaluation and
    the choices that it was computed with.
    """
    # The first round is only for its fuel, which decides list and stiffness.
    plain = replace(choices, band=False)
    first = evaluate(yacht, way, plain, fuel_only=True, band_follows=choices.band)
    choices, loading = loaded_choices(vessel, leg, orders, way, first, choices, length_m=length_m)
    evaluation = evaluate(yacht, way, choices, same_sea=first)
    known = np.isfinite(evaluation.values["fuel_l"])
    evaluation.values["fluid_gm_m"] = np.where(known, loading.gm_m, np.nan)
    evaluation.values["trim_change_m"] = np.where(known, loading.trim_m, np.nan)
    return evaluation, choices


def loaded_choices(
    vessel: Vessel,
    leg: npt.NDArray[np.int64],
    orders: Sequence[Order],
    way: March,
    here: Evaluation,
    choices: Choices,
    *,
    length_m: npt.NDArray[np.float64],
) -> tuple[Choices, Loading]:
    """Choices with the list and stiffness after the fuel burnt in ``here``, and the loading.

    The choices are unchanged where list and stiffness change too little to matter.
    """
    moves = placed(tuple(orders), leg, way.hours)
    loading = loading_along(vessel, leg, here.values["fuel_l"], moves, length_m=length_m)
    drift, ratio = list_of(vessel, loading), stiffness_ratio(vessel, loading)
    lists = np.abs(drift - np.asarray(choices.list_rad, dtype=float)) > deg_to_rad(0.01)
    moved = np.any(lists | (np.abs(ratio - 1.0) > SAME_STIFFNESS), axis=-1, keepdims=True)
    if not np.any(moved):
        return choices, loading
    changed: dict[str, Any] = {"list_rad": drift, "stiffness_ratio": ratio}
    changed["gm_ratio"] = gm_ratio(vessel, loading)
    if not np.all(moved):
        for name, value in changed.items():
            changed[name] = np.where(moved, value, getattr(choices, name))
    weight = carried_t(vessel, moves, leg.size)
    trial = vessel.propulsion.trial_displacement_t
    changed["displacement_ratio"] = (vessel.particulars.displacement_t + weight) / trial
    return replace(choices, **changed), loading
