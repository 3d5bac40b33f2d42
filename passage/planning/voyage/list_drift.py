"""How the list changes along the passage: fuel drawn unevenly, people and tenders moved."""

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
        Observed list, burn shares, tanks, events.
    track : Track
        n segments.
    fuel_l : array_like
        Litres burnt on each segment, shape ``L + (n,)``. From the first segment whose
        fuel is not known on, the list stays what it was there: the burn is unknown,
        the loading is not.

    Notes
    -----
    ``tan(list) = moment / (displacement x GM)`` with the GM of the vessel file, so that
    the angle stands for the moment; see `stiffness_ratio` for the GM of the day. Fuel
    drawn from a starboard tank takes moment away from starboard.
    """
    return list_of(vessel, loading_along(vessel, track.leg, fuel_l, length_m=track.length_m))


def list_of(vessel: Vessel, loading: Loading) -> Array:
    """The moment of a loading as an angle at the GM of the vessel file. [rad]"""
    hull = vessel.particulars
    return np.asarray(np.arctan(loading.moment_t_m / (hull.displacement_t * hull.gm_m)))


def stiffness_ratio(vessel: Vessel, loading: Loading) -> Array:
    """Displacement x GM of the day over that of the vessel file; NaN where not positive."""
    hull = vessel.particulars
    ratio = loading.stiffness_t_m / (hull.displacement_t * hull.gm_m)
    return np.where(ratio > 0.0, ratio, np.nan)


def gm_ratio(vessel: Vessel, loading: Loading) -> Array:
    """Fluid GM of the day over that of the vessel file; NaN where not positive."""
    ratio = loading.gm_m / vessel.particulars.gm_m
    return np.where(ratio > 0.0, ratio, np.nan)


#: A change of displacement x GM by less than this is not worth a word.
_SAME_SHARE = 0.005


def gm_held_note(vessel: Vessel, fuel_l: float) -> str | None:
    """What holding GM leaves out when so much fuel is burnt; ``None`` where that is little."""
    if not np.isfinite(fuel_l):
        return None
    after = loading_along(vessel, [0, 0], [fuel_l, 0.0])
    stiff, gm = (float(of(vessel, after)[-1]) for of in (stiffness_ratio, gm_ratio))
    if not max(abs(stiff - 1.0), abs(gm - 1.0)) >= _SAME_SHARE:
        return None

    def percent(ratio: float, more: str, less: str) -> str:
        return f"{100.0 * abs(ratio - 1.0):.1f} % {more if ratio >= 1.0 else less}"

    return (
        f"weight and GM are held as in the vessel file; after {fuel_l:.0f} l GM is "
        f"{percent(gm, 'more', 'less')}, so that late on heel is "
        f"{percent(1.0 / stiff, 'more', 'less')} and the roll period "
        f"{percent(gm**-0.5, 'longer', 'shorter')} than counted here, and the fins, on a lighter "
        "hull, do a little more; a plan follows all of it"
    )
