"""Peak enhancement of a sea from its steepness, and its position in the tables.

Wind sea and total sea follow the same rule, so that it makes no difference which of the two
a file calls a sea; swell has a fixed peak enhancement.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.waves.seas import GAMMA_LEVELS
from passage.physics.waves.spectrum import (
    PeriodKind,
    gamma_from_steepness,
    jonswap_normaliser,
    period_ratio,
)

FloatArray = NDArray[np.float64]

#: Largest peak enhancement that the rule gives (the mean JONSWAP spectrum), and that of swell.
GAMMA_STEEPEST = 3.3
GAMMA_SWELL = 5.0
#: Tabulated levels within reach of the rule. A place is a position among them, whose fraction
#: is the share of the upper level's table.
RULE_LEVELS: FloatArray = GAMMA_LEVELS[GAMMA_LEVELS <= GAMMA_STEEPEST + 1e-9]

_NODES = 1025


@lru_cache(maxsize=8)
def _by_steepness(kind: PeriodKind) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Table of ``T/sqrt(Hs)`` for a kind of period, ``Tp/sqrt(Hs)`` and place.

    The rule is explicit in the peak period. As the sea gets less steep, the ratio of the
    periods falls more slowly than the peak period grows, so that the inverse is unique.
    """
    first, last = ((5.75 - float(np.log(g))) / 1.15 for g in (GAMMA_STEEPEST, 1.0))
    by_peak = np.linspace(first, last, _NODES)
    gamma = gamma_from_steepness(1.0, by_peak, GAMMA_STEEPEST)
    return by_peak * period_ratio(kind, gamma), by_peak, place_of_gamma(gamma)


def place_of_gamma(gamma: ArrayLike) -> FloatArray:
    """Place of a peak enhancement among ``RULE_LEVELS``, as the tables mix it.

    Parameters
    ----------
    gamma : array_like
        Peak enhancement, 1 to ``GAMMA_STEEPEST``. [dimensionless]

    Returns
    -------
    ndarray
        0 to ``RULE_LEVELS.size - 1``; the fraction is the share of the level above.
        [dimensionless]
    """
    peak = np.asarray(gamma, float) * jonswap_normaliser(gamma)
    levels = RULE_LEVELS * jonswap_normaliser(RULE_LEVELS)
    return np.asarray(np.interp(peak, levels, np.arange(levels.size)))


@lru_cache(maxsize=1)
def _places() -> tuple[FloatArray, FloatArray]:
    gamma = np.linspace(1.0, GAMMA_STEEPEST, _NODES)
    gamma = np.unique(np.concatenate([gamma, RULE_LEVELS]))
    return place_of_gamma(gamma), gamma


def gamma_at_place(place: ArrayLike) -> FloatArray:
    """Peak enhancement at a place among ``RULE_LEVELS``; NaN in, NaN out.

    Both dimensionless, any shape.
    """
    return np.asarray(np.interp(np.asarray(place, float), *_places()))


def place_by_steepness(height_m: ArrayLike, peak_period_s: ArrayLike) -> FloatArray:
    """Place of a sea's peak enhancement from its steepness, see :func:`peak_by_steepness`.

    Heights in [m], peak periods in [s]; the place is dimensionless. NaN in, NaN out.
    """
    height, period = np.asarray(height_m, float), np.asarray(peak_period_s, float)
    with np.errstate(invalid="ignore", divide="ignore"):
        steep = period / np.sqrt(height)
    _, by_peak, place = _by_steepness("peak")
    return np.asarray(np.interp(steep, by_peak, place))


def peak_by_steepness(
    kind: PeriodKind, height_m: ArrayLike, period_s: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Peak period of a sea and place of its peak enhancement, from its steepness.

    Parameters
    ----------
    kind : {"peak", "energy", "mean", "zero-crossing"}
        Kind of the period.
    height_m : array_like
        Significant height, > 0. [m]
    period_s : array_like
        Period of that kind. [s]

    Returns
    -------
    peak_period_s, place : ndarray
        Peak period [s], and the place among ``RULE_LEVELS``. NaN in, NaN out.

    Notes
    -----
    ``gamma = exp(5.75 - 1.15 Tp/sqrt(Hs))`` within 1 to 3.3 (``gamma_from_steepness``).
    Where the period is not the peak period, gamma and the peak period depend on each other;
    both follow from ``T/sqrt(Hs)`` alone and are tabulated once.
    """
    height, period = np.asarray(height_m, float), np.asarray(period_s, float)
    with np.errstate(invalid="ignore", divide="ignore"):
        steep = period / np.sqrt(height)
    given, by_peak, place = _by_steepness(kind)
    ratio = np.interp(steep, given, by_peak / given)
    return np.asarray(period * ratio), np.asarray(np.interp(steep, given, place))
