"""The miss split by cause: the forecast, sailing otherwise than planned, and the model.

The passage is computed again in the sea as it was, once as planned and once as she was
sailed. Then logged less planned is the sum of

- forecast: as planned in the sea as it was, less the plan;
- doing otherwise: as sailed in the sea as it was, less as planned in it;
- model: logged, less as sailed in the sea as it was.

The parts depend on their order. Where the forecast files are given too, the split is
also made with doing otherwise first.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast import Forecast
from passage.inputs.route import Track
from passage.physics.resistance.current import hold_speed_over_ground, hold_speed_through_water
from passage.planning.review.legs import LegReview, span_distance_nm
from passage.planning.review.match import spans_course
from passage.planning.review.review import Review
from passage.planning.review.spans import Spans
from passage.planning.review.whole import combined, over_legs
from passage.planning.voyage.evaluate import evaluate
from passage.planning.voyage.loaded import evaluate_loaded
from passage.planning.voyage.march import March, march
from passage.planning.voyage.rolling import Choices
from passage.planning.voyage.yacht import Yacht
from passage.units import HOUR_S, deg_to_rad, knots_to_m_s, m_s_to_knots, nm_to_m, wrap_180

Array = npt.NDArray[np.float64]

#: Time between the points that a recording is computed at, as in a plan. [s]
POINT_S = 1200.0
#: Heights that differ by less than this everywhere come from the same file. [m]
_SAME_SEA_M = 1e-6
#: Quantities whose miss is split, with their units.
EXPLAINED: tuple[tuple[str, str], ...] = (("fuel", "l"), ("roll", "deg"))


@dataclass(frozen=True)
class MissParts:
    """One miss and its parts, over the legs named; None where not known.

    ``first`` is forecast, doing otherwise and model, split in this order; ``second`` holds
    the same three, with doing otherwise split off before the forecast.
    """

    miss: float | None
    first: tuple[float | None, float | None, float | None]
    second: tuple[float | None, float | None, float | None] | None


@dataclass(frozen=True, eq=False)
class Computed:
    """The legs computed again, arrays (legs,), NaN where not known.

    Fuel of the main engines [l], roll rms [deg], hours; and means over time of the sea's
    significant height [m] and encounter angle [deg], and of the speed through the water
    [kn]. ``points`` has the sea and wind at each point, under the names of
    ``variables.py``.
    """

    fuel: Array
    roll: Array
    hours: Array
    height_m: Array
    encounter_deg: Array
    speed_kn: Array
    points: dict[str, Array]


@dataclass(frozen=True, eq=False)
class MissCauses:
    """Causes of the misses of fuel [l] and roll rms [deg], and the legs they come from.

    ``legs`` gives the numbers of the legs on which each miss is split; ``same_sea`` is True
    where the sea given is the one that the plan used; ``planned_height_m`` is the height
    forecast for each leg.
    """

    parts: dict[str, MissParts]
    notes: tuple[str, ...]
    legs: dict[str, tuple[int, ...]]
    as_planned: Computed
    as_sailed: Computed
    planned_height_m: Array
    otherwise: Computed | None = None
    same_sea: bool = False

    def of_legs(self, key: str, legs: list[LegReview]) -> MissParts:
        """One miss and its parts over some of the legs on which it is split."""
        plan, logged = (_known(over_legs(legs, key, which)) for which in ("planned", "logged"))
        a, b = _total(self.as_planned, key, legs), _total(self.as_sailed, key, legs)
        second = None
        if self.otherwise is not None:
            c = _total(self.otherwise, key, legs)
            second = (b - c, c - plan, logged - b) if np.isfinite(c) else None
        return MissParts(logged - plan, (a - plan, b - a, logged - b), second)


def causes_of_miss(found: Review, sea: Forecast, forecast: Forecast | None = None) -> MissCauses:
    """Split the miss, with the sea as it was; ``forecast`` gives the second order too."""
    plan = found.plan
    yacht = Yacht(plan.vessel)
    count = len(plan.legs)
    track, sailed = planned_track(found), sailed_points(found.spans, found.match.leg)
    as_planned = _planned_on(found, yacht, track, sea)
    as_sailed = _sailed_on(found, yacht, sailed, sea)
    otherwise = None if forecast is None else _sailed_on(found, yacht, sailed, forecast)
    notes: list[str] = []
    chosen: dict[str, list[LegReview]] = {}
    for key, _ in EXPLAINED:
        legs = chosen[key] = [
            leg
            for leg in found.legs
            if leg.pairs[key].miss is not None
            and np.isfinite(_value(as_planned, key, leg))
            and np.isfinite(_value(as_sailed, key, leg))
        ]
        if not legs:
            notes.append(
                f"{key}: no leg is planned, logged and covered by the sea files throughout"
            )
        elif len(legs) < count:
            numbers = ", ".join(str(leg.leg) for leg in legs)
            notes.append(f"{key}: split on legs {numbers} only, of {count}")
    if np.any(np.isnan(found.spans.over_ground_kn) & np.isnan(found.spans.through_water_kn)):
        notes.append(
            "where the log has no speed, the speed over ground is taken from its positions"
        )
    same = _same_sea(found, as_planned)
    if same:
        notes.append(
            "the files of --sea hold the sea that the plan used; for the sea as it was give a "
            "later analysis or a hindcast"
        )
    made = MissCauses(
        parts={},
        notes=tuple(notes),
        legs={key: tuple(leg.leg for leg in legs) for key, legs in chosen.items()},
        as_planned=as_planned,
        as_sailed=as_sailed,
        planned_height_m=_planned_height_m(found),
        otherwise=otherwise,
        same_sea=same,
    )
    nothing = MissParts(None, (None, None, None), None)
    parts = {key: made.of_legs(key, legs) if legs else nothing for key, legs in chosen.items()}
    return replace(made, parts=parts)


def _same_sea(found: Review, as_planned: Computed) -> bool:
    """Whether the sea given is the one that the plan used, but for rounding."""
    planned = found.plan.track["significant_height_m"]
    off = np.abs(as_planned.points["significant_height_m"] - planned)
    return bool(np.any(np.isfinite(off))) and float(np.nanmax(off)) < _SAME_SEA_M


def _planned_height_m(found: Review) -> Array:
    """Height of the sea in the plan, the mean of each leg by time. [m]"""
    track, leg, count = found.plan.track, found.plan.leg_index, len(found.plan.legs)
    sums, hours = (
        np.bincount(leg, values, minlength=count)
        for values in (track["significant_height_m"] * track["hours"], track["hours"])
    )
    return np.divide(sums, hours, out=np.full(count, np.nan), where=hours > 0.0)


def _value(made: Computed, key: str, leg: LegReview) -> float:
    return float((made.fuel if key == "fuel" else made.roll)[leg.leg - 1])


def _total(made: Computed, key: str, legs: list[LegReview]) -> float:
    at = np.array([leg.leg - 1 for leg in legs])
    values = made.fuel if key == "fuel" else made.roll
    return _known(combined(key, values[at], made.hours[at]))


def _known(value: float | None) -> float:
    return float("nan") if value is None else value


def planned_track(found: Review) -> Track:
    """The plan's segments, as they were cut."""
    given = found.plan.track
    stay = given["distance_nm"] == 0.0
    return Track(
        leg=found.plan.leg_index,
        lat_deg=given["lat_deg"],
        lon_deg=given["lon_deg"],
        course_rad=np.where(stay, np.nan, deg_to_rad(given["track_course_deg"])),
        length_m=np.asarray(nm_to_m(given["distance_nm"])),
        stay_s=np.where(stay, given["hours"] * HOUR_S, 0.0),
        speed_kn=np.where(stay, 0.0, given["speed_through_water_kn"]),
        end_lat_deg=given["end_lat_deg"],
        end_lon_deg=given["end_lon_deg"],
        leg_names=tuple(str(row.get("to", "")) for row in found.plan.legs),
    )


def _planned_on(found: Review, yacht: Yacht, track: Track, sea: Forecast) -> Computed:
    """As planned, in another sea: the plan's departure and ordered speeds."""
    plan = found.plan
    ground = plan.options.get("hold") == "ground"
    speed = plan.track["speed_through_water_kn"]
    if ground:
        speed = plan.track["distance_nm"] / plan.track["hours"]
    way = march(
        track,
        sea,
        plan.departure_s,
        knots_to_m_s(speed),
        hold="ground" if ground else "water",
        at_rest_heading=plan.vessel.particulars.anchored_heading,
    )
    share = np.full(len(track), float(plan.options.get("fins", "active") == "active"))
    parts = np.array([leg.part for leg in found.legs])
    return _evaluated(found, yacht, way, track.leg, share, parts)


@dataclass(frozen=True, eq=False)
class Sailed:
    """Points of the way she sailed, arrays (k,): as logged, NaN where the log has none."""

    time_s: Array
    hours: Array
    lat_deg: Array
    lon_deg: Array
    course_rad: Array
    heading_rad: Array
    through_water_m_s: Array
    over_ground_m_s: Array
    active: Array
    leg: npt.NDArray[np.int64]


def sailed_points(spans: Spans, leg: npt.NDArray[np.int64]) -> Sailed:
    """Spans joined into points of 20 minutes within each leg; logged averages stay as they are."""
    if spans.averaged:
        group = np.arange(len(spans))
    else:
        slot = np.floor(spans.time_s / POINT_S).astype(np.int64)
        new = np.r_[True, (np.diff(slot) != 0) | (np.diff(leg) != 0)]
        group = np.cumsum(new) - 1
    hours = np.asarray(np.bincount(group, spans.elapsed_h), dtype=float)

    def mean(values: Array) -> Array:
        known = np.isfinite(values)
        weight = np.bincount(group, np.where(known, spans.elapsed_h, 0.0), minlength=hours.size)
        sums = np.bincount(
            group, np.where(known, values, 0.0) * spans.elapsed_h, minlength=hours.size
        )
        return np.divide(sums, weight, out=np.full(hours.size, np.nan), where=weight > 0.0)

    first = np.r_[0, np.flatnonzero(np.diff(group)) + 1]
    lon = spans.lon_deg.copy()
    known = np.isfinite(lon)
    if np.any(known):
        lon[known] = np.unwrap(lon[known], period=360.0)
    course = np.full(len(spans), np.nan)
    for one in np.unique(leg):
        # Neighbours of another leg would cut the corner.
        mine = leg == one
        course[mine] = spans_course(spans.chosen(mine), headings=False)
    angle = np.deg2rad(course)
    head = np.deg2rad(spans.heading_deg)
    return Sailed(
        time_s=mean(spans.time_s),
        hours=hours,
        lat_deg=mean(spans.lat_deg),
        lon_deg=wrap_180(mean(lon)),
        course_rad=np.arctan2(mean(np.sin(angle)), mean(np.cos(angle))) % (2.0 * np.pi),
        heading_rad=np.arctan2(mean(np.sin(head)), mean(np.cos(head))) % (2.0 * np.pi),
        through_water_m_s=knots_to_m_s(mean(spans.through_water_kn)),
        over_ground_m_s=knots_to_m_s(mean(_over_ground_kn(spans))),
        active=mean(spans.active),
        leg=leg[first],
    )


def _over_ground_kn(spans: Spans) -> Array:
    """Speed over ground as logged; where the log has no speed at all, from its positions."""
    lost = np.isnan(spans.over_ground_kn) & np.isnan(spans.through_water_kn)
    if not np.any(lost):
        return spans.over_ground_kn
    hours = np.where(spans.elapsed_h > 0.0, spans.elapsed_h, np.nan)
    return np.where(lost, span_distance_nm(spans) / hours, spans.over_ground_kn)


def _sailed_on(found: Review, yacht: Yacht, way: Sailed, sea: Forecast) -> Computed:
    """As sailed, in a given sea: her logged positions, times, speeds and fin use."""
    met = sea.sample(way.lat_deg, way.lon_deg, way.time_s)
    u, v = (np.nan_to_num(x, nan=0.0) for x in (met.current_u_m_s, met.current_v_m_s))
    course = np.where(np.isfinite(way.course_rad), way.course_rad, way.heading_rad)
    stw, sog = way.through_water_m_s, way.over_ground_m_s
    # A missing speed follows from the other one and the current.
    from_ground = hold_speed_over_ground(course, sog, u, v)
    water = np.where(np.isfinite(stw), stw, from_ground.speed_through_water_m_s)
    from_water = hold_speed_through_water(course, water, u, v)
    ground = np.where(np.isfinite(sog), sog, from_water.speed_over_ground_m_s)
    heading = np.where(np.isfinite(way.heading_rad), way.heading_rad, from_water.heading_rad)
    marched = March(
        time_s=way.time_s,
        hours=way.hours,
        speed_through_water_m_s=water,
        speed_over_ground_m_s=ground,
        heading_rad=np.where(np.isfinite(heading), heading, course),
        course_rad=course,
        no_way=np.zeros(water.shape, dtype=bool),
        end_time_s=way.time_s + 0.5 * way.hours * HOUR_S,
        conditions=met,
        rounds=1,
        converged=True,
    )
    planned = float(found.plan.options.get("fins", "active") == "active")
    share = np.where(np.isfinite(way.active), way.active, planned)
    return _evaluated(found, yacht, marched, way.leg, share, np.ones(len(found.plan.legs)))


def _evaluated(
    found: Review,
    yacht: Yacht,
    way: March,
    leg: npt.NDArray[np.int64],
    active_share: Array,
    parts: Array,
) -> Computed:
    """Fuel and roll of each leg, with the fins active for a share of the time at each point."""
    options = found.plan.options
    count = len(found.plan.legs)
    uses = [
        (fins, share)
        for fins, share in (("active", active_share), ("centred", 1.0 - active_share))
        if np.any(share > 0.0)
    ]
    choices = Choices(
        fins=uses[0][0],
        heel=str(options.get("heel", "fins")),
        list_rad=float(deg_to_rad(found.plan.vessel.loading.list_deg)),
        wave_method=str(options.get("waves", "all-heading")),
        band=False,
    )
    made, choices = evaluate_loaded(
        found.plan.vessel, yacht, leg, (), way, choices,
        length_m=way.speed_over_ground_m_s * way.hours * HOUR_S,
    )  # fmt: skip
    fuel, square = np.zeros(leg.size), np.zeros(leg.size)
    for fins, share in uses:
        # The other use of the fins meets the same sea, with the same loading.
        here = (
            made
            if fins == choices.fins
            else evaluate(yacht, way, replace(choices, fins=fins), same_sea=made)
        )
        roll = here.values["roll_active_rms_deg" if fins == "active" else "roll_centred_rms_deg"]
        fuel += np.where(share > 0.0, share * here.split.main_engines * way.hours, 0.0)
        square += np.where(share > 0.0, share * roll**2, 0.0)
    hours = np.bincount(leg, way.hours, minlength=count)
    there = hours > 0.0

    def mean(values: Array) -> Array:
        sums = np.bincount(leg, values * way.hours, minlength=count)
        return np.divide(sums, hours, out=np.full(count, np.nan), where=there)

    sums = np.where(there, np.bincount(leg, fuel, minlength=count), np.nan)
    names = ("significant_height_m", "peak_period_s", "wave_from_deg", "wind_speed_kn")
    return Computed(
        fuel=parts * sums,
        roll=np.sqrt(mean(square)),
        hours=np.where(there, hours, np.nan),
        height_m=mean(np.asarray(made.values["significant_height_m"])),
        encounter_deg=mean(np.asarray(made.values["encounter_angle_deg"])),
        speed_kn=mean(np.asarray(m_s_to_knots(way.speed_through_water_m_s))),
        points={name: np.asarray(made.values[name]) for name in (*names, "wind_from_deg")},
    )
