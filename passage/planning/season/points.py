"""Points of many departures from tables: rows of responses instead of spectra.

Tables (``physics/tables``) replace only sampling, the sums over spectra and the iteration
for roll; forces, fuel, fin use and comfort are computed by the functions of a plan. Points
are ``(departures, n)`` along one track. Segments of the same speed are computed together,
so that speed is a single number.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.vessel import Vessel
from passage.physics.fins import use
from passage.physics.fuel.account import fuel_split
from passage.physics.roll.wave_groups import share_rate_limited
from passage.physics.tables import interpolate
from passage.physics.tables.cell_sampling import sample_runs
from passage.planning.plan.plan import Passage
from passage.planning.season.comfort import accelerations, sickness_percent
from passage.planning.season.departures import hunting, passage_status
from passage.planning.season.direct import (
    LIST_TOLERANCE_RAD,
    PointValues,
    flow_gaps,
    list_share,
)
from passage.planning.season.march import march_departures, one_row, track_speeds_m_s
from passage.planning.season.offsets import distinct, offsets
from passage.planning.season.rate_limited import rate_limited_points, solve_in_full
from passage.planning.season.segments import (
    SpeedSegments,
    TrackData,
    contiguous_fields,
    movement_of,
    speed_segments,
)
from passage.planning.season.tables import SeasonTables
from passage.planning.voyage.forces import house_load
from passage.planning.voyage.list_drift import list_along
from passage.planning.voyage.march import Movement
from passage.planning.voyage.rolling import (
    RAISES,
    Choices,
    fin_forces,
    holds_to_a_heel,
    offset_falls_short,
)
from passage.planning.voyage.yacht import Yacht
from passage.units import HOUR_S, deg_to_rad, rad_to_deg
from passage.variables import COVERAGE

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]

#: Most segments between those at which fuel is computed first, to find how the list changes
#: with the fuel burnt; between them it is interpolated.
ROUGH_STEP = 12

#: ``physics.fins.use`` codes to those of the roll tables.
_FIN_MODE = np.full(9, interpolate.CENTRED, np.int8)
_FIN_MODE[use.ACTIVE] = interpolate.ACTIVE
_FIN_MODE[use.AT_REST] = interpolate.AT_REST
#: Column of the heel that the fins hold, in the rows of roll.
_HELD = interpolate.ROLL_OUT.index("held_heel")
_MEAN, _INCIDENCE, _BEYOND = (
    interpolate.PAIR_OUT.index(name) for name in ("mean", "incidence", "beyond")
)


@dataclass(frozen=True, eq=False)
class KnownSea:
    """Departures of a passage with movement and sea, before any list or heel is chosen."""

    passage: Passage
    movement: Movement
    parts: list[SpeedSegments]
    coverage: Codes
    flows: dict[str, Codes]
    departures_s: Array

    def points(self, vessel: Vessel, heel: str) -> PointValues:
        """All points with the list of ``vessel``, which is otherwise the passage's vessel."""
        return self.points_each((vessel,), (heel,))

    def points_each(
        self,
        vessels: Sequence[Vessel],
        heels: Sequence[str],
        some: npt.NDArray[np.intp] | None = None,
    ) -> PointValues:
        """The same for several lists, and what the fins do with each.

        All departures, or some, with the first, then with the next.
        """
        track, passage = self.passage.track, self.passage
        movement, parts, coverage, flows = self.movement, self.parts, self.coverage, self.flows
        count = self.departures_s.size if some is None else some.size
        if some is not None or len(vessels) > 1:
            rows = np.tile(np.arange(count) if some is None else some, len(vessels))
            movement = movement_of(movement, rows)
            parts = [part.at_rows(rows) for part in parts]
            coverage = coverage[rows]
            flows = {name: code[rows] for name, code in flows.items()}
        lists = [float(deg_to_rad(vessel.loading.list_deg)) for vessel in vessels]
        listed = np.repeat(lists, count)[:, None]
        choices = [Choices(heel=heel, band=False) for heel in heels]
        rough = _rough_fuel(passage, movement, parts, choices, listed)
        # Burn and events move the list from where it is at departure, by moments.
        drift = list_along(vessels[0], track, rough)
        if len(vessels) > 1:
            drift = np.arctan(np.tan(drift) + np.tan(listed) - np.tan(listed[0]))
        moved = np.any(np.abs(drift - listed) > LIST_TOLERANCE_RAD, axis=-1, keepdims=True)
        if np.any(moved):
            listed = np.where(moved, drift, listed)
        values = _values(passage, movement, parts, choices, listed)
        status = passage_status(coverage, flows, movement.no_way, track.length_m != 0.0)
        # A sea outside the tables (a period below 1 s or above 30 s) counts as missing.
        status = hunting(status, values)
        odd = (status == 0) & np.isnan(values["fuel_l"]).any(axis=-1)
        status = np.where(odd, COVERAGE.index("masked"), status).astype(np.int8)
        codes = np.empty(movement.time_s.shape, np.int8)
        for part in parts:
            codes[:, part.columns] = part.codes
        gaps = flow_gaps(vessels[0], track, flows, movement.hours)
        return PointValues(values, codes, status, gaps)


def known_sea(
    passage: Passage, tables: SeasonTables, data: TrackData, departures_s: Array
) -> KnownSea:
    """March every departure of a passage and look up its sea.

    Parameters
    ----------
    passage : Passage
        Vessel, route and track.
    tables : SeasonTables
        Tables of the same vessel.
    data : TrackData
        Cells along the track, for all times that these departures need.
    departures_s : ndarray, (departures,)
        Leaving times. [s]
    """
    vessel, track = passage.vessel, passage.track
    movement, current_code = march_departures(track, departures_s, data.current)
    shape = movement.time_s.shape
    heading = one_row(movement.heading_rad)
    north, east = (np.broadcast_to(f(heading), shape) for f in (np.cos, np.sin))
    wind, wind_code = _wind(data, movement)
    stay = track.length_m == 0.0
    if stay.any() and vessel.particulars.anchored_heading == "wind":
        speed = np.hypot(wind[..., 0], wind[..., 1])
        blows = stay & (speed > 0.0)
        with np.errstate(invalid="ignore", divide="ignore"):
            # Bow to the wind; without wind the rows turn her bow to the waves.
            north = np.where(blows, -wind[..., 1] / speed, north)
            east = np.where(blows, -wind[..., 0] / speed, east)
    speeds = track_speeds_m_s(track)
    coverage = np.empty(movement.time_s.shape, np.int8)
    parts = []
    for one in np.unique(speeds):
        columns = np.flatnonzero(speeds == one)
        part, code = speed_segments(
            passage, tables.at(one), data, movement, columns, north, east, wind
        )
        coverage[:, columns] = code
        parts.append(part)
    flows = {} if data.wind is None else {"wind": wind_code}
    if current_code is not None:
        flows["current"] = current_code
    return KnownSea(passage, movement, parts, coverage, flows, departures_s)


def _wind(data: TrackData, movement: Movement) -> tuple[Array, Codes]:
    """Wind ``(departures, n, 2)`` blowing towards east and north, and its coverage."""
    if data.wind is None:
        shape = movement.time_s.shape
        return np.full((*shape, 2), np.nan), np.zeros(shape, np.int8)
    fields, code = sample_runs(data.wind, movement.time_s)
    return contiguous_fields(fields[..., 1:]), code


def _rough_fuel(
    passage: Passage,
    movement: Movement,
    parts: list[SpeedSegments],
    choices: Sequence[Choices],
    list_rad: Array,
) -> Array:
    """Fuel of every segment with the list at departure, interpolated from some of them. [l]"""
    fuel = np.zeros(movement.time_s.shape)
    if not passage.vessel.loading.burn:
        return fuel
    for part in parts:
        count = part.columns.size
        spaced = np.linspace(0, count - 1, 2 + (count - 1) // ROUGH_STEP)
        some = np.unique(spaced.round().astype(np.int64))
        thin = part.thinned(some)
        static = np.broadcast_to(list_rad + thin.wind.heel_rad, thin.codes.shape)
        split, _, _ = _fins_and_fuel(passage, thin, static, choices, rough=True)
        # No matrix product: its last bit depends on the number of threads.
        low, share = _between(some, count)
        high = np.minimum(low + 1, some.size - 1)
        rate = split.total[:, low] * (1.0 - share) + split.total[:, high] * share
        fuel[:, part.columns] = rate * movement.hours[:, part.columns]
    return fuel


def _between(some: npt.NDArray[np.int64], count: int) -> tuple[npt.NDArray[np.intp], Array]:
    """For each segment the last of ``some`` not after it, and its share of the way to the next."""
    along = np.interp(np.arange(count), some, np.arange(some.size))
    low = along.astype(np.intp)
    return low, along - low


def _fins_and_fuel(
    passage: Passage,
    part: SpeedSegments,
    static: Array,
    choices: Sequence[Choices],
    *,
    rough: bool = False,
) -> tuple[Any, Array, Array]:
    """Fuel split, roll ``(P, 6)`` and fin answers ``(13, P, pairs)`` at a static heel.

    The departures of the part are the same ones for each of ``choices``. ``rough`` leaves
    rate-limited points to the tables.
    """
    yacht = passage.yacht
    codes, stw = part.codes, part.stw
    grid, offset, asked = static.shape, *offsets(yacht, stw, static, codes, choices)
    pairs = offset.shape[-1]
    fin_mode = _FIN_MODE[codes].reshape(-1)
    at, back = distinct(offset, len(choices))
    roll, fins = _working(yacht, part, offset[at], fin_mode[at], at, rough=rough)
    if back is not None:
        roll, fins = roll[back], fins[:, back]
    most = yacht.offset_most_rad
    to_heel = np.repeat([holds_to_a_heel(one) for one in choices], asked.size // len(choices))
    short = np.flatnonzero(
        to_heel & offset_falls_short(asked, roll[:, _HELD], offset, most)
        if to_heel.any() and not rough
        else False
    )
    offset = np.array(offset) if short.size else offset
    for _ in range(RAISES if short.size else 0):
        # As in a plan: the offset is raised where roll takes too much of its lift.
        ratio = asked[short] / roll[short, _HELD]
        offset[short] = np.clip(offset[short] * ratio[:, None], -most, most)
        roll[short], fins[:, short] = _working(
            yacht, part, offset[short], fin_mode[short], short, rough=rough
        )
    answers = fins.reshape(fins.shape[0], *grid, pairs)
    active_n, offset_n = fin_forces(
        yacht, stw, answers[_MEAN], answers[_INCIDENCE], choices[0], answers[_BEYOND]
    )
    split = fuel_split(
        speed_m_s=stw,
        curve=yacht.curve,
        engine=yacht.engine,
        wave_force_n=part.waves,
        wind_force_n=part.wind.force_n,
        fin_active_force_n=active_n,
        fin_offset_force_n=offset_n,
        heel_rad=static - roll[:, 3].reshape(grid),
        displacement_ratio=yacht.displacement_ratio,
        **house_load(yacht, codes, use.fins_work(codes)),
    )
    return split, roll, fins


def _working(
    yacht: Yacht,
    part: SpeedSegments,
    offset: Array,
    fin_mode: Codes,
    at: Any,
    *,
    rough: bool,
) -> tuple[Array, Array]:
    """Roll ``(n, 6)`` and fin answers ``(13, n, pairs)`` of the points ``at``."""
    tabulated = part.tables.roll
    roll, fins = tabulated.working(
        part.responses[at], offset, fin_mode, part.centred[at],
        part.tables.responses.derivative_column,
    )  # fmt: skip
    limited = rate_limited_points(fins, tabulated.lag_s, fin_mode == interpolate.ACTIVE)
    if limited.size and not rough:
        grid = part.codes.shape
        place = np.arange(part.codes.size)[at][limited]
        roll[limited], fins[:, limited] = solve_in_full(
            yacht,
            part.data.plan,
            part.data.waves,
            part.tables.speed_m_s,
            part.columns[place % grid[1]],
            part.time.reshape(-1)[place],
            np.broadcast_to(part.heading, grid).reshape(-1)[place],
            offset[limited],
            part.codes.reshape(-1)[place],
        )
    return roll, fins


def _values(
    passage: Passage,
    movement: Movement,
    parts: list[SpeedSegments],
    choices: Sequence[Choices],
    list_rad: Array,
) -> dict[str, Array]:
    """Point values at a list ``(departures, 1 or n)``."""
    shape = movement.time_s.shape
    values: dict[str, Array] = {"hours": movement.hours}
    weighted: list[Array] = []

    def put(name: str, columns: npt.NDArray[np.int64], found: npt.ArrayLike) -> None:
        if len(parts) == 1:
            values[name] = np.broadcast_to(np.asarray(found, float), shape)
            return
        values.setdefault(name, np.empty(shape))[:, columns] = found

    for part in parts:
        columns = part.columns
        hours = movement.hours[:, columns]
        listed = list_rad if list_rad.shape[1] == 1 else list_rad[:, columns]
        static = listed + part.wind.heel_rad
        lost = np.isnan(one_row(movement.speed_through_water_m_s)[:, columns])
        static = np.where(lost, np.nan, static)
        found = _fins_and_fuel(passage, part, static, choices)
        split, flat, fins = found
        roll = contiguous_fields(flat)
        put("fuel_l", columns, split.total * hours)
        for name in ("waves", "wind", "fins_active", "fins_offset"):
            put(f"fuel_{name}_l", columns, getattr(split, name) * hours)
        put("fuel_for_list_l", columns, split.fins_offset * hours * list_share(static, listed))
        grid = (shape[0], columns.size)
        put("roll_centred_rms_deg", columns, _deg(part.centred[:, 0]).reshape(grid))
        put("roll_active_rms_deg", columns, _deg(roll[:, 0]).reshape(grid))
        put("steady_heel_deg", columns, rad_to_deg(static - roll[:, 3].reshape(grid)))
        put("significant_height_m", columns, np.sqrt(part.height2))
        working = use.fins_work(part.codes)
        still = np.where(np.isnan(roll[:, 0]).reshape(grid), np.nan, 0.0)
        travel = np.max(fins[interpolate.PAIR_OUT.index("travel")], axis=-1).reshape(grid)
        gain = fins[interpolate.PAIR_OUT.index("gain")]
        lag = fins[interpolate.PAIR_OUT.index("lag")]
        free = 1.0 - share_rate_limited(part.tables.roll.lag_s, lag)
        at_limit = np.max(1.0 - gain * free, axis=-1).reshape(grid)
        per_h = rad_to_deg(travel) * HOUR_S
        put("fin_travel_deg_per_h", columns, np.where(working, per_h, still))
        put("fin_at_limit_percent", columns, np.where(working, 100.0 * at_limit, still))
        moments = tuple(roll[:, i].reshape(grid) for i in range(3))
        felt, each = accelerations(
            passage.yacht,
            (moments[0], moments[1], moments[2]),
            part.sea,
            part.slope,
            roll[:, 4].reshape(grid),
        )
        for name, worst in felt.items():
            put(name, columns, worst)
        if not weighted:
            weighted = each if len(parts) == 1 else [np.empty(shape) for _ in each]
        if len(parts) > 1:
            for whole, piece in zip(weighted, each, strict=True):
                whole[:, columns] = piece
    values["motion_sickness_percent"] = sickness_percent(weighted, movement.hours)
    return values


def _deg(variance: Array) -> Array:
    return np.asarray(rad_to_deg(np.sqrt(variance)))
