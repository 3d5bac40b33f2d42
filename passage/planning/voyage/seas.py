"""Roll excitation and channels of motions and resistance along a march, from the tables."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.physics.waves.dispersion import encounter_angle
from passage.physics.waves.seas import Seas

if TYPE_CHECKING:
    from passage.inputs.forecast import Conditions
    from passage.planning.voyage.march import March
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]


def responses(
    yacht: Yacht, march: March, mu: Array, later: Sequence[Array] = ()
) -> tuple[Array, Array]:
    """Roll excitation and the joined sea channels, from wave systems or full spectra.

    ``later`` are peak enhancements for later calls of :func:`peaked_sea`, whose tables are
    computed at the same time.
    """
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
    if later:
        speeds = stw[..., None]
        seas = [
            Seas(sky.height_m + 0.0 * speeds, sky.peak_period_s, mu, gamma, sky.spread_rad)
            for gamma in (sky.gamma, *later)
        ]
        for tables in (yacht.roll_tables, yacht.sea_tables):
            tables.make_ready(stw, seas)
    return (
        yacht.roll_tables.variance(stw, *systems),
        yacht.sea_tables.variance(stw, *systems),
    )


def peaked_sea(yacht: Yacht, march: March, mu: Array, gamma: Array) -> tuple[Array, Array]:
    """Roll excitation and sea channels in a sea of another peak enhancement."""
    sky, stw = march.conditions, march.speed_through_water_m_s
    systems = (sky.height_m, sky.peak_period_s, mu, gamma, sky.spread_rad)
    return yacht.roll_tables.variance(stw, *systems), yacht.sea_tables.variance(stw, *systems)


def sea_channels(
    yacht: Yacht, sky: Conditions, heading_rad: Array, speed_m_s: Array
) -> tuple[Array, Array]:
    """Encounter angles and the joined sea channels at trial speeds."""
    mu, _ = encounter_angle(sky.from_rad, heading_rad[..., None])
    full = sky.spectrum
    if full is not None:
        toward, _ = encounter_angle(full.from_rad, heading_rad[..., None])
        given = (full.density, full.omega_rad_s, toward)
        return mu, yacht.sea_tables.from_density(speed_m_s, *given)
    systems = (sky.height_m, sky.peak_period_s, mu, sky.gamma, sky.spread_rad)
    return mu, yacht.sea_tables.variance(speed_m_s, *systems)


def resistance_at(
    yacht: Yacht, sky: Conditions, heading_rad: Array, speed_m_s: float
) -> tuple[Array, Array]:
    """Encounter angles and added resistance [N] at one speed [m/s], variants on the last axis.

    The table is for exactly this speed and for added resistance only, which takes a tenth of
    the time of a joined one.
    """
    table = yacht.resistance_tables.table(speed_m_s)
    mu, _ = encounter_angle(sky.from_rad, heading_rad[..., None])
    full = sky.spectrum
    if full is not None:
        toward, _ = encounter_angle(full.from_rad, heading_rad[..., None])
        return mu, table.from_density(full.density, full.omega_rad_s, toward)
    return mu, table.variance(sky.height_m, sky.peak_period_s, mu, sky.gamma, sky.spread_rad)
