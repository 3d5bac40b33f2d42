"""Roll excitation and the channels of motions and resistance along a march, from the tables."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.physics.waves.dispersion import encounter_angle

if TYPE_CHECKING:
    from passage.planning.voyage.march import March
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]


def responses(yacht: Yacht, march: March, mu: Array) -> tuple[Array, Array]:
    """Roll excitation and the joined sea channels, from systems or full spectra."""
    sky, stw = march.conditions, march.speed_through_water_m_s
    if sky.spectrum is not None:
        full = sky.spectrum
        toward, _ = encounter_angle(full.from_rad, march.heading_rad[..., None])
        given = (full.density, full.omega_rad_s, toward)
        return (
            yacht.roll_tables.from_density(stw, *given),
            yacht.sea_tables.from_density(stw, *given),
        )
    systems = (sky.height_m, sky.peak_period_s, mu, sky.gamma, sky.spread_rad)
    return (
        yacht.roll_tables.variance(stw, *systems),
        yacht.sea_tables.variance(stw, *systems),
    )


def peaked_sea(yacht: Yacht, march: March, mu: Array, gamma: Array) -> tuple[Array, Array]:
    """Roll excitation and sea channels in a sea of other peak enhancement."""
    sky, stw = march.conditions, march.speed_through_water_m_s
    systems = (sky.height_m, sky.peak_period_s, mu, gamma, sky.spread_rad)
    return yacht.roll_tables.variance(stw, *systems), yacht.sea_tables.variance(stw, *systems)
