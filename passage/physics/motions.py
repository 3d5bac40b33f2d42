"""From motion per metre of wave to the accelerations people feel, as kernels.

A kernel gives the response per unit of variance density on a grid of wave frequency
and encounter angle; the spectral tables integrate it. ``MotionKernel`` makes one from
any provider of heave, pitch and sway: the closed-form expressions or a table of
response functions that the owner has from a boundary-element tool.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from passage.physics.comfort import motion_sickness_weighting
from passage.physics.vertical_motion import (
    HullForm,
    Motion,
    closed_form_motion,
    encounter_frequency_deep,
)
from passage.units import G_M_S2

FloatArray = NDArray[np.float64]

#: A provider: (omega_rad_s, mu_rad, speed_m_s), broadcast together, to a Motion.
MotionProvider = Callable[[Any, Any, Any], Motion]

#: Channels that every kernel has, after those of the places and stations.
SHARED_CHANNELS: tuple[str, ...] = (
    "heave",
    "pitch",
    "sway_acceleration",
    "encounter_m0",
    "encounter_m1",
    "encounter_m2",
)


@dataclass(frozen=True, kw_only=True, eq=False)
class MotionKernel:
    """Variances of vertical and lateral motion per unit of wave variance density.

    Attributes
    ----------
    provider : MotionProvider
        Gives heave, pitch and sway.
    places_x_m : tuple of float
        Where comfort is judged, forward of midship. [m]
    stations_x_m : tuple of float
        Where the motion relative to the water is wanted (bow for slamming and
        deck wetness, stern for propeller emergence), forward of midship. [m]

    Notes
    -----
    Channels, in order (``channel_names``): for each place i ``vertical_acceleration:i``
    [m2/s4] and ``weighted_acceleration:i`` [m2/s4], the latter with the ISO 2631-1
    Wf weighting at the *encounter* frequency; for each station j
    ``relative_motion:j`` [m2] and ``relative_velocity:j`` [m2/s2]; then ``heave``
    [m2], ``pitch`` [rad2], ``sway_acceleration`` [m2/s4] and the moments of the
    wave itself over absolute encounter frequency, ``encounter_m0``
    [m2], ``encounter_m1`` [m2/s], ``encounter_m2`` [m2/s2].

    Relative motion is the hull's minus the undisturbed wave's at the same place, with
    phase; the hull's own wave and the swell-up at the bow are not in it.
    Roll adds y^2 times the variance of roll acceleration at a place off the
    centreline; ``vertical_acceleration_rms`` does that.
    """

    provider: MotionProvider
    places_x_m: tuple[float, ...] = ()
    stations_x_m: tuple[float, ...] = ()

    @property
    def channel_names(self) -> tuple[str, ...]:
        """Names of the channels, in the order the kernel gives them."""
        places = [
            name
            for i in range(len(self.places_x_m))
            for name in (f"vertical_acceleration:{i}", f"weighted_acceleration:{i}")
        ]
        stations = [
            name
            for j in range(len(self.stations_x_m))
            for name in (f"relative_motion:{j}", f"relative_velocity:{j}")
        ]
        return (*places, *stations, *SHARED_CHANNELS)

    def channel(self, name: str) -> int:
        """Index of a channel by name; ``ValueError`` for one that is not there."""
        return self.channel_names.index(name)

    def channels(self, stem: str) -> tuple[int, ...]:
        """Indices of the channels ``stem:0``, ``stem:1``, ... in order."""
        names = self.channel_names
        return tuple(i for i, name in enumerate(names) if name.split(":")[0] == stem)

    def __call__(self, omega_rad_s: Any, mu_rad: Any, speed_m_s: float) -> FloatArray:
        """Response on the grid, shape ``(channels, nw, nm)``.

        ``omega_rad_s`` ``(nw,)``, ``mu_rad`` ``(nm,)`` (0 following, pi head, any
        range: both sides give the same), ``speed_m_s`` through the water.
        """
        omega = np.asarray(omega_rad_s, dtype=float)[:, None]
        mu = np.asarray(mu_rad, dtype=float)[None, :]
        motion = self.provider(omega, mu, speed_m_s)
        met = np.abs(encounter_frequency_deep(omega, mu, speed_m_s))
        weighting = motion_sickness_weighting(met / (2.0 * np.pi)) ** 2
        wave_phase = -1j * omega**2 / G_M_S2 * np.cos(mu)

        rows: list[FloatArray] = []
        for x in self.places_x_m:
            acceleration = met**4 * np.abs(motion.heave + x * motion.pitch) ** 2
            rows += [acceleration, weighting * acceleration]
        for x in self.stations_x_m:
            wave = np.exp(wave_phase * x)
            relative = np.abs(motion.heave + x * motion.pitch - wave) ** 2
            rows += [relative, met**2 * relative]
        rows += [
            np.abs(motion.heave) ** 2,
            np.abs(motion.pitch) ** 2,
            np.abs(motion.sway_acceleration) ** 2,
            np.ones_like(met),
            met,
            met**2,
        ]
        return np.stack(rows)


def vertical_motion_kernel(
    *,
    length_m: float,
    beam_m: float,
    draught_m: float,
    block_coefficient: float,
    places_x_m: tuple[float, ...] = (),
    stations_x_m: tuple[float, ...] = (),
) -> MotionKernel:
    """Kernel of the closed-form motions for a hull; see ``MotionKernel`` for channels."""
    hull = HullForm(
        length_m=length_m,
        beam_m=beam_m,
        draught_m=draught_m,
        block_coefficient=block_coefficient,
    )

    def provider(omega_rad_s: Any, mu_rad: Any, speed_m_s: Any) -> Motion:
        return closed_form_motion(omega_rad_s, mu_rad, speed_m_s, hull)

    return MotionKernel(
        provider=provider,
        places_x_m=tuple(float(x) for x in places_x_m),
        stations_x_m=tuple(float(x) for x in stations_x_m),
    )


def lateral_acceleration_rms(
    roll_m0: Any,
    roll_m2: Any,
    roll_m4: Any,
    z_above_axis_m: Any,
    sway_variance: Any = 0.0,
) -> FloatArray:
    r"""Lateral acceleration felt on deck, rms, with the part of gravity that roll brings.

    Parameters
    ----------
    roll_m0, roll_m2, roll_m4 : array_like
        Variance of roll [rad2], roll rate [rad2/s2] and roll acceleration [rad2/s4].
    z_above_axis_m : array_like
        Height of the place above the roll axis; negative below it. [m]
    sway_variance : array_like
        Variance of lateral acceleration apart from roll. [m2/s4]

    Returns
    -------
    ndarray
        Broadcast shape, rms. NaN in gives NaN out. [m/s2]

    Notes
    -----
    Heeled to starboard by :math:`\phi`, gravity pulls a person to starboard by
    :math:`g\phi`; the deck's own acceleration to starboard, :math:`z\ddot\phi`,
    throws him to port. What he feels is :math:`g\phi - z\ddot\phi`, and as
    :math:`\ddot\phi = -\omega_e^2\phi` the two *add* above the axis:
    variance :math:`g^2m_0 + 2gz\,m_2 + z^2m_4`. (For a stationary process the
    covariance of roll and roll acceleration is exactly :math:`-m_2`.)

    Sway is added as if unrelated to roll. That is right at resonance, where they
    are a quarter period apart, and too large in long swell on the beam,
    where they cancel: use ``coherent_lateral_variance`` where the roll response is
    at hand node by node.
    """
    z = np.asarray(z_above_axis_m, dtype=float)
    variance = (
        G_M_S2**2 * np.asarray(roll_m0, dtype=float)
        + 2.0 * G_M_S2 * z * np.asarray(roll_m2, dtype=float)
        + z**2 * np.asarray(roll_m4, dtype=float)
        + np.asarray(sway_variance, dtype=float)
    )
    # Rounding can leave a point below the axis, at the centre of percussion, at -1e-18.
    return np.sqrt(np.maximum(variance, 0.0))


def coherent_lateral_variance(
    excitation: Any,
    nodes_rad_s: Any,
    roll_per_slope: Any,
    z_above_axis_m: Any,
    sway_per_slope: Any = 1.0,
) -> FloatArray:
    r"""Variance of felt lateral acceleration with sway and roll in their true phase.

    Parameters
    ----------
    excitation : array_like, shape P + (nodes,)
        Variance of effective wave slope on each encounter-frequency node. [rad2]
    nodes_rad_s : array_like, shape (nodes,)
        Encounter frequency of the nodes. [rad/s]
    roll_per_slope : array_like of complex, shape broadcasting to P + (nodes,)
        Roll per effective wave slope, time factor exp(+i omega_e t).
    z_above_axis_m : array_like, shape broadcasting to P
        Height above the roll axis. [m]
    sway_per_slope : array_like
        Sway acceleration over g, per effective wave slope (dimensionless): 1 means that
        the hull's breadth and draught reduce both alike.

    Returns
    -------
    ndarray, shape P
        Variance. [m2/s4]

    Notes
    -----
    A hull on a surface sloping down to starboard is pulled to starboard with
    :math:`g` times the slope, so what is felt is
    :math:`(g + z\omega_e^2)\phi - g\,s\,\alpha`. In a swell much longer than the
    natural period, roll is the slope itself and nothing is felt across the deck.
    """
    nodes = np.asarray(nodes_rad_s, dtype=float)
    z = np.asarray(z_above_axis_m, dtype=float)[..., None]
    felt = (G_M_S2 + z * nodes**2) * np.asarray(roll_per_slope) - G_M_S2 * np.asarray(
        sway_per_slope
    )
    variance: FloatArray = np.sum(np.asarray(excitation, dtype=float) * np.abs(felt) ** 2, axis=-1)
    return variance


def vertical_acceleration_rms(
    vertical_variance: Any, y_m: Any = 0.0, roll_m4: Any = 0.0
) -> FloatArray:
    """Vertical acceleration at a place, rms, with what roll adds off the centreline.

    ``vertical_variance`` from heave and pitch [m2/s4], ``y_m`` off the centreline
    (either side), ``roll_m4`` the variance of roll acceleration [rad2/s4]; they
    broadcast. Roll is added as unrelated to heave and pitch. [m/s2]
    """
    variance = np.asarray(vertical_variance, dtype=float) + np.asarray(
        y_m, dtype=float
    ) ** 2 * np.asarray(roll_m4, dtype=float)
    return np.sqrt(variance)


def mean_encounter_period_s(encounter_m0: Any, encounter_m1: Any) -> FloatArray:
    """Mean period at which the yacht meets the waves, 2 pi m0/m1. [s]

    From the moments over absolute encounter frequency; NaN where there is no sea.
    Infinite where every wave travels with her.
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
    """Mean zero up-crossing period of a response, from its variance and that of its rate. [s]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.asarray(variance, dtype=float) / np.asarray(rate_variance, dtype=float)
        period: FloatArray = 2.0 * np.pi * np.sqrt(ratio)
    return period


def weighted_acceleration_rms(
    weighted_variance: Any, y_m: Any = 0.0, roll_m2: Any = 0.0, roll_m4: Any = 0.0
) -> FloatArray:
    """Wf-weighted vertical acceleration at a place, rms, roll included. [m/s2]

    As ``vertical_acceleration_rms``; roll's share is weighted at its own mean
    frequency, the root of ``roll_m4/roll_m2`` (roll is narrow-banded, so one
    frequency stands for it).
    """
    m2 = np.asarray(roll_m2, dtype=float)
    m4 = np.asarray(roll_m4, dtype=float)
    # No roll rate, no roll to weight; any frequency will do there.
    frequency = np.sqrt(m4 / np.where(m2 == 0.0, 1.0, m2)) / (2.0 * np.pi)
    return vertical_acceleration_rms(
        weighted_variance, y_m, m4 * motion_sickness_weighting(frequency) ** 2
    )
