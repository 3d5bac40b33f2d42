"""Bottom slamming, deck wetness and propeller emergence.

Each is the share of peaks of the relative motion of hull and water beyond a level, from the
variances of relative motion and relative velocity at a station. Peaks are Rayleigh
distributed (narrow band, Gaussian). Relative motion leaves out the bow's own wave and
swell-up, so slamming may begin earlier.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.units import G_M_S2, HOUR_S

FloatArray = NDArray[np.float64]

#: Station of slamming forward of midship, over length: 15 % abaft the forward end of the
#: waterline (common practice, no source).
SLAM_STATION_RATIO = 0.35
#: Customary limits (from memory; slamming and wetness partly confirmed).
SLAM_PROBABILITY_LIMIT = (0.03, 0.01)
SLAM_LIMIT_LENGTHS_M = (100.0, 300.0)
DECK_WETNESS_LIMIT = 0.05
#: Least share of the wave energy from ahead for slamming to be judged (assumption).
LEAST_BOW_SHARE = 0.5
PROPELLER_EMERGENCE_LIMITS = (0.15, 0.25)


def slam_threshold_velocity_m_s(length_m: Any) -> FloatArray:
    """Relative velocity above which re-entry is a slam, 0.093 sqrt(g L) (Ochi 1964). [m/s]"""
    velocity: FloatArray = 0.093 * np.sqrt(G_M_S2 * np.asarray(length_m, dtype=float))
    return velocity


def slam_probability_limit(length_m: Any) -> FloatArray:
    """Customary limit of slamming probability: 0.03 up to 100 m, 0.01 from 300 m (from memory).

    Linear between the two lengths. Length in [m], any shape; the probability is
    dimensionless.
    """
    return np.asarray(
        np.interp(np.asarray(length_m, dtype=float), SLAM_LIMIT_LENGTHS_M, SLAM_PROBABILITY_LIMIT)
    )


def _beyond(level: Any, variance: Any) -> FloatArray:
    """exp(-level^2/(2 variance)): share of Rayleigh peaks beyond a level.

    Without motion it is 0 for a level above zero; for a level at or below zero it is 1.
    """
    height = np.maximum(np.asarray(level, dtype=float), 0.0)
    spread = np.asarray(variance, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        share = np.exp(-0.5 * height**2 / spread)
    at_level = (height == 0.0) & ~np.isnan(spread)
    result: FloatArray = np.where(at_level, 1.0, share)
    return result


def slam_probability(
    draught_at_station_m: Any,
    relative_variance: Any,
    velocity_variance: Any,
    threshold_m_s: Any,
) -> FloatArray:
    """Share of wave encounters with a bottom slam at a station.

    Parameters
    ----------
    draught_at_station_m : array_like
        Draught there. [m]
    relative_variance, velocity_variance : array_like
        Variance of relative motion [m2] and relative velocity [m2/s2] there.
    threshold_m_s : array_like
        From ``slam_threshold_velocity_m_s``. [m/s]

    Returns
    -------
    ndarray
        In [0, 1]. NaN in gives NaN out.

    References
    ----------
    Ochi, "Prediction of occurrence and severity of ship slamming at sea", 5th
    Symposium on Naval Hydrodynamics (1964): the forefoot emerges *and* re-enters fast enough.
    """
    probability: FloatArray = _beyond(draught_at_station_m, relative_variance) * _beyond(
        threshold_m_s, velocity_variance
    )
    return probability


def slamming_judged(bow_m0: Any, m0: Any) -> NDArray[np.bool_]:
    """Whether enough of the sea comes from ahead for the share of slams to be meaningful.

    The formula is for a ship heading into the waves (Ochi 1964); in beam and following seas it
    would count mere heave as slams. At least half of the wave variance must come from 15 deg
    forward of the beam or farther ahead (assumption): ``bow_m0`` is that part, beyond
    ``places.BOW_SEA_RAD``, ``m0`` the whole [m2]; they broadcast. False where either is NaN.
    """
    ahead, whole = np.asarray(bow_m0, dtype=float), np.asarray(m0, dtype=float)
    return np.asarray(ahead >= LEAST_BOW_SHARE * whole) & (whole > 0.0)


def events_per_hour(probability: Any, relative_variance: Any, velocity_variance: Any) -> FloatArray:
    """Events per hour, from their share of encounters. [1/h]

    ``probability`` per encounter, dimensionless; variances of relative motion [m2] and
    relative velocity [m2/s2] as in ``slam_probability``, whose mean period is
    2 pi sqrt(m0/m2). They broadcast; 0 without motion, NaN in gives NaN out.
    """
    spread = np.asarray(relative_variance, dtype=float)
    speed = np.asarray(velocity_variance, dtype=float)
    still = spread == 0.0
    frequency = np.sqrt(speed / np.where(still, 1.0, spread)) / (2.0 * np.pi)
    count: FloatArray = np.asarray(probability, dtype=float) * frequency * HOUR_S
    # Without motion there is no period and no event, unless data are missing.
    return np.where(still & ~np.isnan(count), 0.0, count)


def deck_wetness_probability(freeboard_m: Any, relative_variance: Any) -> FloatArray:
    """Share of wave encounters with water over the deck at a station. Dimensionless.

    Freeboard at the station [m], not reduced for her own bow wave; variance of relative
    motion [m2], broadcasting. Rayleigh peaks of a narrow-banded motion; NaN in gives NaN out.
    """
    return _beyond(freeboard_m, relative_variance)


def propeller_emergence_probability(tip_submergence_m: Any, relative_variance: Any) -> FloatArray:
    """Share of wave encounters in which the blade tips come out of the water. Dimensionless.

    ``tip_submergence_m`` is the depth of the upper blade tip below the still waterline [m];
    variance of relative motion at the propeller [m2], broadcasting. Usual limits are
    ``PROPELLER_EMERGENCE_LIMITS``. Rayleigh peaks of a narrow-banded motion; NaN in gives NaN
    out.
    """
    return _beyond(tip_submergence_m, relative_variance)
