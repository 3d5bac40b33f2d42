"""Fin stabilisers: lift, roll moment, the heel they can hold, and their control.

Signs: a positive fin angle gives a moment that heels her to port, so it opposes heel and
roll to starboard. A pair means the fins of both sides.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.units import NU_SEA_M2_S, RHO_SEA_KG_M3

FloatArray = NDArray[np.float64]

#: Lag of a fin's hydraulics when none is given; common practice 0.1 to 0.5. [s]
DEFAULT_LAG_S = 0.2
#: Slope of the falling lift past the stall, as a share of the slope before it.
#: Assumption, no source: lift is zero at three times the stall angle.
DEFAULT_POST_STALL_SLOPE = 0.5
#: Largest multiple of a gain that the speed schedule gives; common practice.
DEFAULT_SCHEDULE_CAP = 4.0
#: Share of the far downwash that an aft pair meets; assumption, no source.
DEFAULT_TANDEM_SHARE = 0.25
#: Speed below which the lift of a fin counts as zero. [m/s]
_STILL_M_S = 0.05


def lift_slope(aspect_ratio: ArrayLike, sweep_rad: ArrayLike = 0.0) -> FloatArray:
    """Lift slope of a low-aspect-ratio fin. [1/rad]

    Parameters
    ----------
    aspect_ratio : array_like
        Effective aspect ratio, twice the geometric one where the root is flush with the
        hull; the fit is for 0.5 to 3. Dimensionless.
    sweep_rad : array_like
        Sweep of the quarter-chord line. [rad]

    Returns
    -------
    ndarray
        ``1.8 pi a / (cos(L) sqrt(a^2/cos^4(L) + 4) + 1.8)`` with aspect ratio a, sweep L.

    References
    ----------
    Whicker and Fehlner 1958, DTMB Report 933; some texts round 1.8 pi to 5.7.
    """
    a = np.asarray(aspect_ratio, float)
    cosine = np.cos(np.asarray(sweep_rad, float))
    return np.asarray(1.8 * np.pi * a / (cosine * np.sqrt(a * a / cosine**4 + 4.0) + 1.8))


def stall_angle_rad(aspect_ratio: ArrayLike) -> FloatArray:
    """Angle of stall, ``1.05 - 0.445 a + 0.075 a^2``, 0.39 beyond a = 3. [rad]

    ``a`` is the effective aspect ratio, dimensionless. Lloyd 1989 (from memory).
    """
    a = np.asarray(aspect_ratio, float)
    return np.where(a <= 3.0, 1.05 - 0.445 * a + 0.075 * a * a, np.where(a > 3, 0.39, a))


def boundary_layer_efficiency(
    distance_from_bow_m: ArrayLike, speed_m_s: ArrayLike, outreach_m: ArrayLike
) -> FloatArray:
    """Share of the lift that remains in the hull's boundary layer. Dimensionless.

    Parameters
    ----------
    distance_from_bow_m : array_like
        Distance of the fin from the bow, > 0. [m]
    speed_m_s : array_like
        Speed through the water, > 0. [m/s]
    outreach_m : array_like
        Outreach of the fin. [m]

    Returns
    -------
    ndarray
        ``1 - (2/9) delta/outreach``, delta the thickness of a turbulent flat-plate layer,
        ``0.377 x Re^-0.2``, with a 1/7-power profile (textbook). NaN where the layer is
        thicker than the outreach.
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
    """Share of its lift that an aft pair keeps in the wash of a forward one. Dimensionless.

    Parameters
    ----------
    slope_forward_per_rad, aspect_ratio_forward : array_like
        Lift slope [1/rad] and effective aspect ratio of the forward pair.
    share : array_like
        Share of the far downwash that the aft pair meets: 1 directly behind, 0 well clear.
        The default is an assumption without a source; calibrate it.

    Returns
    -------
    ndarray
        ``1 - share x 2 CL_a/(pi a)``, at least 0, for two pairs that move alike; far behind
        a wing the downwash is 2 CL/(pi a) by lifting-line theory.
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

    ``count x (rho/2) A U^2 CL_a r E``: A area of one fin [m2], U speed of the water past it
    [m/s], CL_a lift slope [1/rad], r lever from the roll axis to its centre of pressure [m],
    E efficiency [dimensionless].
    """
    u = np.asarray(speed_m_s, float)
    each = 0.5 * RHO_SEA_KG_M3 * np.asarray(area_m2, float) * u * u
    each = each * np.asarray(slope_per_rad, float) * np.asarray(lever_m, float)
    return np.asarray(np.asarray(count, float) * each * np.asarray(efficiency, float))


def passive_damping_ratio(
    moment_ratio: ArrayLike, inflow_time_s: ArrayLike, natural_frequency_rad_s: ArrayLike
) -> FloatArray:
    """Damping ratio that centred fins add, ``m (r/U) omega_0 / 2``. Dimensionless.

    Moment ratio m dimensionless, inflow time r/U [s], natural frequency [rad/s],
    broadcasting. Linear, before stall; follows from the roll equation of
    ``roll/response.py``.
    """
    m = np.asarray(moment_ratio, float) * np.asarray(inflow_time_s, float)
    return np.asarray(0.5 * m * np.asarray(natural_frequency_rad_s, float))


def offset_for_heel_rad(
    heel_rad: ArrayLike,
    moment_n_m_per_rad: ArrayLike,
    righting_moment_n_m_per_rad: ArrayLike,
) -> FloatArray:
    """Fin angle that corrects a steady heel, before any limit, ``C44 sin(heel) / M``. [rad]

    M is the moment per radian of all pairs used for it, C44 the righting moment per radian
    [N m/rad].
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

    NaN where the fins' moment exceeds the righting moment per radian.
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

    Lift grows with the square of speed, so this keeps the moment per unit of roll constant.

    Speeds in [m/s], their sign ignored; the gain keeps its unit, [s] for a rate gain; ``cap``
    is dimensionless. All broadcast. Common practice, no source.
    """
    u = np.maximum(np.abs(np.asarray(speed_m_s, float)), _STILL_M_S)
    factor = (np.asarray(reference_speed_m_s, float) / u) ** 2
    return np.asarray(np.asarray(gain, float) * np.minimum(factor, cap))


@dataclass(frozen=True)
class Fins:
    """Fin pairs in the terms of the roll equation; arrays of shape P + (pairs,).

    The commanded angle is ``offset + angle_gain (phi - mean) + rate_gain phi' +
    acceleration_gain phi''``, cut at the angle limit; the fin follows it with a lag and a
    rate limit. Gains are those at this speed, after the schedule.

    Attributes
    ----------
    moment_ratio
        Moment of the pair per radian, over the righting moment per radian. Dimensionless.
    inflow_time_s
        Lever over speed: incidence per unit of roll rate. [s]
    angle_limit_rad, rate_limit_rad_s, lag_s
        Limits [rad], [rad/s] and lag [s] of the actuator.
    stall_angle_rad, post_stall_slope
        Incidence at which lift stops growing [rad], and its falling slope from there as a
        share of the slope before.
    angle_gain, rate_gain_s, acceleration_gain_s2
        Gains on roll angle, rate [s] and acceleration [s2].
    offset_rad
        Commanded mean angle; positive against a heel to starboard. [rad]
    rest_moment_rad
        At rest: largest moment of the driven pair over the righting moment per
        radian, always against the roll rate. [rad]
    delay_s
        Delay of the control's measurement of roll: sensor and filters. [s]
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
        """The same fins held at zero, which still damp roll through their inflow."""
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
        """Fins driven at anchor or adrift: a bounded moment [rad] against the roll rate."""
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
        Speed of the water past the fins; zero or negative gives no lift. [m/s]
    righting_moment_n_m_per_rad : array_like, shape P
        Righting moment C44, displacement x g x fluid GM. [N m/rad]
    area_m2, slope_per_rad, lever_m, ... : array_like, P + (pairs,) or (pairs,)
        Values of each pair, as in :class:`Fins` and :func:`pair_moment_n_m_per_rad`;
        gains are those at ``reference_speed_m_s``.

    Returns
    -------
    Fins
        Pairs whose gains follow the schedule by speed.
    """
    u = np.asarray(speed_m_s, float)[..., None]
    c44 = np.asarray(righting_moment_n_m_per_rad, float)[..., None]
    # A NaN speed is not still: it stays NaN in both branches.
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
