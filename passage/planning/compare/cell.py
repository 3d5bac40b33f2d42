"""One route at one speed with one use of the fins, at every departure at once.

The steps are those of a plan (march, evaluate, list along the way, evaluate again), with
the departures as a leading axis. Each speed has a track of its own, cut as a plan cuts
it, so that a number here equals the one ``passage plan`` gives, whatever else is compared.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Route, Track
from passage.physics.fins.use import FIN_USE_WORDS
from passage.planning.compare.way import sailed, way_of
from passage.planning.plan.legtable import evaluation_side, side_word, use_word
from passage.planning.plan.partial import masked_reach_km
from passage.planning.voyage.evaluate import Evaluation, evaluate, over_engine
from passage.planning.voyage.flows import flows_given, flows_missing, gap_shares
from passage.planning.voyage.legs import (
    leg_coverage,
    leg_mean_direction,
    leg_starts,
    leg_sum,
    legs_from_points,
)
from passage.planning.voyage.limits import LegLimit, leg_limits
from passage.planning.voyage.list_drift import gm_ratio, list_of, stiffness_ratio
from passage.planning.voyage.loaded import SAME_STIFFNESS
from passage.planning.voyage.loading import loading_along
from passage.planning.voyage.march import March
from passage.planning.voyage.policy import engine_rule
from passage.planning.voyage.rolling import Choices
from passage.units import HOUR_S, deg_to_rad, m_to_nm, rad_to_deg, utc_text, wrap_360
from passage.variables import COVERAGE, LEG_VARIABLES

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

#: A list that moves less than this along the way is taken as constant, as in a plan.
_LIST_STEP_RAD = float(deg_to_rad(0.01))
_DIRECTIONS = {
    "wave_from_deg": "significant_height_m",
    "wind_from_deg": "wind_speed_kn",
    "current_to_deg": "current_speed_kn",
    "course_to_steer_deg": None,
}


@dataclass(frozen=True, eq=False)
class Cell:
    """Leg values of one route, speed and fin use; arrays ``(departures, legs)``.

    ``wind_gap`` and ``current_gap`` are the shares of each leg's hours without them, hours
    beside land not counted; ``flow_missing`` marks departures that lack all of the files'
    wind or current.

    ``legs`` holds the numeric names of ``variables.LEG_VARIABLES`` that come from the
    points; ``end_s`` the arrivals; ``side`` the sign of the side the sea comes from
    (+ starboard). ``known_h`` and ``covered_fuel_l`` are the hours of each leg that the
    forecast covers and their fuel; ``reach_km`` is the distance within which every masked
    point has a sea cell, None where there is no such remedy. ``roll_degree_hours`` is the
    roll summed over time (deg h), ``hours_over_limit`` the time with the running roll
    above its limit, ``worst_roll_deg`` the largest roll at any point, ``travel_deg`` how
    far the fins turn; each ``(departures,)``.
    """

    route: int
    speed_kn: float | None
    fins: str
    departure_s: Array
    speed_text: str
    legs: dict[str, Array]
    end_s: Array
    coverage: Codes
    fin_use: Codes
    side: Array
    no_way: npt.NDArray[np.bool_]
    flow_missing: npt.NDArray[np.bool_]
    wind_gap: Array
    current_gap: Array
    roll_degree_hours: Array
    hours_over_limit: Array
    worst_roll_deg: Array
    travel_deg: Array
    known_h: Array
    covered_fuel_l: Array
    reach_km: float | None = None
    leg_speeds_kn: tuple[float, ...] | None = None


@dataclass(frozen=True)
class CellTask:
    """What one cell is made from."""

    route_index: int
    route: Route
    track: Track
    speed_kn: float | None
    speed_text: str
    leg_speeds_kn: tuple[float, ...] | None = None


def make_cells(
    yacht: Yacht,
    task: CellTask,
    forecast: Forecast,
    departure_s: Array,
    fins: tuple[str, ...],
    *,
    hold: str = "water",
    heel: str = "fins",
    wave_method: str = "all-heading",
) -> list[Cell]:
    """A cell for every use of the fins; all share one march unless the fins' drag slows her."""
    departure_s = np.asarray(departure_s, dtype=float)
    held = hold == "fuel"
    given = flows_given(forecast)
    cells: list[Cell] = []
    seen: Evaluation | None = None
    for word in fins:
        choices = Choices(
            fins=word,
            heel=heel,
            list_rad=float(deg_to_rad(yacht.vessel.loading.list_deg)),
            wave_method=wave_method,
            band=False,
        )
        if held or not cells:
            way, _ = way_of(yacht, task, forecast, departure_s, hold, choices)
            flows = flow_gaps(yacht, way, task.track, given)
            reach_km = masked_reach_km(forecast, task.track, way)
            seen = None
        evaluation, _ = evaluated(yacht, task.track, way, choices, seen)
        seen = evaluation
        cell = cell_of_way(yacht, task, departure_s, word, way, evaluation, flows)
        over = np.any(over_engine(yacht, task.track, evaluation), axis=-1)
        if np.any(over) and hold == "water":
            # As in a plan: she cannot hold the speed there, and arrives later.
            late = departure_s[over]
            slower = sailed(yacht, task, forecast, late, hold, engine_rule(yacht, wave_method))
            again, _ = evaluated(yacht, task.track, slower, choices)
            without = flow_gaps(yacht, slower, task.track, given)
            cell = put_rows(
                cell, over, cell_of_way(yacht, task, late, word, slower, again, without)
            )
        cells.append(replace(cell, reach_km=reach_km))
    return cells


def evaluated(
    yacht: Yacht, track: Track, way: March, choices: Choices, seen: Evaluation | None = None
) -> tuple[Evaluation, Choices]:
    """Evaluate, and once more where fuel burnt on the way changes list or stability.

    Returns the evaluation and the choices of its last round.
    """
    # Where loads may move, a first round for the fuel alone is enough.
    loading = yacht.vessel.loading
    moves = bool(loading.burn or loading.events)
    evaluation = evaluate(yacht, way, choices, same_sea=seen, fuel_only=moves)
    if not moves:
        return evaluation, choices
    list_rad = float(np.asarray(choices.list_rad))
    along = loading_along(
        yacht.vessel, track.leg, evaluation.values["fuel_l"], length_m=track.length_m
    )
    drift = list_of(yacht.vessel, along)
    ratio = stiffness_ratio(yacht.vessel, along)
    moved = np.any(np.abs(drift - list_rad) > _LIST_STEP_RAD, axis=-1)
    moved |= np.any(np.abs(ratio - 1.0) > SAME_STIFFNESS, axis=-1)
    now = replace(
        choices,
        list_rad=np.where(moved[..., None], drift, list_rad),
        stiffness_ratio=np.where(moved[..., None], ratio, 1.0),
        gm_ratio=np.where(moved[..., None], gm_ratio(yacht.vessel, along), 1.0),
    )
    return evaluate(yacht, way, now, same_sea=evaluation), now


def flow_gaps(
    yacht: Yacht, way: March, track: Track, given: tuple[str, ...]
) -> dict[str, npt.NDArray[Any]]:
    """Where wind and current are missing, by field of `Cell`; the same for every fin use."""
    return {
        "flow_missing": _flow_missing(way, track, given),
        "wind_gap": _gap("wind", yacht, way, track, given),
        "current_gap": _gap("current", yacht, way, track, given),
    }


def _flow_missing(way: March, track: Track, given: tuple[str, ...]) -> npt.NDArray[np.bool_]:
    found = np.zeros(way.hours.shape[:-1], bool)
    for missing in flows_missing(way.conditions, track.length_m, given).values():
        found |= missing
    return found


def _gap(flow: str, yacht: Yacht, way: March, track: Track, given: tuple[str, ...]) -> Array:
    """Share of each leg without a flow; 1 where no file has wind and she has windage."""
    if flow == "wind" and yacht.vessel.windage is None:
        return np.zeros((*way.hours.shape[:-1], leg_starts(track.leg).size))
    if flow in given:
        return gap_shares(getattr(way.conditions, f"{flow}_coverage"), track, way.hours)
    # Files without current are the user's choice; files without wind are a lack.
    return np.full((*way.hours.shape[:-1], leg_starts(track.leg).size), float(flow == "wind"))


def put_rows(cell: Cell, rows: npt.NDArray[np.bool_], part: Cell) -> Cell:
    """The cell with some departures taken from another."""

    def merged(old: Any, new: Any) -> Any:
        out = np.array(old)
        out[rows] = new
        return out

    arrays = {
        one.name: merged(getattr(cell, one.name), getattr(part, one.name))
        for one in fields(cell)
        if isinstance(getattr(cell, one.name), np.ndarray)
    }
    legs = {name: merged(old, part.legs[name]) for name, old in cell.legs.items()}
    return replace(cell, legs=legs, **arrays)


def cell_of_way(
    yacht: Yacht,
    task: CellTask,
    departure_s: Array,
    fins: str,
    way: March,
    evaluation: Evaluation,
    flows: dict[str, npt.NDArray[Any]],
) -> Cell:
    track, hours, values = task.track, way.hours, evaluation.values
    starts = leg_starts(track.leg)
    legs = legs_from_points(values, hours, track.leg)
    for name, weight_name in _DIRECTIONS.items():
        weight = hours if weight_name is None else hours * values[weight_name] ** 2
        direction = leg_mean_direction(deg_to_rad(values[name]), weight, starts)
        legs[name] = wrap_360(rad_to_deg(direction))
    leg_hours = leg_sum(hours, starts)
    legs["hours"] = leg_hours
    known = leg_sum(np.where(np.isfinite(values["fuel_l"]), hours, 0.0), starts)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = 100.0 * (known / leg_hours)
    heel = np.asarray(values["steady_heel_deg"])
    most, least = (f.reduceat(heel, starts, axis=-1) for f in (np.fmax, np.fmin))
    heel_worst = np.where(np.abs(most) >= np.abs(least), most, least)
    legs["known_percent"] = np.where(leg_hours > 0.0, share, 0.0)
    sick = np.asarray(values["motion_sickness_percent"])
    legs["motion_sickness_percent"] = np.maximum.reduceat(sick, starts, axis=-1)
    distance = np.array([m_to_nm(leg.distance_m) for leg in task.route.legs])
    stay = np.array([leg.kind == "stay" for leg in task.route.legs])
    legs["distance_nm"] = np.broadcast_to(distance, leg_hours.shape)
    with np.errstate(invalid="ignore"):
        legs["speed_over_ground_kn"] = np.where(stay, 0.0, distance / leg_hours)
    felt = values[f"roll_{'active' if fins == 'active' else 'centred'}_significant_deg"]
    limits = tuple(leg_limits(yacht.vessel, track.leg, track.length_m == 0.0, hours, values, fins))
    for one in limits:
        legs[one.key] = one.value
    # With its sign, and NaN where the limit may be exceeded in a part not known.
    shown = legs["steady_heel_worst_deg"]
    legs["steady_heel_worst_deg"] = np.where(np.isnan(shown), np.nan, heel_worst)
    travel = np.where(evaluation.numbers["working"], values["fin_travel_deg_per_h"], 0.0) * hours
    return Cell(
        route=task.route_index,
        speed_kn=task.speed_kn,
        fins=fins,
        departure_s=np.asarray(departure_s, dtype=float),
        speed_text=task.speed_text,
        legs={name: np.asarray(array, dtype=float) for name, array in legs.items()},
        end_s=departure_s[:, None] + np.cumsum(leg_hours, axis=-1) * HOUR_S,
        coverage=leg_coverage(way.conditions.coverage, starts),
        fin_use=_commonest(evaluation.fin_use, hours, starts),
        side=leg_sum(evaluation_side(way, evaluation) * hours, starts),
        no_way=np.any(way.no_way, axis=-1),
        flow_missing=flows["flow_missing"],
        wind_gap=flows["wind_gap"],
        current_gap=flows["current_gap"],
        roll_degree_hours=np.sum(felt * hours, axis=-1),
        hours_over_limit=_roll_over_h(limits[0], felt),
        worst_roll_deg=np.max(felt, axis=-1),
        travel_deg=np.sum(travel, axis=-1),
        known_h=known,
        covered_fuel_l=leg_sum(np.nan_to_num(values["fuel_l"], nan=0.0), starts),
        leg_speeds_kn=task.leg_speeds_kn,
    )


def _roll_over_h(roll: LegLimit, felt: Array) -> Array:
    """Hours with the running roll above its limit; NaN without a limit or with a roll missing."""
    missing = np.any(np.isnan(felt), axis=-1) | np.all(np.isnan(roll.limit))
    return np.where(missing, np.nan, np.sum(roll.over_h, axis=-1))


def _commonest(codes: Codes, hours: Array, starts: npt.NDArray[np.int_]) -> Codes:
    """The fin use that takes most of each leg's time, ``(departures, legs)``."""
    weights = np.nan_to_num(hours, nan=1e-6)
    totals = np.stack(
        [leg_sum((codes == code) * weights, starts) for code in range(len(FIN_USE_WORDS))],
        axis=-1,
    )
    return np.argmax(totals, axis=-1).astype(np.int8)


def leg_rows(cell: Cell, route: Route, at: int) -> list[dict[str, Any]]:
    """Leg dicts of one departure, with the keys of a plan.

    The ends of bands, GM and trim are None: only a plan gives them.
    """
    rows = []
    begin = float(cell.departure_s[at])
    for i, leg in enumerate(route.legs):
        row: dict[str, Any] = {variable.name: None for variable in LEG_VARIABLES}
        row |= {name: float(array[at, i]) for name, array in cell.legs.items()}
        end = float(cell.end_s[at, i])
        stay = leg.kind == "stay"
        row |= {
            "leg": i + 1,
            "from": leg.name_from,
            "to": leg.name_to,
            "type": leg.kind,
            "course_true_deg": None if stay else leg.course_true_deg,
            "etd_utc": utc_text(begin) if np.isfinite(begin) else None,
            "eta_utc": utc_text(end) if np.isfinite(end) else None,
            "coverage": COVERAGE[cell.coverage[at, i]],
            "encounter_side": side_word(row["encounter_angle_deg"], cell.side[at, i]),
            "fin_use": use_word(int(cell.fin_use[at, i]), cell.fins),
        }
        rows.append(row)
        begin = end
    return rows
