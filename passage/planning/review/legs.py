"""Planned beside logged for each leg, with the plan's band."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from passage.inputs.records.plan_file import PlanFile
from passage.planning.review.match import Match
from passage.planning.review.spans import Spans
from passage.units import HOUR_S, m_to_nm

Array = npt.NDArray[np.float64]

#: Share of the time for which a quantity must be logged before a sum holds for the leg.
WHOLE_SHARE = 0.95
#: The same for a mean.
MEAN_SHARE = 0.5
#: A leg logged over less than this share of its length is compared with that part of the plan.
PART = 0.97
#: Roll is measured about the mean of windows this long: heel changes more slowly. [s]
WINDOW_S = 600.0
#: Fewest readings in a window for an rms.
_FEWEST = 10
#: Relative difference that rounding may make between two ways of adding up.
_ROUNDING = 1e-9

#: Name, words, unit and decimals of what is compared; bands exist for fuel and roll.
QUANTITIES: tuple[tuple[str, str, str, int], ...] = (
    ("hours", "time", "h", 2),
    ("distance", "distance", "nm", 1),
    ("speed_through_water", "STW", "kn", 2),
    ("speed_over_ground", "SOG", "kn", 2),
    ("fuel", "fuel", "l", 0),
    ("roll", "roll rms", "deg", 2),
    ("heel", "heel", "deg", 2),
    ("fin_angle", "fin rms", "deg", 1),
    ("fins_active", "fins on", "h", 1),
)


@dataclass(frozen=True)
class PlannedLogged:
    """Planned beside logged, and the plan's band; None where there is none."""

    planned: float | None
    logged: float | None
    low: float | None = None
    high: float | None = None

    @property
    def miss(self) -> float | None:
        """Logged less planned."""
        if self.planned is None or self.logged is None:
            return None
        return self.logged - self.planned

    @property
    def within_band(self) -> bool | None:
        """Whether the logged value lies in the plan's band."""
        if self.logged is None or self.low is None or self.high is None:
            return None
        room = _ROUNDING * max(abs(self.low), abs(self.high))
        return self.low - room <= self.logged <= self.high + room


@dataclass(frozen=True)
class LegReview:
    """One leg, or the whole passage with ``leg`` 0.

    ``part`` is the share of the leg that the log covers; the planned values are for that
    part. ``fuel_legs`` are the legs whose fuel is in the whole.
    """

    leg: int
    name: str
    begin_s: float | None
    end_s: float | None
    part: float
    off_track_nm: float | None
    pairs: dict[str, PlannedLogged]
    remarks: tuple[str, ...] = ()
    fuel_legs: tuple[int, ...] = field(default=())


def leg_reviews(plan: PlanFile, spans: Spans, match: Match) -> tuple[LegReview, ...]:
    """Every leg of the plan, in order."""
    distance = span_distance_nm(spans)
    return tuple(
        _leg(plan, spans, match, distance, leg) for leg in range(int(plan.leg_index[-1]) + 1)
    )


def span_distance_nm(spans: Spans) -> Array:
    """Distance over the ground in each span [nm].

    From the speed over ground, else from positions, else from the speed through the water.
    """
    by_speed = spans.over_ground_kn * spans.elapsed_h
    by_place = way_by_positions_nm(spans)
    by_log = spans.through_water_kn * spans.elapsed_h
    out = np.where(np.isfinite(by_speed), by_speed, by_place)
    return np.where(np.isfinite(out), out, by_log)


def way_by_positions_nm(spans: Spans) -> Array:
    """Distance of each span: half that to either neighbour; NaN without positions. [nm]"""
    step = _steps_nm(spans)
    # At the ends, where there is only one neighbour, its distance counts twice.
    gap = np.full(1, np.nan)
    before: Array = np.concatenate([gap, step])
    after: Array = np.concatenate([step, gap])
    back: Array = np.where(np.isnan(before), after, before)
    on: Array = np.where(np.isnan(after), before, after)
    return np.asarray(0.5 * (back + on))


def _steps_nm(spans: Spans) -> Array:
    """Distances between the middles of successive spans. [nm]"""
    if len(spans) < 2:
        return np.zeros(0)
    from passage.inputs.route.geometry import WGS84

    known = np.isfinite(spans.lat_deg) & np.isfinite(spans.lon_deg)
    lat, lon = np.where(known, spans.lat_deg, 0.0), np.where(known, spans.lon_deg, 0.0)
    length = np.asarray(WGS84.inv(lon[:-1], lat[:-1], lon[1:], lat[1:])[2])
    return np.where(known[1:] & known[:-1], m_to_nm(length), np.nan)


def roll_rms_deg(spans: Spans) -> tuple[float | None, float, str]:
    """Roll rms over some spans [deg], the share of the time it is logged, and its method."""
    return _mean_square(
        spans, spans.roll_n, spans.roll_sum, spans.roll_square, spans.roll_rms_square
    )


def roll_by_span_deg(spans: Spans) -> Array:
    """Roll rms of each span, about the mean of its 10 minutes; NaN where not logged. [deg]"""
    n, first, second = spans.roll_n, spans.roll_sum, spans.roll_square
    if not np.any(n > 0):
        return np.asarray(np.sqrt(spans.roll_rms_square))
    variance, good, group = _window_variance(spans.time_s, n, first, second)
    return np.asarray(np.where(good, np.sqrt(variance), np.nan)[group])


def _window_variance(
    time_s: Array, n: Array, sums: Array, squares: Array
) -> tuple[Array, npt.NDArray[np.bool_], npt.NDArray[np.intp]]:
    """Variance in windows of 10 minutes, where enough is logged, and each span's window."""
    slot = np.floor(time_s / WINDOW_S).astype(np.int64)
    _, group = np.unique(slot, return_inverse=True)
    count, first, second = (
        np.asarray(np.bincount(group, part), dtype=float) for part in (n, sums, squares)
    )
    good = count >= _FEWEST
    least = np.maximum(count, _FEWEST)
    variance = np.maximum(second - first**2 / least, 0.0) / (least - 1.0)
    return variance, good, group


def fin_rms_deg(spans: Spans) -> tuple[float | None, float, str]:
    """Fin angle rms about its mean over some spans; as :func:`roll_rms_deg`."""
    return _mean_square(spans, spans.fin_n, spans.fin_sum, spans.fin_square, spans.fin_rms_square)


def _mean_square(
    spans: Spans, n: Array, sums: Array, squares: Array, logged: Array
) -> tuple[float | None, float, str]:
    total_h = float(np.sum(spans.hours))
    if np.any(n > 0):
        variance, good, group = _window_variance(spans.time_s, n, sums, squares)
        if not np.any(good):
            return None, 0.0, ""
        hours = np.asarray(np.bincount(group, spans.hours), dtype=float)[good]
        variance = variance[good]
        return (
            float(np.sqrt(np.sum(variance * hours) / np.sum(hours))),
            float(np.sum(hours)) / total_h if total_h else 0.0,
            "from momentary angles, about their 10-minute means",
        )
    known = np.isfinite(logged) & (spans.hours > 0.0)
    if not np.any(known):
        return None, 0.0, ""
    covered = spans.hours[known]
    return (
        float(np.sqrt(np.sum(logged[known] * covered) / np.sum(covered))),
        float(np.sum(covered)) / total_h,
        "from the logged rms values, their squares weighted by time",
    )


def heel_mean_deg(spans: Spans) -> tuple[float | None, float]:
    """Mean heel [deg], + to starboard, and the share of the time it is logged."""
    heel = np.where(
        np.isfinite(spans.heel_deg),
        spans.heel_deg,
        np.divide(
            spans.roll_sum, spans.roll_n, out=np.full(len(spans), np.nan), where=spans.roll_n > 0
        ),
    )
    return _mean(heel, spans.hours)


def _mean(values: Array, hours: Array) -> tuple[float | None, float]:
    known = np.isfinite(values)
    if not np.any(known) or not np.sum(hours[known]):
        return None, 0.0
    covered = float(np.sum(hours[known]))
    return float(np.sum(values[known] * hours[known]) / covered), covered / float(np.sum(hours))


def _leg(plan: PlanFile, spans: Spans, match: Match, distance: Array, leg: int) -> LegReview:
    row = plan.legs[leg]
    name = f"{row.get('from', '')} to {row.get('to', '')}"
    mine = match.leg == leg
    track = {
        key: values[plan.leg_index == leg]
        for key, values in plan.track.items()
        if not key.startswith("end_")
    }
    if not np.any(mine):
        return LegReview(
            leg + 1, name, None, None, 0.0, None, _planned_only(track, plan), ("not in the log",)
        )
    own = spans.chosen(mine)
    remarks: list[str] = []
    part = _share_logged(track, match.along_nm[mine], own, leg, match)
    if part < PART:
        remarks.append(
            f"logged over {100.0 * part:.0f} % of its length; planned figures are for that part"
        )
    else:
        part = 1.0
    elapsed = float(np.sum(own.elapsed_h))
    pairs = _planned_only(track, plan, part)
    logged: dict[str, float | None] = {"hours": elapsed}
    way = distance[mine]
    logged["distance"] = float(np.sum(way)) if np.all(np.isfinite(way)) else None
    logged["speed_through_water"], share = _mean(own.through_water_kn, own.hours)
    if share < MEAN_SHARE:
        logged["speed_through_water"] = None
    way_nm = logged["distance"]
    logged["speed_over_ground"] = way_nm / elapsed if way_nm is not None and elapsed else None
    logged["fuel"] = _fuel(own, elapsed, remarks)
    for key, (value, covered, _) in (("roll", roll_rms_deg(own)), ("fin_angle", fin_rms_deg(own))):
        if value is not None and covered < MEAN_SHARE:
            remarks.append(
                f"{key.replace('_', ' ')} is logged over {100.0 * covered:.0f} % of the time: "
                "not compared"
            )
            value = None
        logged[key] = value
    heel, covered = heel_mean_deg(own)
    logged["heel"] = heel if covered >= MEAN_SHARE else None
    active, covered = _mean(own.active, own.hours)
    logged["fins_active"] = (
        active * elapsed if active is not None and covered >= MEAN_SHARE else None
    )
    off = match.off_nm[mine]
    off = off[np.isfinite(off)]
    gap_h = elapsed - float(np.sum(own.hours))
    if gap_h > 0.05:
        remarks.append(f"{gap_h:.1f} h of it is missing from the log")
    half = 0.5 * own.elapsed_h * HOUR_S
    return LegReview(
        leg=leg + 1,
        name=name,
        begin_s=float(own.time_s[0] - half[0]),
        end_s=float(own.time_s[-1] + half[-1]),
        part=part,
        off_track_nm=float(np.max(off)) if off.size else None,
        pairs={
            key: PlannedLogged(pair.planned, logged.get(key), pair.low, pair.high)
            for key, pair in pairs.items()
        },
        remarks=tuple(remarks),
    )


def _fuel(own: Spans, elapsed: float, remarks: list[str]) -> float | None:
    """Litres of the main engines on the leg; None where too little is logged."""
    rate, share = _mean(own.fuel_l_per_h, own.hours)
    if rate is None:
        return None
    share *= float(np.sum(own.hours)) / elapsed if elapsed else 0.0
    if share < WHOLE_SHARE:
        remarks.append(f"fuel is logged over {100.0 * share:.0f} % of the time: not compared")
        return None
    if share < 1.0 - 1e-6:
        remarks.append(
            f"fuel is logged over {100.0 * share:.1f} % of the time; the rest is taken at its "
            "mean rate"
        )
    return rate * elapsed


def _share_logged(
    track: dict[str, Array], along: Array, own: Spans, leg: int, match: Match
) -> float:
    """Share of the leg that the log covers; below 1 only at either end of the log."""
    length = float(np.sum(track["distance_nm"]))
    if length == 0.0:
        return 1.0
    known = along[np.isfinite(along)]
    if not known.size:
        return 1.0
    first, last = leg == int(match.leg[0]), leg == int(match.leg[-1])
    speed = length / float(np.sum(track["hours"]))
    # A span extends half its own time beyond its middle.
    begin = float(known[0]) - 0.5 * speed * float(own.hours[0]) if first else 0.0
    end = float(known[-1]) + 0.5 * speed * float(own.hours[-1]) if last else length
    return float(np.clip((min(end, length) - max(begin, 0.0)) / length, 0.0, 1.0))


def _planned_only(
    track: dict[str, Array], plan: PlanFile, part: float = 1.0
) -> dict[str, PlannedLogged]:
    """Planned values of a leg, or of part of it, in the quantities of the log."""
    hours = track["hours"]
    total_h = float(np.sum(hours))
    active = plan.options.get("fins", "active") == "active"
    roll = track["roll_active_rms_deg" if active else "roll_centred_rms_deg"]

    def whole(values: Array) -> float | None:
        total = float(np.sum(values))
        return part * total if np.isfinite(total) else None

    def mean(values: Array) -> float | None:
        total = float(np.sum(values * hours))
        return total / total_h if np.isfinite(total) and total_h else None

    def rms(values: Array) -> float | None:
        square = mean(values**2)
        return None if square is None else float(np.sqrt(square))

    others = track["fuel_l"] - track["fuel_main_engines_l"]
    distance = whole(track["distance_nm"])
    working = active and bool(plan.vessel.fins)
    fin_hours = hours * (np.nan_to_num(track["fin_angle_rms_deg"]) > 0.0)
    return {
        "hours": PlannedLogged(part * total_h, None),
        "distance": PlannedLogged(distance, None),
        "speed_through_water": PlannedLogged(mean(track["speed_through_water_kn"]), None),
        "speed_over_ground": PlannedLogged(
            ratio(distance, part * total_h),
            None,
        ),
        "fuel": PlannedLogged(
            whole(track["fuel_main_engines_l"]),
            None,
            whole(track["fuel_low_l"] - others),
            whole(track["fuel_high_l"] - others),
        ),
        "roll": PlannedLogged(
            rms(roll),
            None,
            rms(track["roll_active_low_rms_deg"]),
            rms(track["roll_active_high_rms_deg"]),
        ),
        "heel": PlannedLogged(mean(track["steady_heel_deg"]), None),
        "fin_angle": PlannedLogged(rms(track["fin_angle_rms_deg"]) if working else None, None),
        "fins_active": PlannedLogged(part * float(np.sum(fin_hours)) if working else None, None),
    }


def ratio(above: float | None, below: float | None) -> float | None:
    return None if above is None or not below else above / below
