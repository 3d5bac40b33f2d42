"""Added resistance in waves from any heading: the SNNM semi-empirical formula.

The mean extra force along the track is second order in the waves, so in an
irregular sea it is a sum over the directional spectrum, with the regular-wave
value per amplitude squared as the weight:
``R = 2 * sum S(w) D(mu) R(w, mu)/za^2``. :func:`wave_resistance_kernel` gives
that weight for the tables of ``spectral_table``, in the wave-frequency domain,
where following seas need no special case.

Home ground: ships of 50 to 500 m (ISO 15016:2025) and a block coefficient near
0.87, from which the fit departs as a power; a motor yacht is outside both. Up to three
variants are therefore run and their spread is the band:

* ``"floored"`` (main): the block coefficient is floored at 0.60 everywhere;
* ``"unit_bow"``: the true block coefficient, the bow-reflection factor K set to 1,
  which jumps at the entrance angle on fine hulls;
* ``"radiated"``, where strip theory is at hand: from ahead of the beam the energy
  that the motions radiate (Gerritsma and Beukelman 1972) with the reflection part of
  ``"unit_bow"``; from abaft the beam, where that method fails, the main variant.

Values can be negative (following seas slower than the waves, reflection from
the stern). The caller clamps the *integrated* force at zero, with
:func:`no_credit`, because a saving has not been shown for this kind of hull.

References
----------
ITTC 7.5-04-01-01.1 (2021), SNNM method; Liu & Papanikolaou (2020), Ocean
Engineering 206, 107357. The set of formulas was confirmed from several public
restatements that agree term by term; the primary texts were not at hand.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from passage.units import G_M_S2, RHO_SEA_KG_M3

Array = npt.NDArray[np.float64]

#: Below this block coefficient the main variant uses this one instead; the
#: bow factor K otherwise jumps by 3 to 6 times (recommendation of this project).
BLOCK_COEFFICIENT_FLOOR = 0.60
#: Most trim, an angle, that the motion part is given. [rad] Its exponent for short waves holds
#: 4 - 125 trim, which changes sign at 0.032 and lets the force grow without end; half of the
#: way there is taken as its range (assumption).
MOST_TRIM_RAD = 0.016
#: Names of the channels of the kernel, in order.
VARIANTS: tuple[str, ...] = ("floored", "unit_bow", "radiated")
#: Shortest hull in the scope of ISO 15016:2025 [m].
SHORTEST_HULL_M = 50.0


@dataclass(frozen=True, kw_only=True)
class ResistanceHull:
    """What the formula needs to know of the hull.

    ``length_m`` is between perpendiculars (the waterline length serves for a
    yacht). Entrance and run are the lengths from the ends of the waterline to 99 %
    of the beam; ``None`` takes 0.40 and 0.31 of the length, an assumption.
    ``pitch_radius`` is the pitch radius of gyration as a fraction of length.
    """

    length_m: float
    beam_m: float
    draught_aft_m: float
    draught_fore_m: float
    block_coefficient: float
    pitch_radius: float = 0.25
    entrance_m: float | None = None
    run_m: float | None = None

    def __post_init__(self) -> None:
        """Refuse a hull for which the logarithm of beam over draught is not positive."""
        if not self.beam_m > self.draught_m > 0.0:
            raise ValueError(
                f"beam {self.beam_m} m must exceed draught {self.draught_m} m, "
                "both above 0: the formula divides by ln(beam/draught)"
            )

    @property
    def draught_m(self) -> float:
        """Deeper of the two draughts [m]."""
        return max(self.draught_aft_m, self.draught_fore_m)

    @property
    def trim_rad(self) -> float:
        """Angle between the draughts, either way. [rad]"""
        return float(np.arctan(abs(self.draught_aft_m - self.draught_fore_m) / self.length_m))

    @property
    def entrance_angle_rad(self) -> float:
        """Half angle of entrance E1 [rad]."""
        length = 0.40 * self.length_m if self.entrance_m is None else self.entrance_m
        return float(np.arctan(0.495 * self.beam_m / length))

    @property
    def run_angle_rad(self) -> float:
        """Half angle of run E2 [rad]."""
        length = 0.31 * self.length_m if self.run_m is None else self.run_m
        return float(np.arctan(0.495 * self.beam_m / length))


def _motion_amplitude(alpha: Array, speed: float, hull: ResistanceHull) -> Array:
    """Product a1 a2 of the motion part for 0 <= alpha <= pi/2."""
    froude = speed / np.sqrt(G_M_S2 * hull.length_m)
    a1 = (0.87 / hull.block_coefficient) ** ((1.0 + froude) * np.cos(alpha)) * (
        (1.0 + 2.0 * np.cos(alpha)) / (3.0 * np.log(hull.beam_m / hull.draught_m))
    )
    slow = froude < 0.12
    a2 = 0.0072 + 0.1676 * froude if slow else froude**1.5 * np.exp(-3.5 * froude)
    return np.asarray(a1 * a2)


def _motion_amplitude_astern(omega: Array, speed: float, hull: ResistanceHull) -> Array:
    """Product a1 a2 of the motion part at alpha = pi, seas from right astern."""
    group = G_M_S2 / (2.0 * omega)
    froude = (speed - group) / np.sqrt(G_M_S2 * hull.length_m)
    overtakes = speed > group
    fast = overtakes & (froude >= 0.12)
    relative = np.maximum(froude, 0.0)
    a1 = (0.87 / hull.block_coefficient) ** np.where(fast, 1.0 + froude, 1.0) / np.log(
        hull.beam_m / hull.draught_m
    )
    a2 = np.where(
        fast,
        relative**1.5 * np.exp(-3.5 * relative),
        np.where(
            overtakes,
            0.0072 + 0.1676 * relative,
            0.0072 * (2.0 * speed / group - 1.0),
        ),
    )
    return np.asarray(a1 * a2)


def _motion_force(omega: Array, alpha: Array, speed: float, hull: ResistanceHull) -> Array:
    """Motion part per amplitude squared."""
    length, beam, draught = hull.length_m, hull.beam_m, hull.draught_m
    cb, kyy = hull.block_coefficient, hull.pitch_radius
    froude = speed / np.sqrt(G_M_S2 * length)
    wavelength = 2.0 * np.pi * G_M_S2 / omega**2
    trim = min(hull.trim_rad, MOST_TRIM_RAD)
    share = np.maximum((alpha - np.pi / 2.0) / (np.pi / 2.0), 0.0)
    forward = _motion_amplitude(np.minimum(alpha, np.pi / 2.0), speed, hull)
    astern = _motion_amplitude_astern(omega, speed, hull)
    amplitude = forward * (1.0 - share) + share * astern
    wb = (
        2.142
        * kyy ** (1.0 / 3.0)
        * np.sqrt(length / wavelength)
        * (cb / 0.65) ** 0.17
        * (1.0 - 0.111 / cb * (np.log(beam / draught) - np.log(2.75)))
        * (
            (-1.377 * froude**2 + 1.157 * froude) * np.abs(np.cos(alpha))
            + 0.618 * (13.0 + np.cos(2.0 * alpha)) / 14.0
        )
    )
    long_waves = wb < 1.0
    b1 = np.where(long_waves, 11.0, -8.5)
    d1 = np.where(
        long_waves,
        566.0 * (length * cb / beam) ** -2.66,
        -566.0 * (length / beam) ** -2.66 * (4.0 - 125.0 * trim),
    )
    scale = 3859.2 * RHO_SEA_KG_M3 * G_M_S2 * beam**2 / length * cb**1.34 * kyy**2
    # Far from resonance the shape underflows to zero; its logarithm does not.
    log_shape = b1 * np.log(wb) + b1 / d1 * (1.0 - wb**d1)
    shape = np.exp(np.maximum(log_shape, -700.0))
    return np.asarray(scale * amplitude * (1.0 + 28.7 * trim) * shape)


def _reflection_force(
    omega: Array, alpha: Array, speed: float, hull: ResistanceHull, unit_bow: bool
) -> Array:
    """Reflection part per amplitude squared, the sum of four waterline quadrants."""
    beam, draught, cb = hull.beam_m, hull.draught_m, hull.block_coefficient
    e1, e2 = hull.entrance_angle_rad, hull.run_angle_rad
    wavelength = 2.0 * np.pi * G_M_S2 / omega**2
    froude = speed / np.sqrt(G_M_S2 * hull.length_m)
    q = 2.25 / 4.0 * RHO_SEA_KG_M3 * G_M_S2 * beam
    h = 2.0 * omega * speed / G_M_S2
    cos_a = np.cos(alpha)
    root_cos = np.sqrt(np.abs(cos_a))
    stern = (4.0 + root_cos) / 5.0 if cb <= 0.75 else (2.0 + root_cos) / 3.0

    def reflected(depth: Array | float) -> Array:
        decay = 4.0 * np.pi * depth * (1.0 / wavelength - 1.0 / (2.5 * hull.length_m))
        return np.where(wavelength <= 2.5 * hull.length_m, -np.expm1(-np.maximum(decay, 0.0)), 0.0)

    def quadrant(angle: Array, end: float) -> Array:
        return np.sin(angle) ** 2 + h * (cos_a - np.cos(end) * np.cos(angle))

    if unit_bow:
        bow_factor: Array | float = 1.0
    else:
        power = np.where(alpha <= e1, (1.0 + 4.0 * np.sqrt(froude)) * cos_a, 0.0)
        bow_factor = (0.87 / cb) ** power
    fore, aft = reflected(draught), reflected(draught * stern)
    r1 = np.where(alpha <= np.pi - e1, quadrant(e1 + alpha, e1) * bow_factor, 0.0)
    r2 = np.where(alpha <= e1, quadrant(e1 - alpha, e1) * bow_factor, 0.0)
    r3 = np.where(alpha >= e2, -quadrant(e2 - alpha, e2), 0.0)
    r4 = np.where(alpha >= np.pi - e2, -quadrant(e2 + alpha, e2), 0.0)
    return q * (fore * (r1 + r2) + aft * (r3 + r4))


def regular_wave_resistance(
    omega_rad_s: npt.ArrayLike,
    mu_rad: npt.ArrayLike,
    speed_m_s: float,
    hull: ResistanceHull,
    *,
    unit_bow: bool = False,
) -> tuple[Array, Array]:
    """Added resistance in regular waves, per amplitude squared, motion and reflection.

    Parameters
    ----------
    omega_rad_s, mu_rad : array_like, broadcast together
        Wave frequency, > 0, and encounter angle: 0 following, pi head. [rad/s], [rad]
    speed_m_s : float
        Speed through the water, 0 or more. [m/s]
    hull : ResistanceHull
        The hull, with the block coefficient that is to be used.
    unit_bow : bool
        Set the bow-reflection factor K to 1.

    Returns
    -------
    motion, reflection : ndarray
        Force against the motion over amplitude squared; may be negative. [N/m2]

    Raises
    ------
    ValueError
        Negative speed.

    Notes
    -----
    Between beam and following seas the amplitude a1 a2 of the motion part is
    interpolated linearly in heading between its two ends, with the resonance shape
    at the heading itself. Restatements of the method differ here: some interpolate
    a1 and a2 apart, which is a third higher at the quarter.
    """
    if speed_m_s < 0.0:
        raise ValueError(f"speed {speed_m_s} m/s: the formula is for going ahead")
    omega = np.asarray(omega_rad_s, dtype=float)
    mu = np.asarray(mu_rad, dtype=float)
    # The formula counts from head seas; the side the waves come from is no matter.
    alpha = np.pi - np.abs((mu + np.pi) % (2.0 * np.pi) - np.pi)
    # Left apart, so that what goes by heading alone is worked out once a heading.
    motion = _motion_force(omega, alpha, speed_m_s, hull)
    return motion, _reflection_force(omega, alpha, speed_m_s, hull, unit_bow)


class RadiatedEnergy(Protocol):
    """Added resistance by the energy that a hull's motions radiate."""

    def radiated(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: float) -> Array:
        """Per amplitude squared over frequency and heading; for waves from ahead. [N/m2]"""
        ...


@dataclass(frozen=True)
class WaveResistance:
    """Kernel of :func:`wave_resistance_kernel`; its content is the hull."""

    hull: ResistanceHull
    strips: RadiatedEnergy | None = None

    @property
    def channels(self) -> int:
        """Number of variants."""
        return len(VARIANTS) - (self.strips is None)

    def __call__(self, omega_rad_s: Array, mu_rad: Array, speed_m_s: float) -> Array:
        """Force per unit of variance density, (variants, nw, nm). [N/m2]"""
        hull = self.hull
        coefficient = max(hull.block_coefficient, BLOCK_COEFFICIENT_FLOOR)
        floored = replace(hull, block_coefficient=coefficient)
        omega = np.asarray(omega_rad_s, dtype=float)[:, None]
        mu = np.asarray(mu_rad, dtype=float)[None, :]
        main = regular_wave_resistance(omega, mu, speed_m_s, floored)
        other = regular_wave_resistance(omega, mu, speed_m_s, hull, unit_bow=True)
        variants = [main[0] + main[1], other[0] + other[1]]
        if self.strips is not None:
            radiated = self.strips.radiated(omega, mu, speed_m_s) + other[1]
            variants.append(np.where(np.cos(mu) < 0.0, radiated, variants[0]))
        force = 2.0 * np.stack(variants)
        # A blank in the output would pass for missing data.
        if not np.all(np.isfinite(force)) and np.all(np.isfinite(omega)) and np.isfinite(speed_m_s):
            raise ArithmeticError(
                f"added resistance of a hull of {hull.length_m:g} m at {speed_m_s:.2f} m/s is not "
                f"a finite number: draughts {hull.draught_aft_m:g} m aft, "
                f"{hull.draught_fore_m:g} m fore, block coefficient {hull.block_coefficient:g}"
            )
        return force


def wave_resistance_kernel(
    hull: ResistanceHull, strips: RadiatedEnergy | None = None
) -> WaveResistance:
    """Kernel of the mean added resistance for ``SpectralTable``, one channel a variant.

    Parameters
    ----------
    hull : ResistanceHull
        The hull with its true block coefficient.
    strips : RadiatedEnergy, optional
        For the third variant.

    Returns
    -------
    callable
        ``kernel(omega_rad_s (nw,), mu_rad (nm,), speed_m_s) -> (variants, nw, nm)``, the
        force per unit of variance density, ``2 R/za^2``, in the order of
        :data:`VARIANTS`. [N/m2]

    Notes
    -----
    Kernel values may be negative. Clamp the sum over all wave systems with
    :func:`no_credit`, never the kernel.
    """
    return WaveResistance(hull, strips)


def no_credit(force_n: npt.ArrayLike) -> Array:
    """Added resistance with negative totals set to zero; NaN stays NaN. [N]"""
    return np.maximum(np.asarray(force_n, dtype=float), 0.0)


def range_notes(hull: ResistanceHull) -> tuple[str, ...]:
    """Words for the plan on where this hull lies outside the method's range.

    Lengths in [m]; empty inside the range.
    """
    notes = []
    if hull.length_m < SHORTEST_HULL_M:
        notes.append(
            f"waterline {hull.length_m:g} m is below the {SHORTEST_HULL_M:g} m that the "
            "standards for added resistance cover: the wave share is an estimate"
        )
    if hull.block_coefficient < BLOCK_COEFFICIENT_FLOOR:
        notes.append(
            f"block coefficient {hull.block_coefficient:.2f} is below the range "
            f"of the formula; {BLOCK_COEFFICIENT_FLOOR:.2f} is used, and the "
            "other end of the band takes the true one without the growth of bow reflection"
        )
    if hull.trim_rad > MOST_TRIM_RAD:
        most = hull.length_m * float(np.tan(MOST_TRIM_RAD))
        notes.append(
            f"draughts {abs(hull.draught_aft_m - hull.draught_fore_m):.2f} m apart: added "
            f"resistance is taken as at {most:.2f} m, as far as its formula holds"
        )
    return tuple(notes)
