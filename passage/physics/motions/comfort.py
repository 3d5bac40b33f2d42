"""Comfort of people on board: motion sickness, holding on, and customary limits.

Motion sickness is indicative: both measures are from people not used to the sea, and rms
alone is unreliable where two periods mix. Limits are data for the owner to edit, each with
its source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.physics.special import erfc
from passage.units import G_M_S2, HOUR_S

FloatArray = NDArray[np.float64]

#: Percent sick per unit of dose, mixed adults not used to the sea
#: (ISO 2631-1:1997 Annex D; the value 1/3 is from memory).
KM_PERCENT = 1.0 / 3.0
#: Largest share of sick people for which the dose relation is valid (Annex D, from memory).
MSDV_PREVALENCE_LIMIT_PERCENT = 70.0
#: Hours of exposure for which the dose relation is valid (Annex D, from memory).
MSDV_HOURS = (20.0 / 60.0, 6.0)

#: Tipping coefficient of a standing person athwartships, low and high (from memory; at sea it
#: differs by task).
TIPPING_COEFFICIENTS = (0.222, 0.25)
#: Height of a standing person's centre of gravity above the deck. [m] (partly confirmed)
PERSON_CG_HEIGHT_M = 0.91

# ISO 2631-1:1997 Wf: corner frequencies in Hz and quality factors.
_F1, _F2, _F4, _Q4, _F5, _Q5, _F6, _Q6 = 0.08, 0.63, 0.25, 0.86, 0.0625, 0.80, 0.1, 0.80


def motion_sickness_weighting(frequency_hz: Any) -> FloatArray:
    """Magnitude of the ISO 2631-1 weighting Wf for motion sickness (vertical).

    Parameters
    ----------
    frequency_hz : array_like
        Encounter frequency, at which the motion is felt, >= 0. [Hz]

    Returns
    -------
    ndarray
        Dimensionless; 0 at rest, near 1 from 0.125 to 0.25 Hz. NaN in gives NaN out.

    Notes
    -----
    Product of a high pass at 0.08 Hz, a low pass at 0.63 Hz, the
    acceleration-velocity transition at 0.25 Hz and the upward step at 0.0625 to
    0.1 Hz, written in ratios that stay finite at zero frequency.

    References
    ----------
    ISO 2631-1:1997, Annex A (parameters of Wf; the first transition frequency is
    infinite, from memory).
    """
    square = np.asarray(frequency_hz, dtype=float) ** 2

    def size(corner: float, quality: float) -> FloatArray:
        """Square of ``|1 - (f/corner)^2 + i f/(quality corner)|``."""
        x = square / corner**2
        made: FloatArray = (1.0 - x) ** 2 + x / quality**2
        return made

    root = np.sqrt(0.5)
    # One square root of real powers, without complex numbers: fast for millions of points.
    below = size(_F1, root) * size(_F2, root) * size(_F4, _Q4) * size(_F6, _Q6)
    above = (square / _F1**2) ** 2 * size(_F5, _Q5)
    weighting: FloatArray = np.sqrt(above / below) * (_F5 / _F6) ** 2
    return weighting


def motion_sickness_dose(weighted_rms_m_s2: Any, hours: Any) -> FloatArray:
    """Motion sickness dose MSDVz of a time with steady motion, a_w sqrt(t). [m/s^1.5]

    ``weighted_rms_m_s2`` is the rms of Wf-weighted vertical acceleration [m/s2], ``hours``
    the duration, >= 0 [h]. They broadcast; NaN in gives NaN out, also for zero hours.
    (ISO 2631-1:1997, Annex D.)
    """
    dose: FloatArray = np.asarray(weighted_rms_m_s2, dtype=float) * np.sqrt(
        np.asarray(hours, dtype=float) * HOUR_S
    )
    return dose


def sickness_percent_from_dose(dose: Any) -> FloatArray:
    """Share of people expected to vomit at a dose MSDVz, percent, at most 100.

    The relation is linear and valid for 20 minutes to 6 hours and up to about 70 percent
    (``MSDV_HOURS``, ``MSDV_PREVALENCE_LIMIT_PERCENT``); beyond, it is only an index.
    (ISO 2631-1:1997, Annex D; factor from memory.)

    ``dose`` in [m/s^1.5], any shape; NaN in gives NaN out.
    """
    return np.minimum(KM_PERCENT * np.asarray(dose, dtype=float), 100.0)


def motion_sickness_incidence_percent(
    vertical_rms_m_s2: Any, encounter_omega_rad_s: Any
) -> FloatArray:
    """Share of people sick after two hours by the O'Hanlon and McCauley index, percent.

    Parameters
    ----------
    vertical_rms_m_s2 : array_like
        Vertical acceleration, rms, unweighted. Taken as Gaussian: its mean
        magnitude is sqrt(2/pi) times the rms. [m/s2]
    encounter_omega_rad_s : array_like
        Mean encounter frequency of that acceleration. [rad/s]

    Returns
    -------
    ndarray
        Percent, 0 to 100; 0 without motion. NaN in gives NaN out. Dimensionless.

    References
    ----------
    O'Hanlon and McCauley, Aerospace Medicine 45 (1974) 366-369; form as in Lloyd,
    *Seakeeping* (1989). The "erf" of older texts is the normal integral, hence the
    square root of two.
    """
    mean_g = np.sqrt(2.0 / np.pi) * np.asarray(vertical_rms_m_s2, dtype=float) / G_M_S2
    omega = np.asarray(encounter_omega_rad_s, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        middle = -0.819 + 2.32 * np.log10(omega) ** 2
        percent = 50.0 * erfc((middle - np.log10(mean_g)) / (0.4 * np.sqrt(2.0)))
    still = (mean_g == 0.0) & ~np.isnan(omega)
    result: FloatArray = np.where(still, 0.0, percent)
    return result


def motion_induced_interruptions_per_min(
    lateral_rms_m_s2: Any, period_s: Any, tipping_coefficient: Any
) -> FloatArray:
    """Times per minute that a standing person must hold on or lose balance. [1/min]

    Parameters
    ----------
    lateral_rms_m_s2 : array_like
        rms of the lateral acceleration felt at the person's centre of gravity,
        ``PERSON_CG_HEIGHT_M`` above the deck. [m/s2]
    period_s : array_like
        Mean zero-crossing period of that acceleration, > 0. [s]
    tipping_coefficient : array_like
        Half stance over height of the centre of gravity, dimensionless.

    Returns
    -------
    ndarray
        ``(60/T) 2 exp(-(l g/a)^2/2)``; the factor two is for both sides. NaN in gives NaN
        out.

    References
    ----------
    Graham, Naval Engineers Journal (1990); Graham, Baitis and Meyers (1992), from
    memory. Level crossing of a Gaussian process, Rice (1944).
    """
    rms = np.asarray(lateral_rms_m_s2, dtype=float)
    level = np.asarray(tipping_coefficient, dtype=float) * G_M_S2
    # exp(-inf) is the right zero without motion; only the division's warning is silenced.
    with np.errstate(divide="ignore", over="ignore"):
        beyond = np.exp(-0.5 * (level / rms) ** 2)
    rate: FloatArray = HOUR_S / 60.0 / np.asarray(period_s, dtype=float) * 2.0 * beyond
    return rate


def interruptions_range_per_min(
    lateral_rms_m_s2: Any, period_s: Any
) -> tuple[FloatArray, FloatArray]:
    """Low and high number of interruptions for ``TIPPING_COEFFICIENTS``. [1/min]

    The result depends so strongly on the coefficient that one number would mislead.

    rms lateral acceleration [m/s2] and period [s], broadcasting. NaN in gives NaN out.
    """
    steady, unsteady = max(TIPPING_COEFFICIENTS), min(TIPPING_COEFFICIENTS)
    return (
        motion_induced_interruptions_per_min(lateral_rms_m_s2, period_s, steady),
        motion_induced_interruptions_per_min(lateral_rms_m_s2, period_s, unsteady),
    )


@dataclass(frozen=True, kw_only=True)
class ComfortLimit:
    """Customary limits for one activity: rms accelerations in g, roll rms in degrees, source."""

    people: str
    vertical_rms_g: float
    lateral_rms_g: float
    roll_rms_deg: float
    source: str


_NORDFORSK = "NORDFORSK 1987, from memory, not confirmed"

#: Customary limits by activity; starting points for the owner's own.
CUSTOMARY_LIMITS: tuple[ComfortLimit, ...] = tuple(
    ComfortLimit(
        people=people,
        vertical_rms_g=vertical,
        lateral_rms_g=lateral,
        roll_rms_deg=roll,
        source=_NORDFORSK,
    )
    for people, vertical, lateral, roll in (
        ("light manual work", 0.20, 0.10, 6.0),
        ("heavy manual work", 0.15, 0.07, 4.0),
        ("intellectual work", 0.10, 0.05, 3.0),
        ("transit passengers", 0.05, 0.04, 2.5),
        ("cruise liner", 0.02, 0.03, 2.0),
    )
)
