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
    return list_of(vessel, loading_along(vessel, track.leg, fuel_l))


def list_of(vessel: Vessel, loading: Loading) -> Array:
    """The moment of a loading as an angle at the GM of the vessel file. [rad]"""
    hull = vessel.particulars
    return np.asarray(np.arctan(loading.moment_t_m / (hull.displacement_t * hull.gm_m)))


def stiffness_ratio(vessel: Vessel, loading: Loading) -> Array:
    """Displacement x GM of the day over that of the vessel file; NaN where not positive."""
    hull = vessel.particulars
    ratio = loading.stiffness_t_m / (hull.displacement_t * hull.gm_m)
    return np.where(ratio > 0.0, ratio, np.nan)
