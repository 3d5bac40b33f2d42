"""Every quantity at every point: encountered sea, roll, comfort, forces and fuel.

``P`` is the shape of the march, usually departures, speeds or members before the points along
the track. Computation is in SI and radians; results have the names and units of
``variables.py``.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.physics.fins import use
from passage.physics.fuel.account import (
    FuelSplit,
    current_alternatives,
    fuel_band,
    fuel_split,
    standard_alternatives,
)
from passage.physics.motions.places import mean_encounter_period_s
from passage.physics.motions.slamming import (
    deck_wetness_probability,
    events_per_hour,
    slam_probability,
    slam_probability_limit,
    slam_threshold_velocity_m_s,
    slamming_judged,
)
from passage.physics.resistance.current import set_and_drift
from passage.physics.roll.limit_fit import roll_spread
from passage.physics.roll.response import RollResponse
from passage.physics.waves.dispersion import encounter_angle
from passage.planning.voyage.comfort import comfort_at_points
from passage.planning.voyage.forces import (
    house_load,
    peak_ends,
    wave_forces,
    wind_forces,
)
from passage.planning.voyage.limits import OVER_DEG
from passage.planning.voyage.rolling import (
    Choices,
    RollPoints,
    fin_offset,
    held_as_asked,
    holds_to_a_heel,
    response_fin_forces,
    rested,
    roll_band,
    roll_with_fins,
)
from passage.planning.voyage.seas import peaked_sea, responses
from passage.planning.voyage.yacht import Yacht
from passage.units import HOUR_S, deg_to_rad, m_s_to_knots, rad_to_deg, wrap_360

if TYPE_CHECKING:
    from passage.inputs.route import Track
    from passage.planning.voyage.march import March

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Evaluation:
    """Point values in the units of ``variables.py``, and SI values for the next steps.

    ``values`` maps names of ``variables.py`` (and a few more) to arrays ``P``;
    ``peaked_seas`` are roll excitation and ``sea`` at both ends of the band of peak
    enhancement.
    """

    values: dict[str, Array]
    fin_use: npt.NDArray[np.int8]
    split: FuelSplit
    centred: RollResponse
    active: RollResponse
    excitation: Array
    sea: Array
    mu_rad: Array
    static_heel_rad: Array
    wind_known: npt.NDArray[np.bool_]
    numbers: dict[str, npt.NDArray[Any]] = field(default_factory=dict)
    peaked_seas: tuple[tuple[Array, Array], ...] = ()


def evaluate(
    yacht: Yacht,
    march: March,
    choices: Choices,
    *,
    same_sea: Evaluation | None = None,
    fuel_only: bool = False,
    band_follows: bool = False,
) -> Evaluation:
    """All outputs at the points of a march.

    ``same_sea`` is an evaluation of the same march with other choices, from which everything
    that depends only on the sea is taken. ``fuel_only`` leaves out comfort and computes roll
    only with the fins as chosen (as both ``centred`` and ``active``), for a first round whose
    fuel is an input of the second. With ``band_follows`` the second round has a band, and its
    tables are computed together with those of this one.
    """
    sky = march.conditions
    stw, sog = march.speed_through_water_m_s, march.speed_over_ground_m_s
    mu, side = encounter_angle(sky.from_rad, march.heading_rad[..., None])
    doubt = choices.doubt
    if same_sea is None:
        ends = peak_ends(march.conditions) if choices.band or band_follows else ()
        excitation, sea = responses(yacht, march, mu, ends)
        excitation = excitation * np.asarray(doubt.slope)[..., None]
    else:
        excitation, sea = same_sea.excitation, same_sea.sea
    wind = wind_forces(yacht, march, doubt.wind)

    # The observed list is the same at any GM, so its moment goes with the GM.
    seen = deg_to_rad(yacht.vessel.loading.list_deg)
    listed = np.asarray(choices.list_rad, dtype=float) + (np.asarray(doubt.gm) - 1.0) * seen
    static = listed + wind.heel_rad
    static = np.where(np.isnan(stw), np.nan, np.broadcast_to(static, stw.shape))
    motions = yacht.motions
    bow_m0 = sea[..., motions.channels("relative_motion")[0]]
    bow_m2 = sea[..., motions.channels("relative_velocity")[0]]
    hull = yacht.vessel.particulars
    slam = slam_probability(
        hull.bow_draught_m, bow_m0, bow_m2, slam_threshold_velocity_m_s(hull.length_waterline_m)
    )
    judged = slamming_judged(
        sea[..., motions.channel("bow_m0")], sea[..., motions.channel("encounter_m0")]
    )
    codes = use.fin_use(
        stw,
        np.where(judged | np.isnan(slam), slam, 0.0),
        slam_limit=slam_probability_limit(hull.length_waterline_m),
        fitted=yacht.has_fins and choices.fins != "absent",
        at_rest_fitted=yacht.has_rest_mode,
    )
    offset, asked = fin_offset(yacht, stw, static, codes, choices)
    points = RollPoints(
        stw, excitation, static, offset, codes, doubt.gm, doubt.damping,
        choices.stiffness_ratio, choices.gm_ratio,
    )  # fmt: skip
    if choices.rest_fins:
        codes = rested(yacht, points, asked, choices)
        points = replace(points, fin_use=codes)
    if fuel_only:
        centred = active = points.solved(yacht, points.fins(yacht, choices.fins))
    else:
        centred, active = roll_with_fins(yacht, points, choices)
    if yacht.has_fins and choices.fins == "active" and holds_to_a_heel(choices):
        points, active = held_as_asked(yacht, points, active, asked)
        offset = points.offset_rad
        centred = active if fuel_only else centred

    working = use.fins_work(codes) & (choices.fins == "active")
    chosen = active if choices.fins == "active" else centred
    # Moments are given as angles at the GM of the file; the heel is at the present GM.
    stiffer = np.asarray(choices.stiffness_ratio, dtype=float)
    heel = chosen.mean_heel_rad / stiffer
    drag_active, drag_offset = response_fin_forces(yacht, stw, chosen, choices)
    variants = sea[..., yacht.resistance_channel :]
    waves, waves_others = wave_forces(yacht, march, mu, variants, choices.wave_method, doubt.waves)

    house = house_load(yacht, codes, working)
    ratio = (
        yacht.displacement_ratio
        if choices.displacement_ratio is None
        else choices.displacement_ratio
    )
    common: dict[str, Any] = {
        "speed_m_s": stw,
        "curve": yacht.curve,
        "engine": yacht.engine,
        "wind_force_n": wind.force_n,
        "fin_active_force_n": drag_active,
        "fin_offset_force_n": drag_offset,
        "heel_rad": heel,
        "displacement_ratio": ratio,
        **house,
    }
    split = fuel_split(wave_force_n=waves, **common)

    hours = march.hours
    values: dict[str, Array] = {}
    seas: tuple[tuple[Array, Array], ...] = same_sea.peaked_seas if same_sea else ()
    _put_sea(values, yacht, march, mu, sea, motions)
    own = yacht.natural_period_s / np.sqrt(np.asarray(choices.gm_ratio, dtype=float))
    values["natural_roll_period_s"] = np.broadcast_to(own, stw.shape).copy()
    _put_roll(values, centred, active, chosen, static, offset, asked, working, stiffer)
    if not fuel_only:
        values |= comfort_at_points(yacht, chosen, sea, excitation, hours, choices.gm_ratio)
    values["fin_drag_active_n"] = drag_active
    values["fin_drag_offset_n"] = drag_offset
    values["slamming_per_hour"] = events_per_hour(slam, bow_m0, bow_m2)
    values["slamming_percent"] = 100.0 * slam
    bow = motions.channels("relative_motion")[1]
    wet = deck_wetness_probability(hull.freeboard_bow_m or np.nan, sea[..., bow])
    values["deck_wetness_percent"] = 100.0 * wet
    _put_fuel(values, split, hours)
    if choices.band:
        parts = [fuel_split(wave_force_n=other, **common).waves for other in waves_others]
        bands: dict[str, Any] = standard_alternatives(
            split, displacement_ratio=ratio, heel_rad=heel, waves_others_l_per_h=parts
        )
        bands["current"] = current_alternatives(
            split.total,
            sog,
            np.hypot(march.conditions.current_u_m_s, march.conditions.current_v_m_s),
        )
        others = roll_band(yacht, points, choices)
        seas = seas or tuple(
            peaked_sea(yacht, march, mu, gamma) for gamma in peak_ends(march.conditions)
        )
        peaked = [_peaked(yacht, march, mu, other, points, choices, common) for other in seas]
        if peaked:
            bands["peak enhancement"] = tuple(total for total, _ in peaked)
        bands["metacentric height"] = tuple(
            _with_fin_forces(common, waves, response_fin_forces(yacht, stw, roll, choices))
            for roll in others
        )
        low, high = fuel_band(split.total, bands)
        values["fuel_low_l"], values["fuel_high_l"] = low * hours, high * hours
        rolls = [roll.roll_rms_rad for roll in (*others, *(r for _, r in peaked), chosen)]
        spread = np.nan_to_num(roll_spread(chosen.share_at_limit, chosen.share_beyond_stall))
        low, high = np.minimum.reduce(rolls), np.maximum.reduce(rolls)
        values["roll_active_low_rms_deg"] = rad_to_deg(low * (1.0 - spread))
        values["roll_active_high_rms_deg"] = rad_to_deg(high * (1.0 + spread))
    values["hours"] = hours
    values["heel_over_limit_h"] = _over_limit_h(yacht, stw, values["steady_heel_deg"], hours)
    values["speed_over_ground_kn"] = m_s_to_knots(sog)
    return Evaluation(
        values=values,
        fin_use=codes,
        split=split,
        centred=centred,
        active=active,
        excitation=excitation,
        sea=sea,
        peaked_seas=seas,
        mu_rad=mu,
        static_heel_rad=static,
        wind_known=wind.known,
        numbers={
            "side": side,
            "slam": slam,
            "slam_judged": judged,
            "working": working,
            "stiffness_ratio": stiffer,
            "gm_ratio": np.asarray(choices.gm_ratio, dtype=float),
            "wind_heel_rad": np.where(np.isnan(stw), np.nan, wind.heel_rad),
        },
    )


def _peaked(
    yacht: Yacht,
    march: March,
    mu: Array,
    sea_there: tuple[Array, Array],
    points: RollPoints,
    choices: Choices,
    common: dict[str, Any],
) -> tuple[Array, RollResponse]:
    """Total fuel rate [l/h] and roll in a sea of other peak enhancement."""
    stw = march.speed_through_water_m_s
    excitation, sea = sea_there
    waves, _ = wave_forces(yacht, march, mu, sea, choices.wave_method)
    here = replace(points, excitation=excitation)
    roll = here.solved(yacht, here.fins(yacht, choices.fins))
    forces = response_fin_forces(yacht, stw, roll, choices)
    return _with_fin_forces(common, waves, forces), roll


def _with_fin_forces(common: dict[str, Any], waves: Array, forces: tuple[Array, Array]) -> Array:
    """Total fuel rate with another drag of the fins. [l/h]"""
    active, offset = forces
    changed = common | {"fin_active_force_n": active, "fin_offset_force_n": offset}
    return fuel_split(wave_force_n=waves, **changed).total


def _put_sea(
    values: dict[str, Array],
    yacht: Yacht,
    march: March,
    mu: Array,
    sea: Array,
    motions: Any,
) -> None:
    sky = march.conditions
    energy = np.nan_to_num(sky.height_m, nan=0.0) ** 2
    known = ~np.isnan(sea[..., motions.channel("encounter_m0")])
    m0 = sea[..., motions.channel("encounter_m0")]
    values["significant_height_m"] = 4.0 * np.sqrt(m0)
    top = np.argmax(energy, axis=-1)[..., None]
    peak = np.take_along_axis(np.broadcast_to(sky.peak_period_s, energy.shape), top, axis=-1)[
        ..., 0
    ]
    values["peak_period_s"] = np.where(known & (m0 > 0), peak, np.nan)
    from_rad = np.nan_to_num(sky.from_rad, nan=0.0)
    east = np.sum(energy * np.sin(from_rad), axis=-1)
    north = np.sum(energy * np.cos(from_rad), axis=-1)
    from_rad_mean = np.where(known & (m0 > 0), np.arctan2(east, north), np.nan)
    values["wave_from_deg"] = wrap_360(rad_to_deg(from_rad_mean))
    angle, _ = encounter_angle(from_rad_mean, march.heading_rad)
    values["encounter_angle_deg"] = rad_to_deg(angle)
    values["encounter_period_s"] = mean_encounter_period_s(
        m0, sea[..., motions.channel("encounter_m1")]
    )
    speed = np.hypot(sky.wind_u_m_s, sky.wind_v_m_s)
    values["wind_speed_kn"] = m_s_to_knots(speed)
    values["wind_from_deg"] = wrap_360(rad_to_deg(np.arctan2(-sky.wind_u_m_s, -sky.wind_v_m_s)))
    toward, drift = set_and_drift(sky.current_u_m_s, sky.current_v_m_s)
    values["current_speed_kn"] = m_s_to_knots(drift)
    values["current_to_deg"] = rad_to_deg(toward)
    values["course_to_steer_deg"] = wrap_360(rad_to_deg(march.heading_rad))
    values["speed_through_water_kn"] = m_s_to_knots(march.speed_through_water_m_s)


def _put_roll(
    values: dict[str, Array],
    centred: RollResponse,
    active: RollResponse,
    chosen: RollResponse,
    static: Array,
    offset: Array,
    asked: Array,
    working: npt.NDArray[np.bool_],
    stiffer: Array,
) -> None:
    roll_centred, roll_active = rad_to_deg(centred.roll_rms_rad), rad_to_deg(active.roll_rms_rad)
    values["roll_centred_rms_deg"] = roll_centred
    values["roll_active_rms_deg"] = roll_active
    values["roll_active_worst_rms_deg"] = roll_active
    values["roll_centred_significant_deg"] = 2.0 * roll_centred
    values["roll_active_significant_deg"] = 2.0 * roll_active
    still = roll_centred == 0.0
    values["roll_reduction_percent"] = np.where(
        still, np.nan, 100.0 * (1.0 - roll_active / np.where(still, 1.0, roll_centred))
    )
    # Of several pairs the busiest counts, for the engineer.
    zero = np.where(np.isnan(roll_active), np.nan, 0.0)

    def busiest(name: str) -> Array:
        worst = np.max(getattr(active, name), axis=-1)
        return np.where(working, worst, zero)

    values["fin_angle_rms_deg"] = rad_to_deg(busiest("fin_rms_rad"))
    values["fin_at_limit_percent"] = 100.0 * busiest("share_at_limit")
    values["fin_angle_limited_percent"] = 100.0 * busiest("share_at_angle_limit")
    values["fin_rate_limited_percent"] = 100.0 * busiest("share_rate_limited")
    values["fin_beyond_stall_percent"] = 100.0 * busiest("share_beyond_stall")
    values["fin_travel_deg_per_h"] = rad_to_deg(busiest("travel_rad_s")) * HOUR_S
    values["heel_without_correction_deg"] = rad_to_deg(static / stiffer)
    values["steady_heel_deg"] = rad_to_deg(chosen.mean_heel_rad / stiffer)
    # Outside the physics, fin angle is positive where it heels her to starboard.
    values["fin_offset_deg"] = -rad_to_deg(np.max(np.abs(offset), axis=-1)) * np.sign(
        offset[..., 0]
    )
    held = static - chosen.mean_heel_rad
    short = np.maximum(np.abs(asked) - np.abs(held), 0.0)
    values["heel_shortfall_deg"] = rad_to_deg(np.where(asked == 0.0, 0.0, short))


def _over_limit_h(yacht: Yacht, stw: Array, heel_deg: Array, hours: Array) -> Array:
    """Hours of each point with the steady heel over the owner's limit; 0 without a limit."""
    limits = yacht.vessel.limits
    under, rest = (
        np.inf if one.steady_heel_deg is None else one.steady_heel_deg
        for one in (limits.underway, limits.at_rest)
    )
    limit = np.where(stw < use.UNDER_WAY_M_S - 1e-9, rest, under)
    over = np.where(np.abs(heel_deg) > limit + OVER_DEG, hours, 0.0)
    return np.where(np.isnan(heel_deg), np.nan, over)


def _put_fuel(values: dict[str, Array], split: FuelSplit, hours: Array) -> None:
    values["fuel_l"] = split.total * hours
    for part in (
        "still_water",
        "waves",
        "wind",
        "fins_active",
        "fins_offset",
        "list",
        "hotel",
    ):
        values[f"fuel_{part}_l"] = getattr(split, part) * hours


def over_engine(yacht: Yacht, track: Track, evaluation: Evaluation) -> npt.NDArray[np.bool_]:
    """Whether the main engines would have to burn more than their maximum, ``L + (n,)``."""
    most = yacht.engine.max_fuel_l_per_h
    if most is None:
        return np.zeros(evaluation.split.main_engines.shape, dtype=bool)
    # Half a percent is well within the uncertainty of any part.
    return np.asarray(evaluation.split.main_engines > 1.005 * most) & (track.length_m > 0)
