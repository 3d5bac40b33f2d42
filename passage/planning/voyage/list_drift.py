"""Change of list along the passage, as fuel is drawn unevenly and people and tenders move."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Track
from passage.inputs.vessel import Vessel
from passage.planning.voyage.loading import Loading, loading_along

Array = npt.NDArray[np.float64]


def list_along(vessel: Vessel, track: Track, fuel_l: npt.ArrayLike) -> Array:
    """List at the middle of every segment, positive to starboard. [rad]

    Parameters
    ----------
    vessel : Vessel
        Vessel with observed list, burn shares, tanks and events.
    track : Track
        Track of n segments.
    fuel_l : array_like
        Fuel burnt on each segment, shape ``L + (n,)``. NaN counts as none: the burn is not
        known there, but the loading before it is. [l]

    Notes
    -----
    ``tan(list) = moment / (displacement x GM)`` with displacement and GM of the vessel file,
    so that the angle is a measure of the moment; see `stiffness_ratio` for the present GM.
    Fuel drawn from a starboard tank moves the list to port.
    """
    return list_of(vessel, loading_along(vessel, track.leg, fuel_l, length_m=track.length_m))


def list_of(vessel: Vessel, loading: Loading) -> Array:
    """Heeling moment of a loading, as an angle at the GM of the vessel file. [rad]"""
    hull = vessel.particulars
    return np.asarray(np.arctan(loading.moment_t_m / (hull.displacement_t * hull.gm_m)))


def stiffness_ratio(vessel: Vessel, loading: Loading) -> Array:
    """Present displacement x GM over that of the vessel file; NaN where not positive."""
    hull = vessel.particulars
    ratio = loading.stiffness_t_m / (hull.displacement_t * hull.gm_m)
    return np.where(ratio > 0.0, ratio, np.nan)


def gm_ratio(vessel: Vessel, loading: Loading) -> Array:
    """Present fluid GM over that of the vessel file; NaN where not positive."""
    ratio = loading.gm_m / vessel.particulars.gm_m
    return np.where(ratio > 0.0, ratio, np.nan)


#: Change of displacement x GM or GM, as a share, below which there is no note.
_SAME_SHARE = 0.005


def gm_held_note(vessel: Vessel, fuel_l: float) -> str | None:
    """Note on the effect of a constant GM after so much fuel [l]; ``None`` where it is small."""
    if not np.isfinite(fuel_l):
        return None
    after = loading_along(vessel, [0, 0], [fuel_l, 0.0])
    stiff, gm = (float(of(vessel, after)[-1]) for of in (stiffness_ratio, gm_ratio))
    if not max(abs(stiff - 1.0), abs(gm - 1.0)) >= _SAME_SHARE:
        return None

    def percent(ratio: float, more: str, less: str) -> str:
        return f"{100.0 * abs(ratio - 1.0):.1f} % {more if ratio >= 1.0 else less}"

    return (
        f"weight and GM are kept as in the vessel file; after {fuel_l:,.0f} l GM is "
        f"{percent(gm, 'more', 'less')}, so towards the end heel is "
        f"{percent(1.0 / stiff, 'more', 'less')} and the roll period "
        f"{percent(gm**-0.5, 'longer', 'shorter')} than computed here, and the fins have a little "
        "more effect on the lighter hull; a plan includes all of this"
    )
