"""Kernels of the accelerations that people feel, from motions per metre of wave.

A kernel is the response per unit of variance density on a grid of wave frequency and
encounter angle; the spectral tables integrate it. ``MotionKernel`` makes one from any provider
of heave, pitch and sway: strip theory, the owner's table of response functions from a
boundary-element program, or the closed-form expressions.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.physics.motions.comfort import motion_sickness_weighting
from passage.physics.motions.lateral import (
    LATERAL_CHANNELS,
    LateralProvider,
    LateralSea,
    lateral_rows,
)
from passage.physics.motions.vertical_motion import (
    HullForm,
    Motion,
    closed_form_motion,
    encounter_frequency_deep,
)
from passage.units import G_M_S2

FloatArray = NDArray[np.float64]

#: Provider of motions: (omega_rad_s, mu_rad, speed_m_s), broadcast together -> Motion.
MotionProvider = Callable[[Any, Any, Any], Motion]

#: Channels of every kernel, after those of its places and stations.
SHARED_CHANNELS: tuple[str, ...] = (
    "heave",
    "pitch",
    "sway_acceleration",
    "encounter_m0",
    "encounter_m1",
    "encounter_m2",
    "bow_m0",
)

#: Encounter angle from which waves meet the bow: 15 deg forward of the beam (common practice,
#: no source). [rad]
BOW_SEA_RAD = float(np.deg2rad(105.0))

#: Size of the patch for relative motion, over length and over beam (assumption).
STATION_PATCH = (0.1, 0.5)


@dataclass(frozen=True, kw_only=True, eq=False)
class MotionKernel:
    """Variances of vertical and lateral motion per unit of wave variance density.

    Attributes
    ----------
    provider : MotionProvider
        Heave, pitch and sway.
    places_x_m : tuple of float
        Places where comfort is judged, forward of midship. [m]
    stations_x_m : tuple of float
        Stations of relative motion between hull and water (bow for slamming and deck
        wetness, stern for propeller emergence), forward of midship. [m]
    patch_m : tuple of float
        Length and breadth over which relative motion averages the wave. An area of bottom
        slams and an area of deck is wetted, not a point; at a point the relative velocity
        would grow without bound with the highest frequency. (``STATION_PATCH`` of the hull,
        an assumption.) [m]
    rough_phase : bool
        True for the closed forms, whose phase makes relative motion far too small at the end
        that the waves leave (by a factor of three against boundary-element results,
        ``docs/wave-slope-check.md``). Both ends then take the larger of their values, that of
        the end which the waves reach first.
    lateral : LateralProvider, optional
        Sway and yaw with roll held, and the effective slope; adds ``LATERAL_CHANNELS``.
    natural_frequency_rad_s : float
        Natural roll frequency for those channels. [rad/s]

    Notes
    -----
    Channels, in order (``channel_names``): for each place i ``vertical_acceleration:i``
    [m2/s4], ``weighted_acceleration:i`` [m2/s4], with the ISO 2631-1 Wf weighting at the
    *encounter* frequency, and ``vertical_velocity:i`` [m2/s2]; for each station j
    ``relative_motion:j`` [m2] and ``relative_velocity:j`` [m2/s2]; then ``heave``
    [m2], ``pitch`` [rad2], ``sway_acceleration`` [m2/s4] and the moments of the
    wave itself over absolute encounter frequency, ``encounter_m0``
    [m2], ``encounter_m1`` [m2/s], ``encounter_m2`` [m2/s2], and ``bow_m0`` [m2], the part of
    the variance from ``BOW_SEA_RAD`` or farther forward; then ``LATERAL_CHANNELS`` where
    ``lateral`` is given. In head seas at speed ``encounter_m2`` depends on the highest
    frequency of the integration (the spectrum falls with the fifth power, the square of
    encounter frequency grows with the fourth), so no period is computed from it.

    Relative motion is the hull's less the undisturbed wave's at the same place, with phase;
    the hull's own wave and the swell-up at the bow are left out.
    At a place off the centreline ``vertical_acceleration_rms`` adds y^2 times the variance of
    roll acceleration.
    """

    provider: MotionProvider
    places_x_m: tuple[float, ...] = ()
    stations_x_m: tuple[float, ...] = ()
    patch_m: tuple[float, float] = (0.0, 0.0)
    rough_phase: bool = True
    lateral: LateralProvider | None = None
    natural_frequency_rad_s: float = 1.0

    @property
    def channel_names(self) -> tuple[str, ...]:
        """Names of the channels, in the order of the kernel."""
        places = [
            name
            for i in range(len(self.places_x_m))
            for name in (
                f"vertical_acceleration:{i}",
                f"weighted_acceleration:{i}",
                f"vertical_velocity:{i}",
            )
        ]
        stations = [
            name
            for j in range(len(self.stations_x_m))
            for name in (f"relative_motion:{j}", f"relative_velocity:{j}")
        ]
        across = LATERAL_CHANNELS if self.lateral is not None else ()
        return (*places, *stations, *SHARED_CHANNELS, *across)

    def channel(self, name: str) -> int:
        """Index of a channel by name; ``ValueError`` if there is none."""
        return self.channel_names.index(name)

    def channels(self, stem: str) -> tuple[int, ...]:
        """Indices of the channels ``stem:0``, ``stem:1``, ... in order."""
        names = self.channel_names
        return tuple(i for i, name in enumerate(names) if name.split(":")[0] == stem)

    def lateral_sea(self, channels: Any) -> LateralSea | None:
        """``LateralSea`` from channels on the last axis; None without lateral channels."""
        if self.lateral is None:
            return None
        sway = channels[..., self.channel("sway_acceleration")]
        return LateralSea.of(sway, [channels[..., self.channel(n)] for n in LATERAL_CHANNELS])

    def __call__(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: float) -> FloatArray:
        """Response on the grid, shape ``(channels, nw, nm)``.

        ``omega_rad_s`` ``(nw,)`` [rad/s]; ``mu_rad`` ``(nm,)`` [rad] (0 following, pi head,
        any range, the same for both sides); ``speed_m_s`` through the water [m/s].
        """
        omega = np.asarray(omega_rad_s, dtype=float)[:, None]
        mu = np.asarray(mu_rad, dtype=float)[None, :]
        motion = self.provider(omega, mu, speed_m_s)
        signed = encounter_frequency_deep(omega, mu, speed_m_s)
        met = np.abs(signed)
        sway = motion.sway_acceleration
        sideways: list[FloatArray] = []
        if self.lateral is not None:
            sway, yaw, slope = self.lateral.lateral(omega, mu, speed_m_s)
            sideways = lateral_rows(sway, yaw, slope, signed, self.natural_frequency_rad_s)
        weighting = motion_sickness_weighting(met / (2.0 * np.pi)) ** 2
        wavenumber = omega**2 / G_M_S2
        wave_phase = -1j * wavenumber * np.cos(mu)
        along, across = self.patch_m
        # np.sinc(x) is sin(pi x)/(pi x): the mean of a wave over a length.
        patch = np.sinc(wavenumber * np.cos(mu) * along / (2.0 * np.pi)) * np.sinc(
            wavenumber * np.sin(mu) * across / (2.0 * np.pi)
        )

        rows: list[FloatArray] = []
        for x in self.places_x_m:
            velocity = met**2 * np.abs(motion.heave + x * motion.pitch) ** 2
            acceleration = met**2 * velocity
            rows += [acceleration, weighting * acceleration, velocity]
        for x in self.stations_x_m:
            wave = patch * np.exp(wave_phase * x)
            relative = np.abs(motion.heave + x * motion.pitch - wave) ** 2
            if self.rough_phase:
                turned = np.abs(motion.heave - x * motion.pitch - np.conj(wave)) ** 2
                relative = np.maximum(relative, turned)
            rows += [relative, met**2 * relative]
        rows += [
            np.abs(motion.heave) ** 2,
            np.abs(motion.pitch) ** 2,
            np.abs(sway) ** 2,
            np.ones_like(met),
            met,
            met**2,
            np.where(np.cos(mu) <= np.cos(BOW_SEA_RAD), 1.0, 0.0) * np.ones_like(met),
            *sideways,
        ]
        return np.stack(rows)


def station_patch_m(hull: HullForm) -> tuple[float, float]:
    """Length and breadth of the patch for relative motion of a hull. [m]"""
    return STATION_PATCH[0] * hull.length_m, STATION_PATCH[1] * hull.beam_m


@dataclass(frozen=True)
class ClosedForm:
    """Provider of the closed-form motions; defined by the hull, so its tables can be cached."""

    hull: HullForm

    def __call__(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: Any) -> Motion:
        """Motion per metre of wave amplitude; see ``closed_form_motion``."""
        return closed_form_motion(omega_rad_s, mu_rad, speed_m_s, self.hull)


def vertical_motion_kernel(
    *,
    length_m: float,
    beam_m: float,
    draught_m: float,
    block_coefficient: float,
    places_x_m: tuple[float, ...] = (),
    stations_x_m: tuple[float, ...] = (),
) -> MotionKernel:
    """Kernel of the closed-form motions for a hull; see ``MotionKernel`` for channels.

    Dimensions of the hull on the waterline [m], block coefficient dimensionless; places and
    stations forward of midship [m]. Source and range: ``closed_form_motion``.
    """
    hull = HullForm(
        length_m=length_m,
        beam_m=beam_m,
        draught_m=draught_m,
        block_coefficient=block_coefficient,
    )

    return MotionKernel(
        provider=ClosedForm(hull),
        places_x_m=tuple(float(x) for x in places_x_m),
        stations_x_m=tuple(float(x) for x in stations_x_m),
        patch_m=station_patch_m(hull),
    )


def lateral_acceleration_rms(
    roll_m0: Any,
    roll_m2: Any,
    roll_m4: Any,
    z_above_axis_m: Any,
    sway_variance: Any = 0.0,
    *,
    slope_variance: Any = None,
    natural_frequency_rad_s: Any = None,
) -> FloatArray:
    r"""rms of the lateral acceleration felt on deck, with gravity's share due to roll.

    Parameters
    ----------
    roll_m0, roll_m2, roll_m4 : array_like
        Variance of roll [rad2], roll rate [rad2/s2] and roll acceleration [rad2/s4].
    z_above_axis_m : array_like
        Height of the place above the roll axis; negative below it. [m]
    sway_variance : array_like
        Variance of lateral acceleration apart from roll. [m2/s4]
    slope_variance, natural_frequency_rad_s : array_like, optional
        Variance of the effective wave slope that excites the roll [rad2] and natural roll
        frequency [rad/s]. With both, sway has its phase with roll; without, it counts as
        uncorrelated.

    Returns
    -------
    ndarray
        Broadcast shape, rms. NaN in gives NaN out. [m/s2]

    Notes
    -----
    At a roll angle :math:`\phi` to starboard gravity pulls a person to starboard with
    :math:`g\phi`; the deck's own acceleration to starboard, :math:`z\ddot\phi`,
    throws him to port. He feels :math:`g\phi - z\ddot\phi`, and as
    :math:`\ddot\phi = -\omega_e^2\phi` the two *add* above the axis:
    variance :math:`g^2m_0 + 2gz\,m_2 + z^2m_4`. (For a stationary process the
    covariance of roll and roll acceleration is exactly :math:`-m_2`.)

    A surface that slopes down to starboard by :math:`\alpha` makes her both roll and slide
    to starboard, the latter with :math:`gs\alpha`, and a person feels
    :math:`g\phi - z\ddot\phi - gs\alpha`: zero in a swell much longer than the roll period,
    the root of the sum of squares at resonance, and more in shorter waves.
    The covariances need no phases. Multiply the equation of roll,
    :math:`\ddot\phi + 2\zeta\omega_0\dot\phi + \omega_0^2\phi = \omega_0^2\alpha`,
    by :math:`\phi` or :math:`\ddot\phi` and take the mean:
    :math:`E[\alpha\phi] = m_0 - m_2/\omega_0^2` and
    :math:`E[\alpha\ddot\phi] = m_4/\omega_0^2 - m_2`. :math:`s` is the root of the
    sway variance over that of :math:`g\alpha`. Exact for any damping of the hull and for fins
    that respond to roll rate; the lag and the angle gain of fins are left out.
    """
    m0, m2, m4 = (np.asarray(m, dtype=float) for m in (roll_m0, roll_m2, roll_m4))
    z = np.asarray(z_above_axis_m, dtype=float)
    sway = np.asarray(sway_variance, dtype=float)
    variance = G_M_S2**2 * m0 + 2.0 * G_M_S2 * z * m2 + z**2 * m4 + sway
    if slope_variance is not None and natural_frequency_rad_s is not None:
        slope = np.asarray(slope_variance, dtype=float)
        squared = np.asarray(natural_frequency_rad_s, dtype=float) ** 2
        # Without slope there is no sway, and the ratio does not matter.
        pull = np.sqrt(sway / np.where(slope == 0.0, 1.0, slope))
        together = G_M_S2 * (m0 - m2 / squared) - z * (m4 / squared - m2)
        variance = variance - 2.0 * pull * together
    # Rounding can leave a point where all cancels at -1e-18.
    return np.sqrt(np.maximum(variance, 0.0))


def vertical_acceleration_rms(
    vertical_variance: Any, y_m: Any = 0.0, roll_m4: Any = 0.0
) -> FloatArray:
    """rms of vertical acceleration at a place, with roll's share off the centreline. [m/s2]

    ``vertical_variance`` is from heave and pitch [m2/s4], ``y_m`` the distance off the
    centreline to either side [m], ``roll_m4`` the variance of roll acceleration [rad2/s4];
    they broadcast. Roll counts as uncorrelated with heave and pitch.
    """
    variance = np.asarray(vertical_variance, dtype=float) + np.asarray(
        y_m, dtype=float
    ) ** 2 * np.asarray(roll_m4, dtype=float)
    return np.sqrt(variance)


def mean_encounter_period_s(encounter_m0: Any, encounter_m1: Any) -> FloatArray:
    """Mean encounter period, 2 pi m0/m1. [s]

    From the moments over absolute encounter frequency [m2], [m2/s]; NaN where there is no
    sea, infinite where every wave keeps pace with her.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        period: FloatArray = (
            2.0
            * np.pi
            * np.asarray(encounter_m0, dtype=float)
            / np.asarray(encounter_m1, dtype=float)
        )
    return period


def zero_crossing_period_s(variance: Any, rate_variance: Any) -> FloatArray:
    """Mean zero up-crossing period of a response, from its variance and that of its rate. [s]

    ``2 pi sqrt(variance / rate_variance)``. With those of vertical velocity and acceleration
    it is the period at which people feel the motion.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.asarray(variance, dtype=float) / np.asarray(rate_variance, dtype=float)
        period: FloatArray = 2.0 * np.pi * np.sqrt(ratio)
    return period


def weighted_acceleration_rms(
    weighted_variance: Any, y_m: Any = 0.0, roll_m2: Any = 0.0, roll_m4: Any = 0.0
) -> FloatArray:
    """rms of Wf-weighted vertical acceleration at a place, roll included. [m/s2]

    As ``vertical_acceleration_rms``. Roll is narrow-banded, so its share has the weight of
    its mean frequency, the root of ``roll_m4/roll_m2`` [rad2/s4], [rad2/s2].
    """
    m2 = np.asarray(roll_m2, dtype=float)
    m4 = np.asarray(roll_m4, dtype=float)
    # Without roll any frequency will do.
    frequency = np.sqrt(m4 / np.where(m2 == 0.0, 1.0, m2)) / (2.0 * np.pi)
    return vertical_acceleration_rms(
        weighted_variance, y_m, m4 * motion_sickness_weighting(frequency) ** 2
    )
