"""Bottom slamming, water on deck and the propeller out of the water.

All three ask how often the relative motion of hull and water passes a level, from
the variances of relative motion and relative velocity at a station. Peaks are taken as
Rayleigh (narrow band, Gaussian). The bow's own wave and swell-up are not in the
relative motion, so real slamming may come sooner.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.units import G_M_S2, HOUR_S

FloatArray = NDArray[np.float64]

#: Where slamming is judged, forward of midship over length: 15 % abaft the forward
#: end of the waterline (common practice, no source).
SLAM_STATION_RATIO = 0.35
#: Customary limits (from memory; slamming and wetness partly confirmed).
SLAM_PROBABILITY_LIMIT = (0.03, 0.01)
SLAM_LIMIT_LENGTHS_M = (100.0, 300.0)
DECK_WETNESS_LIMIT = 0.05
#: Share of the wave energy that must come from ahead for slamming to be judged (assumption).
LEAST_BOW_SHARE = 0.5
PROPELLER_EMERGENCE_LIMITS = (0.15, 0.25)


def slam_threshold_velocity_m_s(length_m: Any) -> FloatArray:
    """Relative velocity from which re-entry is a slam, 0.093 sqrt(g L) (Ochi 1964). [m/s]"""
    velocity: FloatArray = 0.093 * np.sqrt(G_M_S2 * np.asarray(length_m, dtype=float))
    return velocity


def slam_probability_limit(length_m: Any) -> FloatArray:
    """Customary limit of the slamming probability: 0.03 to 100 m, 0.01 from 300 m (from memory).

    Length in [m], any shape; held outside the two lengths. The probability is dimensionless.
    """
    return np.asarray(
        np.interp(np.asarray(length_m, dtype=float), SLAM_LIMIT_LENGTHS_M, SLAM_PROBABILITY_LIMIT)
    )


def _beyond(level: Any, variance: Any) -> FloatArray:
    """exp(-level^2/(2 variance)): share of Rayleigh peaks beyond a level.

    No motion gives 0 for a level above zero; a level at or below zero is always
    passed and gives 1.
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
    Symposium on Naval Hydrodynamics (1964): forefoot emerges *and* returns fast enough.
    """
    probability: FloatArray = _beyond(draught_at_station_m, relative_variance) * _beyond(
        threshold_m_s, velocity_variance
    )
    return probability


def slamming_judged(bow_m0: Any, m0: Any) -> NDArray[np.bool_]:
    """Whether the bow meets the sea, so that the share of slams means anything.

    The formula is that of a ship heading into the waves (Ochi 1964); abeam and abaft it makes
    slams of mere heave. ``bow_m0`` is the variance from 15 deg forward of the beam on
    (``places.BOW_SEA_RAD``), ``m0`` all of it [m2], broadcasting: at least half of the energy must
    be ahead (assumption). False where either is not known.
    """
    ahead, whole = np.asarray(bow_m0, dtype=float), np.asarray(m0, dtype=float)
    return np.asarray(ahead >= LEAST_BOW_SHARE * whole) & (whole > 0.0)


def events_per_hour(probability: Any, relative_variance: Any, velocity_variance: Any) -> FloatArray:
    """Times an hour, from the share of encounters and the mean period of relative motion.

    ``probability`` per encounter; variances as in ``slam_probability``. 0 when there is
    no motion.

    Variances in [m2] and [m2/s2], broadcasting; [1/h]. NaN in gives NaN out. Rayleigh: the mean
    period is 2 pi sqrt(m0/m2).
    """
    spread = np.asarray(relative_variance, dtype=float)
    speed = np.asarray(velocity_variance, dtype=float)
    still = spread == 0.0
    frequency = np.sqrt(speed / np.where(still, 1.0, spread)) / (2.0 * np.pi)
    count: FloatArray = np.asarray(probability, dtype=float) * frequency * HOUR_S
    # No motion has no period; it has no events either, unless its data are missing.
    return np.where(still & ~np.isnan(count), 0.0, count)


def deck_wetness_probability(freeboard_m: Any, relative_variance: Any) -> FloatArray:
    """Share of wave encounters with solid water over the deck at a station.

    ``freeboard_m`` there; the yacht's own bow wave lowers it and is not included.

    Freeboard [m], variance of relative motion [m2], broadcasting; dimensionless. Rayleigh peaks
    of a narrow-banded motion; NaN in gives NaN out.
    """
    return _beyond(freeboard_m, relative_variance)


def propeller_emergence_probability(tip_submergence_m: Any, relative_variance: Any) -> FloatArray:
    """Share of wave encounters in which the blade tips come out of the water.

    ``tip_submergence_m`` depth of the upper blade tip below the still waterline at
    the propeller; usual limits are ``PROPELLER_EMERGENCE_LIMITS``.

    Depth [m], variance of relative motion [m2], broadcasting; dimensionless. Rayleigh peaks of
    a narrow-banded motion; NaN in gives NaN out.
    """
    return _beyond(tip_submergence_m, relative_variance)
