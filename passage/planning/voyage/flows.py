"""Wind and current of the files that cover no point of a passage.

A point without wind or current is computed as if there were none. Near land that is good
enough, with a note. Where a whole passage lacks what the files were given for, the files are
wrong, and every answer must say so.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.coast.coastline import is_near_land
from passage.planning.voyage.legs import leg_starts, leg_sum
from passage.variables import COVERAGE

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.inputs.forecast.conditions import Conditions
    from passage.inputs.route import Track

Codes = npt.NDArray[np.int8]
Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]

#: Effect of a missing flow on the whole passage, in words.
EFFECTS = {
    "wind": "wind resistance and wind heel are left out of every number",
    "current": "the set of the current is left out of every number",
}
#: Effect of a gap on part of the passage, in words.
LEFT_OUT = {
    "wind": "wind resistance and wind heel are left out",
    "current": "none is taken",
}
#: What the user can do about it.
REMEDIES = {
    "wind": "Give a file of the wind at 10 m for those hours and that area.",
    "current": "Give a file of the current for those hours and that area, or none.",
}
#: Share of a leg's hours without wind or current from which a caution is due.
FLOW_SHARE = 0.2
#: Distance from land within which a point may be masked in a grid of wind or current: a cell
#: of a coarse grid (assumption). [nm]
BESIDE_LAND_NM = 10.0
#: Reasons of a gap, in words.
_REASONS = {
    "before_forecast": "begins later",
    "after_forecast": "ends before",
    "outside_area": "is of another area",
    "masked": "is masked or missing all along",
    "time_gap": "has no hours near enough",
}


def flows_given(forecast: Forecast) -> tuple[str, ...]:
    """Names of the flows, wind or current, that any file of an open forecast contains."""
    given = {"wind": forecast.has_wind, "current": forecast.has_current}
    return tuple(flow for flow, is_given in given.items() if is_given)


def reaches_nothing(codes: Codes, matters: npt.ArrayLike) -> Bools:
    """Whether a flow is known at no point of a passage.

    Parameters
    ----------
    codes : ndarray, (..., n)
        Coverage codes of the flow along the track.
    matters : array_like of bool, (n,)
        Points where the flow acts: wind everywhere, current only under way.

    Returns
    -------
    ndarray of bool, (...)
        False if the flow acts at no point.
    """
    acts = np.asarray(matters, bool)
    known = np.any((codes == COVERAGE.index("ok")) & acts, axis=-1)
    return np.asarray(~known & np.any(acts))


def flows_missing(
    conditions: Conditions, length_m: npt.ArrayLike, given: tuple[str, ...]
) -> dict[str, Bools]:
    """Whether each flow that the files contain is known at no point of a passage.

    Parameters
    ----------
    conditions : Conditions
        Conditions along the track, shape (..., n).
    length_m : array_like, (n,)
        Length of the segments, 0 for a stay. [m]
    given : tuple of str
        Result of `flows_given`.
    """
    under_way = np.asarray(length_m, float) > 0.0
    acts = {"wind": np.ones_like(under_way), "current": under_way}
    return {
        flow: reaches_nothing(getattr(conditions, f"{flow}_coverage"), acts[flow]) for flow in given
    }


def gap_shares(codes: Codes, track: Track, hours: npt.NDArray[np.float64]) -> Floats:
    """Share of each leg's hours without a flow, not counting masked points near land.

    Parameters
    ----------
    codes : ndarray, L + (n,)
        Coverage codes of the flow.
    track : Track
        Track of n segments; in stays nothing counts as missing.
    hours : ndarray, L + (n,)
        Duration of the segments. [h]

    Returns
    -------
    ndarray, L + (legs,)
        Share, 0 to 1.
    """
    missing = (codes != COVERAGE.index("ok")) & (track.length_m > 0)
    masked = missing & (codes == COVERAGE.index("masked"))
    if np.any(masked):
        some = np.any(masked.reshape(-1, masked.shape[-1]), axis=0)
        beside = np.zeros(some.shape, bool)
        beside[some] = is_near_land(track.lat_deg[some], track.lon_deg[some], BESIDE_LAND_NM)
        # A grid has no values there; the flow counts as zero, with a note.
        missing &= ~(masked & beside)
    hours = np.nan_to_num(hours, nan=0.0)
    starts = leg_starts(track.leg)
    lost = leg_sum(np.where(missing, hours, 0.0), starts)
    return lost / np.maximum(leg_sum(hours, starts), 1e-9)


def commonest_reason(codes: Codes) -> str:
    """Words for the commonest gap among codes: "ends before", "is of another area"."""
    counts = np.bincount(np.ravel(codes), minlength=len(COVERAGE))
    counts[COVERAGE.index("ok")] = 0
    return _REASONS.get(COVERAGE[int(np.argmax(counts))], "is missing")


def missing_words(flow: str, reason: str) -> str:
    """Sentence for a passage that is not covered by a flow of the files."""
    return unknown_words(flow, "100 % of the passage", f": that of the files {reason}")


def not_given_words(flow: str) -> str:
    """Sentence for a flow that no file contains."""
    return unknown_words(flow, "100 % of the passage", ": no file gives it")


def unknown_words(flow: str, where: str, why: str = "") -> str:
    """Sentence for a flow unknown on part of a passage: the effect, and what to do.

    ``where`` is the part, such as "45 % of leg 2"; ``why`` is the reason.
    """
    effect = f". {EFFECTS[flow].capitalize()}" if why else f"; {LEFT_OUT[flow]} there"
    return f"no {flow} is known on {where}{why}{effect}. {REMEDIES[flow]}"
