"""Encounter conditions of IMO MSC.1/Circ.1228, as cautions for the master.

Each test gives a state for each point: 1 met, 0 not met, -1 unknown for lack of data. The
result includes the numbers behind a state, so that a caution can give its reason. A caution
is no verdict: the circular is for conventional ships that meet the stability criteria, and
leaves the judgement to those on board.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.physics.waves.dispersion import encounter_period
from passage.units import G_M_S2, KNOT_M_S, m_s_to_knots, rad_to_deg

FloatArray = NDArray[np.float64]
StateArray = NDArray[np.int8]

#: Half-width of the surf-riding sector about dead astern (135 to 225 deg from ahead).
SURF_SECTOR_RAD = np.pi / 4.0
#: Speed over the root of length from which she may surf-ride. [kn per sqrt(m)]
SURF_SPEED_KN_PER_ROOT_M = 1.8
#: Zone of high-wave groups: mean wavelength and significant height over length, and encounter
#: period over wave period.
HIGH_WAVE_LENGTH_RATIO = 0.8
HIGH_WAVE_HEIGHT_RATIO = 0.04
HIGH_WAVE_PERIOD_RATIO = (1.8, 3.0)
#: Half-width of "nearly equal" periods, for which the circular has no number; common practice,
#: no source.
PERIOD_BAND = 0.20


@dataclass(frozen=True, kw_only=True, eq=False)
class EncounterCautions:
    """States and their numbers at each point; every array has the broadcast shape.

    States (int8: 1 met, 0 not, -1 unknown): ``surf_riding``, ``high_wave_groups``,
    ``synchronous_rolling``, ``parametric_rolling``.
    Numbers: ``speed_m_s``, ``mu_rad``, ``surf_limit_m_s`` (NaN outside the sector),
    ``wave_period_s``, ``wavelength_m``, ``height_m``, ``encounter_period_s`` (infinite
    when she keeps pace with the waves), ``roll_period_s``, ``length_m``,
    and ``band``, the relative half-width of nearly equal periods.
    """

    surf_riding: StateArray
    high_wave_groups: StateArray
    synchronous_rolling: StateArray
    parametric_rolling: StateArray
    speed_m_s: FloatArray
    mu_rad: FloatArray
    surf_limit_m_s: FloatArray
    wave_period_s: FloatArray
    wavelength_m: FloatArray
    height_m: FloatArray
    encounter_period_s: FloatArray
    roll_period_s: FloatArray
    length_m: FloatArray
    band: float


#: Codes of the cautions, the most urgent first.
CAUTION_CODES: tuple[str, ...] = (
    "surf_riding",
    "high_wave_groups",
    "synchronous_rolling",
    "parametric_rolling",
)


def surf_riding_limit_m_s(mu_rad: Any, length_m: Any) -> FloatArray:
    """Speed from which she may surf-ride; NaN outside the sector. [m/s]

    1.8 sqrt(L)/cos(180 - alpha) knots for 135 < alpha < 225 deg, alpha from ahead; with mu
    from astern the divisor is cos(mu). Encounter angle in rad, length in [m]. MSC.1/Circ.1228
    (sector confirmed, limit from quotations). With the sea dead astern it is a Froude number
    of 0.2956 at any length.
    """
    mu = np.abs(np.asarray(mu_rad, dtype=float))
    inside = mu < SURF_SECTOR_RAD
    cosine = np.where(inside, np.cos(mu), np.nan)
    limit: FloatArray = (
        SURF_SPEED_KN_PER_ROOT_M * KNOT_M_S * np.sqrt(np.asarray(length_m, dtype=float)) / cosine
    )
    return limit


def _state(fired: Any, *needed: FloatArray) -> StateArray:
    """1 where met, 0 where not, -1 where a number that the test needs is missing."""
    unknown = np.zeros(np.shape(fired), dtype=bool)
    for values in needed:
        unknown = unknown | np.isnan(values)
    state: StateArray = np.where(unknown, -1, np.where(fired, 1, 0)).astype(np.int8)
    return state


def encounter_cautions(
    *,
    speed_m_s: Any,
    mu_rad: Any,
    height_m: Any,
    mean_period_s: Any,
    length_m: float,
    roll_period_s: Any,
    band: float = PERIOD_BAND,
) -> EncounterCautions:
    """Test all four encounter conditions at every point.

    Parameters
    ----------
    speed_m_s : array_like
        Speed through the water, ahead. [m/s]
    mu_rad : array_like
        Encounter angle, 0 following, pi head; either sign. [rad]
    height_m : array_like
        Significant height of the sea. [m]
    mean_period_s : array_like
        Mean period of the waves (Tm01), which gives the mean wavelength. [s]
    length_m : float
        Length on the waterline. [m]
    roll_period_s : array_like
        Natural roll period. [s]
    band : float
        Relative half-width of "nearly equal" periods. Dimensionless.

    Returns
    -------
    EncounterCautions
        Arrays of the broadcast shape. A state is -1 where a number it needs is NaN.

    Notes
    -----
    High-wave groups: wavelength, height and ratio of periods decide; the circular's third
    condition, visible signs of dangerous behaviour, is for those on board to judge, and the
    text of the caution says so. Parametric rolling: encounter period near the roll period or
    near half of it.

    References
    ----------
    IMO MSC.1/Circ.1228 (2007), section 4.
    """
    speed, mu, height, period, roll, length = np.broadcast_arrays(
        *(
            np.asarray(value, dtype=float)
            for value in (speed_m_s, mu_rad, height_m, mean_period_s, roll_period_s, length_m)
        )
    )
    limit = surf_riding_limit_m_s(mu, length)
    met = encounter_period(period, speed, mu)
    wavelength = G_M_S2 * period**2 / (2.0 * np.pi)
    ratio = met / period
    low, high = HIGH_WAVE_PERIOD_RATIO
    near_one = np.abs(met / roll - 1.0) <= band
    near_half = np.abs(2.0 * met / roll - 1.0) <= band
    return EncounterCautions(
        surf_riding=_state(speed >= limit, speed, mu, length),
        high_wave_groups=_state(
            (wavelength > HIGH_WAVE_LENGTH_RATIO * length)
            & (height > HIGH_WAVE_HEIGHT_RATIO * length)
            & (ratio >= low)
            & (ratio <= high),
            met,
            height,
            length,
        ),
        synchronous_rolling=_state(near_one, met, roll),
        parametric_rolling=_state(near_one | near_half, met, roll),
        speed_m_s=speed,
        mu_rad=mu,
        surf_limit_m_s=limit,
        wave_period_s=period,
        wavelength_m=wavelength,
        height_m=height,
        encounter_period_s=met,
        roll_period_s=roll,
        length_m=length,
        band=band,
    )


def caution_text(cautions: EncounterCautions, code: str, index: Any = ()) -> str:
    """Text of one caution at one point, with its numbers in [kn], [m], [s] and degrees.

    Parameters
    ----------
    cautions : EncounterCautions
    code : str
        One of ``CAUTION_CODES``.
    index : index
        Index of the point, as for numpy; () for scalars.

    Returns
    -------
    str
        Empty where the condition is not met or is unknown.

    Raises
    ------
    ValueError
        Unknown code.
    """
    if code not in CAUTION_CODES:
        raise ValueError(f"unknown caution {code!r}; known: {', '.join(CAUTION_CODES)}")
    if int(getattr(cautions, code)[index]) != 1:
        return ""

    def number(name: str) -> float:
        return float(getattr(cautions, name)[index])

    speed_kn = m_s_to_knots(number("speed_m_s"))
    met_s, wave_s = number("encounter_period_s"), number("wave_period_s")
    roll_s, length_m = number("roll_period_s"), number("length_m")
    if code == "surf_riding":
        off_astern = rad_to_deg(abs(number("mu_rad")))
        limit_kn = m_s_to_knots(number("surf_limit_m_s"))
        return (
            f"Surf-riding and broaching: sea {off_astern:.0f} deg from dead astern and "
            f"{speed_kn:.1f} kn through the water, at or above {limit_kn:.1f} kn, where a yacht "
            f"of {length_m:.0f} m may be carried along by a wave. A yacht cruising near "
            "this speed meets it in every following sea; it matters when the waves are steep. "
            "Slow down below it or bring the sea farther round."
        )
    if code == "high_wave_groups":
        return (
            "Groups of high waves from astern: mean wavelength "
            f"{number('wavelength_m'):.0f} m (over {HIGH_WAVE_LENGTH_RATIO} of her length), "
            f"significant height {number('height_m'):.1f} m (over "
            f"{HIGH_WAVE_HEIGHT_RATIO} of her length) and waves met every {met_s:.1f} s, "
            f"{met_s / wave_s:.1f} times their own period. The danger is there when signs of it "
            "are seen on board as well: slow, large rolls, sluggish steering or long stays "
            "on a crest. Then slow down or alter course."
        )
    if code == "synchronous_rolling":
        return (
            f"Synchronous rolling: waves met every {met_s:.1f} s, within "
            f"{100 * cautions.band:.0f} % of the natural roll period {roll_s:.1f} s "
            "(a customary band; the circular gives none). Alter course or speed to separate the "
            "two."
        )
    near = "half the" if met_s < 0.75 * roll_s else "the"
    return (
        f"Parametric rolling: waves met every {met_s:.1f} s, near {near} natural roll period "
        f"{roll_s:.1f} s (within {100 * cautions.band:.0f} %, a customary band). It needs waves "
        f"about as long as the yacht; these are {number('wavelength_m') / length_m:.1f} times "
        "her length. Alter course or speed to separate the two."
    )
