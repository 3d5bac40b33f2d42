"""Wind and wave forces at the points of a march."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.physics.fins import use
from passage.physics.fuel.account import WAVE_SHARE
from passage.physics.resistance.waves import no_credit
from passage.physics.resistance.waves_simple import heading_factor, kreitner, stawave1
from passage.physics.resistance.wind import (
    DEFAULT_CLASS,
    REGRESSION,
    FujiwaraShape,
    apparent_wind,
    blendermann,
    fujiwara,
    wind_heeling_moment,
    wind_resistance,
)

if TYPE_CHECKING:
    from passage.inputs.forecast import Conditions
    from passage.inputs.vessel import Vessel, Windage
    from passage.planning.voyage.march import March
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]


#: Peak enhancement of a wind sea or total sea, and of a swell, at the two ends of the band: the
#: ends of the rule by steepness, and the tabulated levels next to that of swell.
PEAK_ENDS = ((1.0, 3.3), (3.3, 7.0))


@dataclass(frozen=True)
class WindForces:
    """Wind resistance less that of still air [N], and steady heel by wind [rad].

    Both are zero where the wind is not known or the vessel file has no windage; ``known`` is
    False there.
    """

    force_n: Array
    heel_rad: Array
    known: npt.NDArray[np.bool_]


def wind_coefficients(
    vessel: Vessel, windage: Windage, angle_rad: npt.ArrayLike
) -> tuple[Array, float, Array]:
    """Resistance coefficients at an apparent wind angle [rad] and dead ahead, and side coefficient.

    They come from the family named in the vessel file. The regression gives only resistance;
    the side force, which heels her, is then that of the default class. Dimensionless.
    """
    areas = (windage.frontal_area_m2, windage.lateral_area_m2)
    if windage.family == REGRESSION:
        shape = FujiwaraShape(
            length_overall_m=vessel.particulars.length_overall_m,
            beam_m=vessel.particulars.beam_waterline_m,
            lateral_area_m2=windage.lateral_area_m2,
            frontal_area_m2=windage.frontal_area_m2,
            superstructure_area_m2=windage.superstructure_area_m2 or 0.0,
            centroid_offset_m=windage.lateral_centroid_forward_m or 0.0,
            bridge_height_m=windage.bridge_height_m or windage.air_draught_m or np.nan,
            centroid_height_m=windage.lateral_centroid_above_waterline_m,
        )
        _, across = blendermann(angle_rad, *areas, DEFAULT_CLASS)
        return fujiwara(angle_rad, shape), float(fujiwara(0.0, shape)), across
    along, across = blendermann(angle_rad, *areas, windage.family)
    ahead, _ = blendermann(0.0, *areas, windage.family)
    return along, float(ahead), across


def _or_zero(values: Array) -> Array:
    return np.where(np.isnan(values), 0.0, values)


def wind_forces(yacht: Yacht, march: March, doubt: Array | float = 1.0) -> WindForces:
    """Wind resistance and heel at every point; NaN where her speed is not known.

    ``doubt`` is a factor on both.
    """
    sky, stw = march.conditions, march.speed_through_water_m_s
    windage = yacht.vessel.windage
    known = ~np.isnan(sky.wind_u_m_s) & (windage is not None)
    if windage is None:
        zero = np.where(np.isnan(stw), np.nan, 0.0)
        return WindForces(zero, zero, known)
    moving = stw > 0.0
    course = np.where(moving, _or_zero(march.course_rad), march.heading_rad)
    wind = apparent_wind(
        sky.wind_u_m_s,
        sky.wind_v_m_s,
        course,
        np.where(moving, march.speed_over_ground_m_s, 0.0),
        march.heading_rad,
        windage.lateral_centroid_above_waterline_m,
    )
    along, ahead, across = wind_coefficients(yacht.vessel, windage, wind.angle_rad)
    force = wind_resistance(wind, stw, along, ahead, windage.frontal_area_m2)
    lever = windage.lateral_centroid_above_waterline_m + 0.5 * yacht.vessel.particulars.draught_m
    moment = wind_heeling_moment(wind, across, windage.lateral_area_m2, lever)
    heel = np.arctan(moment / yacht.righting_n_m_per_rad)
    # At anchor the chain takes the wind's force; only the heel remains.
    force = np.where(moving, force, 0.0)
    missing = ~known & ~np.isnan(stw)
    force, heel = (np.where(missing, 0.0, each) * doubt for each in (force, heel))
    return WindForces(force, heel, known)


def peak_ends(sky: Conditions) -> tuple[Array, ...]:
    """Peak enhancement of the least and the most peaked spectra; none for full spectra."""
    if sky.spectrum is not None:
        return ()
    swell = np.array([name.startswith("swell") for name in sky.system_names])
    gamma = np.zeros_like(sky.height_m)
    return tuple(gamma + np.where(swell, of_swell, rule) for rule, of_swell in PEAK_ENDS)


def wave_forces(
    yacht: Yacht,
    march: March,
    mu: Array,
    variants: Array,
    method: str,
    doubt: Array | float = 0.0,
) -> tuple[Array, list[Array]]:
    """Added resistance by the named method, and by the other methods of its band. [N]

    ``variants`` are the variants of the all-heading formula, on the last axis. For that formula
    the band has the other variants; for a simple formula it has the all-heading one. There is no
    force at rest. ``doubt``, a standard normal number, changes the first as in
    :func:`doubted_waves`.
    """
    first, *others = (no_credit(part) for part in np.moveaxis(variants, -1, 0))
    moving = march.speed_through_water_m_s > 0.0
    if method != "all-heading":
        hull = yacht.vessel.particulars
        height = march.conditions.height_m
        if method == "stawave-1":
            each = stawave1(height, hull.beam_waterline_m, hull.entrance_length_m)
        else:
            each = kreitner(
                height,
                hull.beam_waterline_m,
                hull.length_waterline_m,
                hull.block_coefficient,
            )
        total = np.nansum(each * heading_factor(mu), axis=-1)
        others = [first]
        first = np.where(np.isnan(variants[..., 0]), np.nan, total)
    unknown = np.isnan(march.speed_through_water_m_s)

    def at_speed(force: Array) -> Array:
        return np.where(moving | unknown, force, np.where(np.isnan(force), np.nan, 0.0))

    if np.any(np.asarray(doubt)):
        first = doubted_waves(first, others, doubt)
    return at_speed(first), [at_speed(other) for other in others]


#: Standard deviations from the middle to the ends of a band, which count as 5 and 95 %.
BAND_SIGMAS = 1.645


def doubted_waves(waves: Array, others: list[Array], normal: npt.ArrayLike) -> Array:
    """Wave force with an error drawn as a standard normal number. [N]

    The band is that of the fuel: the largest difference of the other variants, but at least
    ``WAVE_SHARE``. The error is a factor, so that no draw makes the force negative.
    """
    away = WAVE_SHARE * waves
    for other in others:
        away = np.maximum(away, np.abs(other - waves))
    share = np.divide(away, waves, out=np.zeros_like(waves), where=waves > 0.0)
    return np.asarray(waves * np.exp(np.log1p(share) * np.asarray(normal) / BAND_SIGMAS))


def house_load(
    yacht: Yacht, codes: npt.NDArray[np.int8], working: npt.NDArray[np.bool_]
) -> dict[str, Any]:
    """Power of the fins' hydraulics and fuel of the generators, as arguments of ``fuel_split``.

    ``codes`` are those of ``physics.fins.use``, shape P; ``working`` is where the fins work.
    There all of their power counts as the cost of working; centred they take a little power,
    which counts for the house.
    """
    hotel = yacht.vessel.hotel
    at_rest = working & (codes == use.AT_REST)
    fins_kw = np.where(at_rest, hotel.fins_kw_at_rest, np.where(working, hotel.fins_kw_active, 0.0))
    idle_kw = np.where(working | (codes == use.NONE), 0.0, hotel.fins_kw_centred)
    specific = hotel.generator_specific_fuel_g_per_kwh
    litres_per_kwh = specific / 1000.0 / yacht.vessel.propulsion.fuel_density_t_m3
    return {
        "fins_kw": fins_kw,
        "generator_l_per_h": hotel.generator_l_per_h + idle_kw * litres_per_kwh,
        "generator_specific_fuel_g_per_kwh": specific,
    }
