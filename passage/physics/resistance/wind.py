"""Wind on the ship: apparent wind, wind resistance and steady heeling moment.

The speed-fuel points already include the drag of still air at her own speed, so the cost of
wind is the *difference* from it. Coefficients come from a named family: Blendermann's classes
of four numbers, or Fujiwara's regression on the main dimensions.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.units import RHO_AIR_KG_M3

Array = npt.NDArray[np.float64]

#: Exponent of the wind profile above the sea (common practice, ISO 15016).
PROFILE_EXPONENT = 1.0 / 7.0
#: Height of forecast winds [m].
REFERENCE_HEIGHT_M = 10.0


@dataclass(frozen=True)
class ApparentWind:
    """Apparent wind: speed [m/s] and angle off the bow it comes *from* [rad].

    ``angle_rad`` is 0 dead ahead and positive to starboard, in [-pi, pi). NaN without wind
    data.
    """

    speed_m_s: Array
    angle_rad: Array


@dataclass(frozen=True, kw_only=True)
class BlendermannClass:
    """Coefficients of one class of ship, dimensionless.

    ``transverse`` is drag from abeam on the lateral area, ``ahead`` and ``astern`` drag on the
    frontal area, ``cross`` the cross-force parameter.
    """

    transverse: float
    ahead: float
    astern: float
    cross: float


#: Classes after Blendermann (1994), J. Wind Eng. Ind. Aerodyn. 51; values from memory, equal to
#: those of an open marine-systems toolbox. No class for motor yachts is known.
BLENDERMANN_CLASSES: dict[str, BlendermannClass] = {
    "passenger": BlendermannClass(transverse=0.90, ahead=0.40, astern=0.40, cross=0.80),
    "ferry": BlendermannClass(transverse=0.90, ahead=0.45, astern=0.50, cross=0.80),
    "research": BlendermannClass(transverse=0.85, ahead=0.55, astern=0.65, cross=0.60),
    "speed boat": BlendermannClass(transverse=0.90, ahead=0.55, astern=0.60, cross=0.60),
}
#: Class of a motor yacht where the user names none: an assumption.
DEFAULT_CLASS = "speed boat"
#: Name of the regression on main dimensions, beside the classes.
REGRESSION = "fujiwara"


def wind_at_height(wind_10m_m_s: npt.ArrayLike, height_m: npt.ArrayLike) -> Array:
    """Wind speed, or a component of it, at a height from that at 10 m: times ``(z/10)^(1/7)``.

    Speeds in [m/s], height above the sea in [m], broadcasting. Neutral air over open sea; the
    exponent is common practice.
    """
    ratio = np.asarray(height_m, dtype=float) / REFERENCE_HEIGHT_M
    return np.asarray(wind_10m_m_s, dtype=float) * ratio**PROFILE_EXPONENT


def apparent_wind(
    wind_u_m_s: npt.ArrayLike,
    wind_v_m_s: npt.ArrayLike,
    course_rad: npt.ArrayLike,
    speed_over_ground_m_s: npt.ArrayLike,
    heading_rad: npt.ArrayLike,
    height_m: npt.ArrayLike = REFERENCE_HEIGHT_M,
) -> ApparentWind:
    """Apparent wind at a height.

    Parameters
    ----------
    wind_u_m_s, wind_v_m_s : array_like
        Wind at 10 m over the ground, blowing *towards* east and north. [m/s]
    course_rad, speed_over_ground_m_s : array_like
        True course and speed over the ground. [rad], [m/s]
    heading_rad : array_like
        True heading, which differs from the course in a current. [rad]
    height_m : array_like
        Height above the sea, > 0. [m]

    Returns
    -------
    ApparentWind
        NaN where the wind is NaN.
    """
    u, v = wind_at_height(wind_u_m_s, height_m), wind_at_height(wind_v_m_s, height_m)
    course = np.asarray(course_rad, dtype=float)
    sog = np.asarray(speed_over_ground_m_s, dtype=float)
    past_east = u - sog * np.sin(course)
    past_north = v - sog * np.cos(course)
    heading = np.asarray(heading_rad, dtype=float)
    sine, cosine = np.sin(heading), np.cos(heading)
    ahead = past_north * cosine + past_east * sine
    across = past_east * cosine - past_north * sine
    angle = np.asarray(np.arctan2(-across, -ahead))
    return ApparentWind(np.hypot(ahead, across), np.where(angle == np.pi, -np.pi, angle))


def blendermann(
    angle_rad: npt.ArrayLike,
    frontal_area_m2: float,
    lateral_area_m2: float,
    ship_class: str = DEFAULT_CLASS,
) -> tuple[Array, Array]:
    """Longitudinal and transverse wind force coefficients after Blendermann (1994).

    Parameters
    ----------
    angle_rad : array_like
        Apparent wind angle off the bow, positive to starboard. [rad]
    frontal_area_m2, lateral_area_m2 : float
        Projected areas above water. [m2]
    ship_class : str
        One of :data:`BLENDERMANN_CLASSES`.

    Returns
    -------
    resistance, side : ndarray
        Coefficient on the frontal area, positive against the motion; coefficient on
        the lateral area, positive towards starboard (wind from port). Dimensionless.

    Raises
    ------
    ValueError
        Unknown class.
    """
    if ship_class not in BLENDERMANN_CLASSES:
        raise ValueError(
            f"wind class {ship_class!r} is not one of {', '.join(BLENDERMANN_CLASSES)}"
        )
    row = BLENDERMANN_CLASSES[ship_class]
    angle = np.asarray(angle_rad, dtype=float)
    cosine = np.cos(angle)
    on_front = np.where(cosine >= 0.0, row.ahead, row.astern)
    on_side = on_front * frontal_area_m2 / lateral_area_m2
    shape = 1.0 - 0.5 * row.cross * (1.0 - on_side / row.transverse) * (np.sin(2.0 * angle) ** 2)
    return on_front * cosine / shape, -row.transverse * np.sin(angle) / shape


@dataclass(frozen=True, kw_only=True)
class FujiwaraShape:
    """Dimensions above water for Fujiwara's regression. [m], [m2]

    ``superstructure_area_m2`` is the lateral area above deck; ``centroid_offset_m`` is the
    centroid of the lateral area from midship, + forward.
    """

    length_overall_m: float
    beam_m: float
    lateral_area_m2: float
    frontal_area_m2: float
    superstructure_area_m2: float
    centroid_offset_m: float
    bridge_height_m: float
    centroid_height_m: float


def fujiwara(angle_rad: npt.ArrayLike, ship: FujiwaraShape) -> Array:
    """Resistance coefficient on the frontal area by Fujiwara's regression.

    Positive against the motion, dimensionless. ``angle_rad`` is off the bow, either side
    [rad], any shape; NaN in gives NaN out. Between 80 and 100 degrees the coefficient is
    interpolated. The fit is for merchant ships; its lift-like terms vary with the class.

    References
    ----------
    Fujiwara, Ueno & Ikeda (2006); ITTC 7.5-04-01-01.1, ISO 15016. Coefficients read
    from public restatements, the formula from memory.
    """
    length, beam = ship.length_overall_m, ship.beam_m
    lateral, frontal = ship.lateral_area_m2, ship.frontal_area_m2
    deck, bridge = ship.superstructure_area_m2, ship.bridge_height_m
    fore = (
        0.922 - 0.507 * lateral / (length * beam) - 1.162 * ship.centroid_offset_m / length,
        -0.458 - 3.245 * lateral / (length * bridge) + 2.313 * frontal / (beam * bridge),
        0.585 + 0.906 * deck / lateral - 3.239 * beam / length,
    )
    aft = (
        -0.018
        + 5.091 * beam / length
        - 10.367 * ship.centroid_height_m / length
        + 3.011 * deck / length**2
        + 0.341 * frontal / beam**2,
        1.901
        - 12.727 * lateral / (length * bridge)
        - 24.407 * frontal / lateral
        + 40.310 * beam / length
        + 5.481 * frontal / (beam * bridge),
        0.314 + 1.117 * deck / lateral,
    )

    def part(angle: Array, coefficients: tuple[float, float, float]) -> Array:
        linear, cross, lift = coefficients
        sine, cosine = np.sin(angle), np.cos(angle)
        return (
            linear * cosine
            + cross * (sine - 0.5 * sine * cosine**2) * sine * cosine
            + lift * sine * cosine**3
        )

    angle = np.asarray(angle_rad, dtype=float)
    off_bow = np.abs((angle + np.pi) % (2.0 * np.pi) - np.pi)
    low, high = np.deg2rad(80.0), np.deg2rad(100.0)
    share = np.clip((off_bow - low) / (high - low), 0.0, 1.0)
    ahead = part(np.minimum(off_bow, low), fore)
    astern = part(np.maximum(off_bow, high), aft)
    return (1.0 - share) * ahead + share * astern


def wind_resistance(
    wind: ApparentWind,
    speed_through_water_m_s: npt.ArrayLike,
    coefficient: npt.ArrayLike,
    head_coefficient: float,
    frontal_area_m2: float,
) -> Array:
    """Wind resistance less that of still air, which the speed-fuel points include.

    Parameters
    ----------
    wind : ApparentWind
        Apparent wind.
    speed_through_water_m_s : array_like
        Speed for still-water fuel, and of still air past the ship from dead ahead. [m/s]
    coefficient, head_coefficient : array_like, float
        Resistance coefficients at the apparent wind angle and dead ahead. Dimensionless.
    frontal_area_m2 : float
        Frontal area above water. [m2]

    Returns
    -------
    ndarray
        Resistance; negative where the wind helps. [N]

    References
    ----------
    ISO 15016, ``R = rho/2 A [C(psi) V^2 - C(0) Vg^2]``. Vg is the speed over ground there and
    the speed through the water here; without current they are equal.
    """
    stw = np.asarray(speed_through_water_m_s, dtype=float)
    pressure_area = 0.5 * RHO_AIR_KG_M3 * frontal_area_m2
    felt = np.asarray(coefficient, dtype=float) * wind.speed_m_s**2
    return pressure_area * (felt - head_coefficient * stw**2)


def wind_heeling_moment(
    wind: ApparentWind,
    side_coefficient: npt.ArrayLike,
    lateral_area_m2: float,
    lever_m: npt.ArrayLike,
) -> Array:
    """Steady heeling moment of the wind, positive to starboard (wind from port). [N m]

    ``rho/2 A_L C_side V^2 lever``. ``side_coefficient`` is positive towards starboard, as that
    of :func:`blendermann`; ``lever_m`` is the height of the centroid of the lateral area above
    half the draught, where the hull's side force acts (2008 IS Code, part A 2.3).
    """
    side = np.asarray(side_coefficient, dtype=float)
    force = 0.5 * RHO_AIR_KG_M3 * lateral_area_m2 * side * wind.speed_m_s**2
    return force * np.asarray(lever_m, dtype=float)
