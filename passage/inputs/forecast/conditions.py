"""What a forecast says at points: plain numpy, ready for the physics."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.variables import COVERAGE

Floats = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

OK, BEFORE, AFTER, OUTSIDE, MASKED, NEAREST, GAP, SHELTERED = (
    COVERAGE.index(word)
    for word in ("ok", "before_forecast", "after_forecast", "outside_area", "masked",
                 "nearest_sea_cell", "time_gap", "sheltered")
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class DirectionalSpectrum:
    """Directional variance density at points.

    ``density`` has shape ``P + (n_omega, n_directions)`` in m2 s/rad2: its double
    integral over ``omega_rad_s`` and ``from_rad`` (both ascending; direction the waves
    come from, true, clockwise) is the variance of the surface, a 16th of the
    significant height squared. NaN where there is no data.
    """

    density: Floats
    omega_rad_s: Floats
    from_rad: Floats


@dataclass(frozen=True, eq=False)
class Conditions:
    """Sea, wind, current and depth at points of broadcast shape ``P``.

    Arrays ``P + (n_systems,)``: ``height_m`` (significant; NaN: that system is absent,
    all NaN: no data, see ``coverage``), ``peak_period_s``, ``from_rad`` in [0, 2 pi),
    ``gamma`` (JONSWAP peak enhancement), ``spread_rad`` (circular width). In a flat
    calm the first system has height 0, and a period of 5 s and direction 0 that have no
    meaning. Arrays ``P``: ``total_height_m``; ``wind_u_m_s`` and ``wind_v_m_s``, east
    and north components the 10 m wind blows towards; ``current_u_m_s`` and
    ``current_v_m_s`` likewise; ``depth_m`` positive down. ``coverage``,
    ``wind_coverage`` and ``current_coverage`` are codes into ``variables.COVERAGE``;
    without any wind or current file the code is that of ``masked``.
    """

    height_m: Floats
    peak_period_s: Floats
    from_rad: Floats
    gamma: Floats
    spread_rad: Floats
    system_names: tuple[str, ...]
    total_height_m: Floats
    wind_u_m_s: Floats
    wind_v_m_s: Floats
    current_u_m_s: Floats
    current_v_m_s: Floats
    depth_m: Floats
    coverage: Codes
    wind_coverage: Codes
    current_coverage: Codes
    spectrum: DirectionalSpectrum | None = None
