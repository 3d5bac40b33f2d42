"""The first and last miles, where a grid has no sea: sheltered water, or the nearest sea cell.

Only when the user asks, only near the ends of a route, and with its own coverage code.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.nearest import great_circle_km
from passage.units import NM_M

#: No harbour's approach is longer; beyond it a missing sea is a gap (assumption). [nm]
MOST_NM = 15.0
#: Farthest that a sea cell may lie from a point in the approach: two cells of the coarsest
#: grids in use, 0.5 degrees (assumption). [nm]
NEAREST_NM = 60.0


@dataclass(frozen=True)
class Harbour:
    """What the sea is taken as near the ends of routes, where the grid has none.

    Parameters
    ----------
    within_nm : float
        Distance from an end of a route, on the sphere, 0 < to 15. [nm]
    sea : str
        "sheltered" (no waves) or "nearest" (the nearest sea cell).
    ends : tuple of (float, float)
        Latitude and longitude of first and last waypoints. [deg]
    """

    within_nm: float
    sea: str
    ends: tuple[tuple[float, float], ...]

    @property
    def reach_km(self) -> float:
        """Farthest sea cell that may be used for a point. [km]"""
        return NEAREST_NM * NM_M / 1000.0

    def holds(
        self, lat_deg: npt.NDArray[np.float64], lon_deg: npt.NDArray[np.float64]
    ) -> npt.NDArray[np.bool_]:
        """Whether points ``(n,)`` lie near an end. [deg]"""
        return end_distance_nm(self.ends, lat_deg, lon_deg) <= self.within_nm * (1.0 + 1e-9)

    def words(self) -> str:
        """The rule for a plan's notes."""
        sea = (
            "no waves (sheltered)" if self.sea == "sheltered" else "the sea of the nearest sea cell"
        )
        return (
            f"harbour: within {self.within_nm:g} nm of the first and last waypoint, where the "
            f"forecast has no sea, the plan takes {sea}, as asked"
        )


def end_distance_nm(
    ends: tuple[tuple[float, float], ...],
    lat_deg: npt.NDArray[np.float64],
    lon_deg: npt.NDArray[np.float64],
) -> npt.NDArray[np.float64]:
    """Distance of points ``(n,)`` from the nearest of some places [deg]; inf without any. [nm]"""
    nearest = np.full(np.shape(lat_deg), np.inf)
    for lat, lon in ends:
        away = great_circle_km(lat, lon, lat_deg, lon_deg) * 1000.0 / NM_M
        nearest = np.minimum(nearest, away)
    return nearest
