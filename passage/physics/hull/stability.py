"""Statics of heel: moments and angles, weight shifts, free surfaces, wind lever.

Angles are in radians, moments in newton metres, and masses in tonnes where the name has
``_t``, as in a stability booklet. All functions broadcast; NaN in gives NaN out. Heel and
moment are positive to starboard.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.units import G_M_S2, RHO_SEA_KG_M3, tonnes_to_kg

Floats = NDArray[np.float64]

#: Pressure of the weather criterion's steady wind [Pa] (2008 IS Code, Part A, 2.3).
WEATHER_CRITERION_PA = 504.0


def righting_stiffness_n_m(displacement_t: ArrayLike, gm_m: ArrayLike) -> Floats:
    """Righting moment per radian of small heel, displacement x g x GM [N m/rad]."""
    return np.asarray(tonnes_to_kg(np.asarray(displacement_t, float)) * G_M_S2) * np.asarray(
        gm_m, float
    )


def heel_from_moment(moment_n_m: ArrayLike, displacement_t: ArrayLike, gm_m: ArrayLike) -> Floats:
    """Steady heel under a moment that falls with cos(heel), as a shifted weight does.

    Parameters
    ----------
    moment_n_m
        Heeling moment upright, + to starboard [N m].
    displacement_t
        Displacement [t].
    gm_m
        Metacentric height, corrected for free surface [m].

    Returns
    -------
    ndarray
        Heel [rad], + to starboard: tan(heel) = moment / (displacement g GM). NaN
        where GM is not positive, as she has no equilibrium near upright.

    Notes
    -----
    Valid below about 10 degrees; above, use `heel_wall_sided`.
    """
    gm = np.asarray(gm_m, float)
    stiffness = righting_stiffness_n_m(displacement_t, np.where(gm > 0.0, gm, np.nan))
    return np.arctan(np.asarray(moment_n_m, float) / stiffness)


def wall_sided_arm(heel_rad: ArrayLike, gm_m: ArrayLike, bm_m: ArrayLike) -> Floats:
    """Righting arm of a wall-sided hull, GZ = sin(heel) (GM + BM tan^2(heel) / 2) [m].

    Heel in rad, GM in m; ``bm_m`` is the transverse metacentric radius, the second moment of
    the waterplane over the volume [m].
    """
    heel = np.asarray(heel_rad, float)
    tangent = np.tan(heel)
    return np.sin(heel) * (np.asarray(gm_m, float) + 0.5 * np.asarray(bm_m, float) * tangent**2)


def heel_wall_sided(
    moment_n_m: ArrayLike, displacement_t: ArrayLike, gm_m: ArrayLike, bm_m: ArrayLike
) -> Floats:
    """Steady heel with the wall-sided righting arm.

    Parameters
    ----------
    moment_n_m, displacement_t, gm_m
        As in `heel_from_moment`; here GM may be zero or negative (an angle of loll),
        and the result is the largest equilibrium angle on the side of the moment.
    bm_m
        Transverse metacentric radius, > 0 [m].

    Returns
    -------
    ndarray
        Heel [rad], + to starboard.

    Notes
    -----
    With t = tan(heel) and m the moment over displacement x g, equilibrium is the cubic
    GM t + BM t^3 / 2 = m, solved in closed form. It has one real root while GM >= 0.
    """
    m, gm, bm = np.broadcast_arrays(
        np.asarray(moment_n_m, float) / righting_stiffness_n_m(displacement_t, 1.0),
        np.asarray(gm_m, float),
        np.asarray(bm_m, float),
    )
    p = 2.0 * gm / bm
    q = 2.0 * np.abs(m) / bm
    # Depressed cubic t^3 + p t - q = 0, largest root. Trigonometric form where p < 0 and three
    # roots are real; otherwise the hyperbolic form, because Cardano's difference of cube roots
    # loses digits for small moments. A |p| below 1e-12 counts as 0, or the scaling overflows.
    flat = np.abs(p) <= 1e-12
    safe_p = np.where(flat, 1.0, p)
    scale = np.sqrt(np.abs(safe_p) / 3.0)
    shape = q / (2.0 * scale**3)
    with np.errstate(invalid="ignore"):
        rising = 2.0 * scale * np.sinh(np.arcsinh(shape) / 3.0)
        falling = np.where(
            shape <= 1.0,
            2.0 * scale * np.cos(np.arccos(np.minimum(shape, 1.0)) / 3.0),
            2.0 * scale * np.cosh(np.arccosh(np.maximum(shape, 1.0)) / 3.0),
        )
    root = np.where(p > 0.0, rising, falling)
    root = np.where(flat, np.cbrt(q), root)
    return np.arctan(np.where(m < 0.0, -root, root))


def moment_to_hold(heel_rad: ArrayLike, displacement_t: ArrayLike, gm_m: ArrayLike) -> Floats:
    """Heeling moment that gives a heel, the inverse of `heel_from_moment` [N m]."""
    return righting_stiffness_n_m(displacement_t, gm_m) * np.tan(np.asarray(heel_rad, float))


def heel_from_weight_shift(
    mass_t: ArrayLike, distance_m: ArrayLike, displacement_t: ArrayLike, gm_m: ArrayLike
) -> Floats:
    """Heel after a weight on board is moved athwartships, + to starboard [rad].

    ``distance_m`` is + to starboard; the displacement includes the weight. tan(heel) =
    mass x distance / (displacement x GM); NaN where GM is not positive.
    """
    moment = tonnes_to_kg(np.asarray(mass_t, float)) * G_M_S2 * np.asarray(distance_m, float)
    return heel_from_moment(moment, displacement_t, gm_m)


def transfer_mass_t(
    heel_rad: ArrayLike, distance_m: ArrayLike, displacement_t: ArrayLike, gm_m: ArrayLike
) -> Floats:
    """Mass to move athwartships to cause a heel, or to remove one of opposite sign [t].

    w = displacement x GM x tan(heel) / distance, with heel and distance + to starboard; NaN
    where the distance is zero.
    """
    distance = np.asarray(distance_m, float)
    distance = np.where(distance == 0.0, np.nan, distance)
    tangent = np.tan(np.asarray(heel_rad, float))
    return np.asarray(displacement_t, float) * np.asarray(gm_m, float) * tangent / distance


def is_slack(
    content_m3: ArrayLike, capacity_m3: ArrayLike, margin: float = 0.02
) -> NDArray[np.bool_]:
    """Whether a tank has a free surface: neither (nearly) empty nor pressed up.

    A tank within ``margin`` of empty or full, as a share of its capacity, counts as empty or
    full; 2 % is common practice (the 2008 IS Code, Part B 3.1, takes 98 % as full). NaN is
    not slack.

    Volumes in [m3], broadcasting; ``margin`` is dimensionless.
    """
    fill = np.asarray(content_m3, float) / np.asarray(capacity_m3, float)
    return np.asarray((fill > margin) & (fill < 1.0 - margin))


def is_slack_through(
    start_m3: ArrayLike, end_m3: ArrayLike, capacity_m3: ArrayLike, margin: float = 0.02
) -> NDArray[np.bool_]:
    """Whether a tank that is drawn down has a free surface at any time.

    It has none only if it is pressed up to the end or (nearly) empty from the start;
    ``margin`` as in `is_slack`. Volumes in [m3], broadcasting.
    """
    capacity = np.asarray(capacity_m3, float)
    pressed = np.asarray(end_m3, float) >= (1.0 - margin) * capacity - 1e-9
    empty = np.asarray(start_m3, float) <= margin * capacity + 1e-9
    return np.asarray(~(pressed | empty))


def longitudinal_inertia_m4(
    length_m: ArrayLike, beam_m: ArrayLike, waterplane_coefficient: ArrayLike
) -> Floats:
    """Longitudinal second moment of a waterplane about midship, from its coefficient [m4].

    Lengths in [m], the coefficient dimensionless; they broadcast.

    Notes
    -----
    For a waterplane of half breadth ``B/2 (1 - |2x/L|^n)``, whose coefficient is
    ``n / (n + 1)``, the integral of ``2 y x^2`` is ``L^3 B (1/12 - 1/(4 (n + 3)))``;
    a rectangle gives ``L^3 B / 12``. The shape is an assumption.
    """
    fullness = np.asarray(waterplane_coefficient, float)
    with np.errstate(divide="ignore"):
        n = fullness / (1.0 - fullness)
    part = 1.0 / 12.0 - 0.25 / (n + 3.0)
    return np.asarray(np.asarray(length_m, float) ** 3 * np.asarray(beam_m, float) * part)


def trim_m_per_t_m(
    *,
    length_m: float,
    beam_m: float,
    draught_m: float,
    displacement_t: float,
    block_coefficient: float,
    waterplane_coefficient: float,
    kg_m: float,
) -> float:
    """Trim between the ends of the waterline per tonne moved one metre [m per t m].

    ``trim = w d L / (displacement GM_L)``, GM_L from the waterplane's inertia, the
    volume ``L B T C_B``, and KB by Morrish's ``T (5/6 - C_B / (3 C_WP))`` (from memory).
    """
    volume = length_m * beam_m * draught_m * block_coefficient
    inertia = float(longitudinal_inertia_m4(length_m, beam_m, waterplane_coefficient))
    kb = draught_m * (5.0 / 6.0 - block_coefficient / (3.0 * waterplane_coefficient))
    gm = inertia / volume + kb - kg_m
    return length_m / (displacement_t * gm)


def sinkage_m_per_t(length_m: float, beam_m: float, waterplane_coefficient: float) -> float:
    """Increase of mean draught per tonne loaded at midship, 1000 / (rho L B C_WP) [m/t]."""
    return 1000.0 / (RHO_SEA_KG_M3 * length_m * beam_m * waterplane_coefficient)


def free_surface_correction_m(
    length_m: ArrayLike,
    breadth_m: ArrayLike,
    density_t_m3: ArrayLike,
    displacement_t: ArrayLike,
    slack: ArrayLike = True,
) -> Floats:
    """Loss of GM from the free surface of a rectangular tank.

    Parameters
    ----------
    length_m, breadth_m
        Longitudinal and transverse size of the surface [m].
    density_t_m3
        Density of the liquid [t/m3].
    displacement_t
        Displacement of the ship [t].
    slack
        Whether the tank has a free surface.

    Returns
    -------
    ndarray
        density x l b^3 / 12 / displacement [m], >= 0; 0 where the tank is not slack.
    """
    inertia = np.asarray(length_m, float) * np.asarray(breadth_m, float) ** 3 / 12.0
    loss = np.asarray(density_t_m3, float) * inertia / np.asarray(displacement_t, float)
    return np.where(np.asarray(slack, bool), loss, 0.0 * loss)


def fluid_gm_m(
    solid_gm_m: ArrayLike,
    length_m: ArrayLike,
    breadth_m: ArrayLike,
    density_t_m3: ArrayLike,
    displacement_t: ArrayLike,
    slack: ArrayLike,
) -> Floats:
    """Fluid GM: solid GM less the free-surface corrections of all tanks [m].

    ``solid_gm_m`` and ``displacement_t`` have one shape; the tank arrays broadcast to it with
    a last axis of tanks.
    """
    displacement = np.asarray(displacement_t, float)[..., np.newaxis]
    loss = free_surface_correction_m(length_m, breadth_m, density_t_m3, displacement, slack)
    return np.asarray(solid_gm_m, float) - loss.sum(axis=-1)


def wind_heeling_lever_m(
    lateral_area_m2: ArrayLike,
    arm_m: ArrayLike,
    displacement_t: ArrayLike,
    pressure_pa: ArrayLike = WEATHER_CRITERION_PA,
) -> Floats:
    """Steady wind heeling lever lw1 of the weather criterion.

    Parameters
    ----------
    lateral_area_m2
        Projected lateral area above the waterline [m2].
    arm_m
        Height of its centroid above the centre of the underwater lateral area, or above
        about half the draught [m].
    displacement_t
        Displacement [t].
    pressure_pa
        Wind pressure; 504 Pa in the Code, a wind of about 26 m/s. Pressure goes with the
        square of wind speed. [Pa]

    Returns
    -------
    ndarray
        Lever [m]; the gust lever is 1.5 times as large.

    References
    ----------
    2008 IS Code (MSC.267(85)), Part A, 2.3.2.
    """
    force = np.asarray(pressure_pa, float) * np.asarray(lateral_area_m2, float)
    weight = tonnes_to_kg(np.asarray(displacement_t, float)) * G_M_S2
    return np.asarray(force * np.asarray(arm_m, float) / weight)


def roll_period_coefficient(
    length_waterline_m: ArrayLike, beam_m: ArrayLike, draught_m: ArrayLike
) -> Floats:
    """Coefficient C = 0.373 + 0.023 B/d - 0.043 L/100 of the 2008 IS Code, Part A, 2.3.

    Lengths in [m], broadcasting. C is for T = 2 C B / sqrt(GM) with T in s, B and GM in m.
    """
    beam = np.asarray(beam_m, float)
    slender = np.asarray(length_waterline_m, float) / 100.0
    return np.asarray(0.373 + 0.023 * beam / np.asarray(draught_m, float) - 0.043 * slender)


def roll_period_is_code_s(
    length_waterline_m: ArrayLike, beam_m: ArrayLike, draught_m: ArrayLike, gm_m: ArrayLike
) -> Floats:
    """Natural roll period by the 2008 IS Code, T = 2 C B / sqrt(GM) [s].

    Lengths and GM in [m]; NaN where GM is not positive. A fit to merchant ships: a measured
    period is better.
    """
    gm = np.asarray(gm_m, float)
    gm = np.where(gm > 0.0, gm, np.nan)
    coefficient = roll_period_coefficient(length_waterline_m, beam_m, draught_m)
    return np.asarray(2.0 * coefficient * np.asarray(beam_m, float) / np.sqrt(gm))


def gm_from_roll_period_m(
    length_waterline_m: ArrayLike, beam_m: ArrayLike, draught_m: ArrayLike, period_s: ArrayLike
) -> Floats:
    """GM from a measured roll period by the 2008 IS Code, GM = (2 C B / T)^2 [m].

    The inverse of `roll_period_is_code_s`; lengths in [m], period in [s]. NaN where the
    period is not positive. A yacht's radius of gyration may differ by a tenth from the
    Code's, and GM goes with its square: good enough for a first plan, not for a decision
    about stability.
    """
    period = np.asarray(period_s, float)
    period = np.where(period > 0.0, period, np.nan)
    coefficient = roll_period_coefficient(length_waterline_m, beam_m, draught_m)
    return np.asarray((2.0 * coefficient * np.asarray(beam_m, float) / period) ** 2)


def roll_period_from_gyradius_s(gyradius_m: ArrayLike, gm_m: ArrayLike) -> Floats:
    """Natural roll period 2 pi k / sqrt(g GM) [s].

    k is the radius of gyration including added inertia [m]; NaN where GM is not positive.
    """
    gm = np.asarray(gm_m, float)
    gm = np.where(gm > 0.0, gm, np.nan)
    return np.asarray(2.0 * math.pi * np.asarray(gyradius_m, float) / np.sqrt(G_M_S2 * gm))


def roll_inertia_kg_m2(
    displacement_t: ArrayLike, gm_m: ArrayLike, natural_period_s: ArrayLike
) -> Floats:
    """Roll inertia, added inertia included, from a natural period: stiffness / w0^2 [kg m2].

    Displacement [t], GM [m] and undamped natural period [s] broadcast.
    """
    omega = 2.0 * math.pi / np.asarray(natural_period_s, float)
    return np.asarray(righting_stiffness_n_m(displacement_t, gm_m) / omega**2)
