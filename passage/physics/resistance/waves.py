"""Added resistance in waves from any heading: the SNNM semi-empirical formula.

The mean added resistance is second order in the waves, so in an irregular sea it is a sum
over the directional spectrum, weighted with the regular-wave value per amplitude squared:
``R = 2 * sum S(w) D(mu) R(w, mu)/za^2``. :func:`wave_resistance_kernel` is that weight for
``waves.table.SpectralTable``. It is a function of wave frequency, so that following seas need
no special case.

The range is ships of 50 to 500 m (ISO 15016:2025) with a block coefficient near 0.87, and
the formula has powers of 0.87 over the block coefficient; a motor yacht is outside both. Up
to three variants are therefore computed, and their spread is the band:

* ``"floored"`` (main): a block coefficient of at least 0.60 throughout;
* ``"unit_bow"``: the true block coefficient, and 1 for the bow-reflection factor K, which
  jumps at the entrance angle on fine hulls;
* ``"radiated"``, where strip theory is available: for waves from ahead of the beam the energy
  that the motions radiate (Gerritsma and Beukelman 1972) plus the reflection part of
  ``"unit_bow"``; for waves from abaft the beam, where that method fails, the main variant.

Values can be negative (following seas that overtake her, reflection from the stern). The
caller sets a negative *integrated* force to zero with :func:`no_credit`, because no saving has
been shown for this kind of hull.

References
----------
ITTC 7.5-04-01-01.1 (2021), SNNM method; Liu & Papanikolaou (2020), Ocean
Engineering 206, 107357. The formulas come from several public restatements that agree term by
term; the primary texts were not available.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from passage.units import G_M_S2, RHO_SEA_KG_M3

Array = npt.NDArray[np.float64]

#: Least block coefficient of the main variant; with a smaller one the bow factor K jumps by a
#: factor of 3 to 6 (assumption).
BLOCK_COEFFICIENT_FLOOR = 0.60
#: Largest trim angle used in the motion part. [rad] Its exponent for short waves has the factor
#: 4 - 125 trim, which changes sign at 0.032 and lets the force grow without bound; half of
#: that is taken as the range (assumption).
MOST_TRIM_RAD = 0.016
#: Names of the channels of the kernel, in order.
VARIANTS: tuple[str, ...] = ("floored", "unit_bow", "radiated")
#: Shortest hull in the scope of ISO 15016:2025 [m].
SHORTEST_HULL_M = 50.0


@dataclass(frozen=True, kw_only=True)
class ResistanceHull:
    """Hull dimensions for the formula.

    ``length_m`` is the length between perpendiculars (for a yacht, on the waterline).
    Entrance and run are the lengths from the ends of the waterline to 99 % of the beam; with
    ``None`` they are 0.40 and 0.31 of the length (assumption). ``pitch_radius`` is the pitch
    radius of gyration over the length.
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
        """Refuse a hull whose logarithm of beam over draught is not positive."""
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
        """Trim angle, by the bow or by the stern, >= 0. [rad]"""
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
    """Product a1 a2 of the motion part for 0 <= alpha <= pi/2, alpha 0 in head seas."""
    froude = speed / np.sqrt(G_M_S2 * hull.length_m)
    a1 = (0.87 / hull.block_coefficient) ** ((1.0 + froude) * np.cos(alpha)) * (
        (1.0 + 2.0 * np.cos(alpha)) / (3.0 * np.log(hull.beam_m / hull.draught_m))
    )
    slow = froude < 0.12
    a2 = 0.0072 + 0.1676 * froude if slow else froude**1.5 * np.exp(-3.5 * froude)
    return np.asarray(a1 * a2)


def _motion_amplitude_astern(omega: Array, speed: float, hull: ResistanceHull) -> Array:
    """Product a1 a2 of the motion part at alpha = pi, seas from dead astern."""
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
    """Motion part per amplitude squared. [N/m2]"""
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
    """Reflection part per amplitude squared, the sum of four waterline quadrants. [N/m2]"""
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
    """Motion and reflection parts of added resistance in regular waves, per amplitude squared.

    Parameters
    ----------
    omega_rad_s, mu_rad : array_like, broadcast together
        Wave frequency, > 0, and encounter angle: 0 following, pi head. [rad/s], [rad]
    speed_m_s : float
        Speed through the water, 0 or more. [m/s]
    hull : ResistanceHull
        The hull, with the block coefficient to use.
    unit_bow : bool
        Whether to set the bow-reflection factor K to 1.

    Returns
    -------
    motion, reflection : ndarray
        Resistance over amplitude squared; may be negative. The broadcast shape is that of
        their sum. [N/m2]

    Raises
    ------
    ValueError
        Negative speed.

    Notes
    -----
    Between beam and following seas the product a1 a2 of the motion part is linear in heading
    between its values at the two; the resonance shape is that of the heading itself.
    Restatements of the method differ here: some interpolate a1 and a2 separately, which gives
    a third more in quartering seas.
    """
    if speed_m_s < 0.0:
        raise ValueError(f"speed {speed_m_s} m/s: the formula is for going ahead")
    omega = np.asarray(omega_rad_s, dtype=float)
    mu = np.asarray(mu_rad, dtype=float)
    # The formula's heading alpha is 0 in head seas and the same for both sides.
    alpha = np.pi - np.abs((mu + np.pi) % (2.0 * np.pi) - np.pi)
    # Not broadcast, so that terms of heading alone are computed once for each heading.
    motion = _motion_force(omega, alpha, speed_m_s, hull)
    return motion, _reflection_force(omega, alpha, speed_m_s, hull, unit_bow)


class RadiatedEnergy(Protocol):
    """Added resistance from the energy that a hull's motions radiate."""

    def radiated(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: float) -> Array:
        """Added resistance per amplitude squared, for waves from ahead of the beam. [N/m2]"""
        ...


@dataclass(frozen=True)
class WaveResistance:
    """Kernel of :func:`wave_resistance_kernel`, defined by the hull alone."""

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
        # NaN in the output would look like missing data.
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
    """Kernel of the mean added resistance for ``SpectralTable``, one channel per variant.

    Parameters
    ----------
    hull : ResistanceHull
        The hull, with its true block coefficient.
    strips : RadiatedEnergy, optional
        Strip theory for the variant ``"radiated"``.

    Returns
    -------
    callable
        ``kernel(omega_rad_s (nw,), mu_rad (nm,), speed_m_s) -> (variants, nw, nm)``, the
        force per unit of variance density, ``2 R/za^2``, in the order of
        :data:`VARIANTS`. [N/m2]

    Notes
    -----
    Kernel values may be negative. Apply :func:`no_credit` to the sum over all wave systems,
    never to the kernel.
    """
    return WaveResistance(hull, strips)


def no_credit(force_n: npt.ArrayLike) -> Array:
    """Added resistance with negative totals set to zero; NaN stays NaN. [N]"""
    return np.maximum(np.asarray(force_n, dtype=float), 0.0)


def range_notes(hull: ResistanceHull) -> tuple[str, ...]:
    """Notes for the plan where the hull is outside the range of the method.

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
