"""How the list changes along the passage: fuel drawn unevenly, people and tenders moved."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Track
from passage.inputs.vessel import Vessel
from passage.units import deg_to_rad

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
    ``tan(list) = moment / (displacement x GM)``. Fuel drawn from a starboard tank
    takes moment away from starboard. GM is held: its change with the burn is small
    within a passage and the loading computer's business.
    """
    hull, loading = vessel.particulars, vessel.loading
    stiffness = hull.displacement_t * hull.gm_m
    moment = stiffness * np.tan(deg_to_rad(loading.list_deg))
    fuel = np.asarray(fuel_l, dtype=float)
    fuel = np.where(np.isnan(fuel), 0.0, fuel)
    middle = np.cumsum(fuel, axis=-1) - 0.5 * fuel
    tanks = {tank.name: tank for tank in vessel.tanks}
    # Cubic metres times density times lever, for each litre burnt.
    lever = sum(
        burn.share * tanks[burn.tank].density_t_m3 * tanks[burn.tank].y_m for burn in loading.burn
    )
    total = moment - middle / 1000.0 * lever
    for event in loading.events:
        total = total + np.where(track.leg >= event.leg - 1, event.moment_t_m, 0.0)
    return np.arctan(total / stiffness)
