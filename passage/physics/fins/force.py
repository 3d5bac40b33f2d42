"""Fin stabilisers: lift, moment, what they can hold, and how they are steered.

Signs: a positive fin angle gives a moment that heels to port, so it opposes a
heel to starboard and a roll to starboard. A pair is both sides together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.units import NU_SEA_M2_S, RHO_SEA_KG_M3

FloatArray = NDArray[np.float64]

#: Lag of a fin's hydraulics when none is given; common practice 0.1 to 0.5. [s]
DEFAULT_LAG_S = 0.2
#: How fast lift falls past the stall, as a share of the slope before it.
#: Assumption, no source: lift is back to zero at three times the stall angle.
DEFAULT_POST_STALL_SLOPE = 0.5
#: Largest multiple of a gain that the speed schedule gives; common practice.
DEFAULT_SCHEDULE_CAP = 4.0
#: Share of the far downwash an aft pair meets; assumption, no source.
DEFAULT_TANDEM_SHARE = 0.25
#: Below this speed a fin has no lift worth the name. [m/s]
_STILL_M_S = 0.05


def lift_slope(aspect_ratio: ArrayLike, sweep_rad: ArrayLike = 0.0) -> FloatArray:
    """Lift slope of a low-aspect-ratio fin. [1/rad]

    Parameters
    ----------
    aspect_ratio : array_like
        Effective aspect ratio, twice the geometric one when the root is flush
        with the hull. Fitted between 0.5 and 3.
    sweep_rad : array_like
        Sweep of the quarter-chord line. [rad]

    Returns
    -------
    ndarray
        ``1.8 pi a / (cos(L) sqrt(a^2/cos^4(L) + 4) + 1.8)``.

    References
    ----------
    Whicker and Fehlner 1958, DTMB Report 933; others round 1.8 pi to 5.7.
    """
    a = np.asarray(aspect_ratio, float)
    cosine = np.cos(np.asarray(sweep_rad, float))
    return np.asarray(1.8 * np.pi * a / (cosine * np.sqrt(a * a / cosine**4 + 4.0) + 1.8))


def stall_angle_rad(aspect_ratio: ArrayLike) -> FloatArray:
    """Angle of stall, ``1.05 - 0.445 a + 0.075 a^2``, 0.39 beyond a = 3. [rad]

    ``a`` is the effective aspect ratio. Lloyd 1989 (from memory).
    """
    a = np.asarray(aspect_ratio, float)
    return np.where(a <= 3.0, 1.05 - 0.445 * a + 0.075 * a * a, np.where(a > 3, 0.39, a))


def boundary_layer_efficiency(
    distance_from_bow_m: ArrayLike, speed_m_s: ArrayLike, outreach_m: ArrayLike
) -> FloatArray:
    """Share of the lift left by the slow water along the hull.

    Parameters
    ----------
    distance_from_bow_m : array_like
        Run of the water along the hull, > 0. [m]
    speed_m_s : array_like
        Speed through the water, > 0. [m/s]
    outreach_m : array_like
        Outreach of the fin. [m]

    Returns
    -------
    ndarray
        ``1 - (2/9) delta/outreach``, delta the thickness of a flat-plate
        turbulent layer, ``0.377 x Re^-0.2``, with a 1/7-power profile. NaN
        where the layer is thicker than the outreach.
    """
    x = np.asarray(distance_from_bow_m, float)
    reynolds = np.asarray(speed_m_s, float) * x / NU_SEA_M2_S
    share = 0.377 * x * reynolds**-0.2 / np.asarray(outreach_m, float)
    return np.where(share <= 1.0, 1.0 - 2.0 / 9.0 * share, np.nan)


def tandem_factor(
    slope_forward_per_rad: ArrayLike,
    aspect_ratio_forward: ArrayLike,
    share: ArrayLike = DEFAULT_TANDEM_SHARE,
) -> FloatArray:
    """Share of lift left to an aft pair working in the wash of a forward one.

    Parameters
    ----------
    slope_forward_per_rad, aspect_ratio_forward : array_like
        Lift slope [1/rad] and effective aspect ratio of the forward pair.
    share : array_like
        Part of the far downwash met aft: 1 right behind, 0 well clear of it.
        The default is an assumption without a source; calibrate it.

    Returns
    -------
    ndarray
        ``1 - share x 2 CL_a/(pi a)``, for both pairs moved alike; the downwash
        far behind a wing is 2 CL/(pi a) by lifting-line theory.
    """
    wash = 2.0 * np.asarray(slope_forward_per_rad, float)
    wash = wash / (np.pi * np.asarray(aspect_ratio_forward, float))
    return np.asarray(np.maximum(1.0 - np.asarray(share, float) * wash, 0.0))


def pair_moment_n_m_per_rad(
    speed_m_s: ArrayLike,
    area_m2: ArrayLike,
    slope_per_rad: ArrayLike,
    lever_m: ArrayLike,
    efficiency: ArrayLike = 1.0,
    count: ArrayLike = 2,
) -> FloatArray:
    """Roll moment of opposed fins per radian of incidence. [N m/rad]

    ``count x (rho/2) A U^2 CL_a r E``, A the area of one fin, r the lever from
    the roll axis to its centre of pressure, U the speed of the water past it.
    """
    u = np.asarray(speed_m_s, float)
    each = 0.5 * RHO_SEA_KG_M3 * np.asarray(area_m2, float) * u * u
    each = each * np.asarray(slope_per_rad, float) * np.asarray(lever_m, float)
    return np.asarray(np.asarray(count, float) * each * np.asarray(efficiency, float))


def passive_damping_ratio(
    moment_ratio: ArrayLike, inflow_time_s: ArrayLike, natural_frequency_rad_s: ArrayLike
) -> FloatArray:
    """Damping ratio added by fins held centred: ``m (r/U) omega_0 / 2``.

    Moment ratio dimensionless, inflow time [s], natural frequency [rad/s], broadcasting; the
    ratio to critical is dimensionless. Linear: before any stall. Derived from the roll equation
    of ``roll/response.py``.
    """
    m = np.asarray(moment_ratio, float) * np.asarray(inflow_time_s, float)
    return np.asarray(0.5 * m * np.asarray(natural_frequency_rad_s, float))


def offset_for_heel_rad(
    heel_rad: ArrayLike,
    moment_n_m_per_rad: ArrayLike,
    righting_moment_n_m_per_rad: ArrayLike,
) -> FloatArray:
    """Fin angle that holds a steady heel upright, before any limit. [rad]

    ``C44 sin(heel) / M``: against the fin moment of all pairs used for it.
    """
    c44 = np.asarray(righting_moment_n_m_per_rad, float)
    heel = np.sin(np.asarray(heel_rad, float))
    return np.asarray(c44 * heel / np.asarray(moment_n_m_per_rad, float))


def static_capacity_rad(
    angle_rad: ArrayLike,
    moment_n_m_per_rad: ArrayLike,
    righting_moment_n_m_per_rad: ArrayLike,
) -> FloatArray:
    """Steady heel that fins at a given angle can hold, ``asin(M d / C44)``. [rad]

    NaN where they could turn her over.
    """
    sine = np.asarray(moment_n_m_per_rad, float) * np.asarray(angle_rad, float)
    sine = sine / np.asarray(righting_moment_n_m_per_rad, float)
    return np.asarray(np.arcsin(np.where(np.abs(sine) <= 1.0, sine, np.nan)))


def scheduled_gain(
    gain: ArrayLike,
    speed_m_s: ArrayLike,
    reference_speed_m_s: ArrayLike,
    cap: float = DEFAULT_SCHEDULE_CAP,
) -> FloatArray:
    """Gain at a speed, ``gain x (U_ref/U)^2``, at most ``cap x gain``.

    Lift grows with speed squared, so this keeps the moment per unit of roll.

    Speeds in m/s, the sign of the speed is nothing; the gain keeps its unit, [s] for a rate
    gain. ``cap`` is dimensionless. All broadcast. Common practice, no source.
    """
    u = np.maximum(np.abs(np.asarray(speed_m_s, float)), _STILL_M_S)
    factor = (np.asarray(reference_speed_m_s, float) / u) ** 2
    return np.asarray(np.asarray(gain, float) * np.minimum(factor, cap))


@dataclass(frozen=True)
class Fins:
    """Fin pairs as the roll equation sees them; arrays of shape P + (pairs,).

    The angle asked for is ``offset + angle_gain (phi - mean) + rate_gain phi' +
    acceleration_gain phi''``, cut at the angle limit, followed with a lag and a
    rate limit. Gains are those at this speed, already scheduled.

    Attributes
    ----------
    moment_ratio
        Moment of the pair per radian over the righting moment per radian.
    inflow_time_s
        Lever over speed: incidence per unit of roll rate. [s]
    angle_limit_rad, rate_limit_rad_s, lag_s
        Limits and lag of the actuator.
    stall_angle_rad, post_stall_slope
        Incidence at which lift stops growing, and how it falls from there.
    angle_gain, rate_gain_s, acceleration_gain_s2
        Gains on roll angle, rate [s] and acceleration [s2].
    offset_rad
        Angle asked for steadily; positive against a heel to starboard. [rad]
    rest_moment_rad
        At rest: largest moment of the driven pair over the righting moment per
        radian, always against the roll rate. [rad]
    delay_s
        Time by which the control sees roll late: sensor and filters. [s]
    """

    moment_ratio: ArrayLike
    inflow_time_s: ArrayLike
    angle_limit_rad: ArrayLike
    rate_limit_rad_s: ArrayLike = np.inf
    lag_s: ArrayLike = DEFAULT_LAG_S
    stall_angle_rad: ArrayLike = np.inf
    post_stall_slope: ArrayLike = DEFAULT_POST_STALL_SLOPE
    angle_gain: ArrayLike = 0.0
    rate_gain_s: ArrayLike = 0.0
    acceleration_gain_s2: ArrayLike = 0.0
    offset_rad: ArrayLike = 0.0
    rest_moment_rad: ArrayLike = 0.0
    delay_s: ArrayLike = 0.0

    def centred(self) -> Fins:
        """The same fins held at zero: they still damp through their inflow."""
        return replace(
            self,
            angle_gain=0.0,
            rate_gain_s=0.0,
            acceleration_gain_s2=0.0,
            offset_rad=0.0,
            rest_moment_rad=0.0,
        )

    def absent(self) -> Fins:
        """No fins at all."""
        return replace(self.centred(), moment_ratio=0.0 * np.asarray(self.moment_ratio))

    def at_rest(self, moment_rad: ArrayLike) -> Fins:
        """Driven at anchor or adrift: a bounded moment against the roll rate."""
        return replace(self.absent(), rest_moment_rad=moment_rad)


def fins_under_way(
    speed_m_s: ArrayLike,
    righting_moment_n_m_per_rad: ArrayLike,
    *,
    area_m2: ArrayLike,
    slope_per_rad: ArrayLike,
    lever_m: ArrayLike,
    angle_limit_rad: ArrayLike,
    rate_limit_rad_s: ArrayLike = np.inf,
    stall_rad: ArrayLike = np.inf,
    efficiency: ArrayLike = 1.0,
    count: ArrayLike = 2,
    lag_s: ArrayLike = DEFAULT_LAG_S,
    reference_speed_m_s: ArrayLike,
    angle_gain: ArrayLike = 0.0,
    rate_gain_s: ArrayLike = 0.0,
    acceleration_gain_s2: ArrayLike = 0.0,
    offset_rad: ArrayLike = 0.0,
    schedule_cap: float = DEFAULT_SCHEDULE_CAP,
    delay_s: ArrayLike = 0.0,
) -> Fins:
    """Fin pairs at a speed, from their dimensions and reference gains.

    Parameters
    ----------
    speed_m_s : array_like, shape P
        Speed of the water past the fins; none or astern gives no lift. [m/s]
    righting_moment_n_m_per_rad : array_like, shape P
        C44, displacement x g x fluid GM. [N m/rad]
    area_m2, slope_per_rad, lever_m, ... : array_like, P + (pairs,) or (pairs,)
        Of each pair, as in :class:`Fins` and :func:`pair_moment_n_m_per_rad`;
        gains are those at ``reference_speed_m_s``.

    Returns
    -------
    Fins
        With gains scheduled by speed.
    """
    u = np.asarray(speed_m_s, float)[..., None]
    c44 = np.asarray(righting_moment_n_m_per_rad, float)[..., None]
    # A NaN speed is not "still": it stays NaN through both branches.
    still = u < _STILL_M_S
    flow = np.where(still, _STILL_M_S, u)
    moment = pair_moment_n_m_per_rad(flow, area_m2, slope_per_rad, lever_m, efficiency, count)

    def schedule(gain: ArrayLike) -> FloatArray:
        return scheduled_gain(gain, flow, reference_speed_m_s, schedule_cap)

    return Fins(
        moment_ratio=np.where(still, 0.0, moment / c44),
        inflow_time_s=np.asarray(lever_m, float) / flow,
        angle_limit_rad=angle_limit_rad,
        rate_limit_rad_s=rate_limit_rad_s,
        lag_s=lag_s,
        stall_angle_rad=stall_rad,
        angle_gain=schedule(angle_gain),
        rate_gain_s=schedule(rate_gain_s),
        acceleration_gain_s2=schedule(acceleration_gain_s2),
        offset_rad=offset_rad,
        delay_s=delay_s,
    )
