"""Two simple head-sea formulas for added resistance, as alternatives.

Both ignore the ship's motions: at wavelengths near the hull's length they are low by about
half. They serve as a second opinion.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.units import G_M_S2, RHO_SEA_KG_M3

Array = npt.NDArray[np.float64]

#: Names of the methods.
SIMPLE_METHODS: tuple[str, ...] = ("stawave1", "kreitner")
#: Highest wave for the second formula [m].
KREITNER_MAX_HEIGHT_M = 2.0


def stawave1(height_m: npt.ArrayLike, beam_m: float, bow_length_m: float) -> Array:
    """Added resistance in head seas by STAWAVE-1, ``rho g/16 H^2 B sqrt(B/L_BWL)``. [N]

    Parameters
    ----------
    height_m : array_like
        Significant wave height, >= 0. [m]
    beam_m : float
        Waterline beam. [m]
    bow_length_m : float
        Length of the bow on the waterline to 95 % of the beam, often mistaken for the ship's
        length. [m]

    Returns
    -------
    ndarray
        Mean added resistance, the same at every speed and period. [N]

    References
    ----------
    ISO 15016:2015; ITTC 7.5-04-01-01.2 (STAWAVE-1).
    """
    height = np.asarray(height_m, dtype=float)
    shape = beam_m * np.sqrt(beam_m / bow_length_m)
    return RHO_SEA_KG_M3 * G_M_S2 / 16.0 * height**2 * shape


def stawave1_max_height_m(length_m: float) -> float:
    """Largest significant height for :func:`stawave1`, ``2.25 sqrt(L/100)``. [m]"""
    return float(2.25 * np.sqrt(length_m / 100.0))


def kreitner(
    height_m: npt.ArrayLike, beam_m: float, length_m: float, block_coefficient: float
) -> Array:
    """Added resistance in head seas after Kreitner, ``0.64 H^2 B^2 Cb rho g / L``. [N]

    H is the significant height, at most about 2 m [m]; beam and length in [m]; the result does
    not depend on speed or period.
    """
    height = np.asarray(height_m, dtype=float)
    scale = 0.64 * RHO_SEA_KG_M3 * G_M_S2 * beam_m**2 * block_coefficient / length_m
    return scale * height**2


def heading_factor(mu_rad: npt.ArrayLike) -> Array:
    """Force at a heading as a share of that in head seas: 1 head, 0.46 beam, 0.26 following.

    ``0.46 - 0.37 cos(mu) + 0.17 cos^2(mu)``, mu the encounter angle. A fit to results of
    ``waves.py`` for one 45 m hull at 12 kn, within 0.09; no published source.

    ``mu_rad`` in rad, 0 following, pi head, any shape; dimensionless.
    """
    cosine = np.cos(np.asarray(mu_rad, dtype=float))
    return 0.46 - 0.37 * cosine + 0.17 * cosine**2


def in_range(
    method: str, height_m: npt.ArrayLike, mu_rad: npt.ArrayLike, length_m: float
) -> npt.NDArray[np.bool_]:
    """Whether a simple method is in its range: wave height, and seas within 45 deg of the bow.

    Height and length in [m], ``mu_rad`` in rad with pi ahead, broadcasting. NaN is not in
    range.

    Raises
    ------
    ValueError
        ``method`` is not one of :data:`SIMPLE_METHODS`.
    """
    if method == "stawave1":
        limit = stawave1_max_height_m(length_m)
    elif method == "kreitner":
        limit = KREITNER_MAX_HEIGHT_M
    else:
        raise ValueError(f"{method!r} is not one of {', '.join(SIMPLE_METHODS)}")
    off_bow = np.pi - np.abs(np.asarray(mu_rad, dtype=float))
    sector = off_bow <= np.pi / 4.0 + 1e-12
    return np.asarray(sector & (np.asarray(height_m, dtype=float) <= limit))
