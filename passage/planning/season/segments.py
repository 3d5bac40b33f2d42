"""The segments of one speed at many departures: all that does not depend on the list."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.waves import WavePlan
from passage.physics.fins import use
from passage.physics.motions.slamming import (
    slam_probability,
    slam_probability_limit,
    slam_threshold_velocity_m_s,
    slamming_judged,
)
from passage.physics.tables.cell_sampling import CellRuns
from passage.physics.tables.sea_rows import StoredSystems, rows_from_cells
from passage.planning.plan.plan import Passage
from passage.planning.season.march import one_row
from passage.planning.season.tables import SpeedTables
from passage.planning.voyage.forces import WindForces, wave_forces, wind_forces
from passage.planning.voyage.march import Movement

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]


@dataclass(frozen=True, eq=False)
class TrackData:
    """The data of a block at the points of one track, and how its waves are read."""

    waves: CellRuns
    wind: CellRuns | None
    current: CellRuns | None
    systems: StoredSystems
    plan: WavePlan


@dataclass(eq=False)
class SpeedSegments:
    """Values on the segments of one speed that do not depend on the list."""

    columns: npt.NDArray[np.int64]
    tables: SpeedTables
    data: TrackData
    stw: Array
    time: Array
    heading: Array
    responses: npt.NDArray[np.float32]
    sea: Array
    slope: Array
    codes: Codes
    waves: Array
    wind: Any
    centred: Array
    height2: Array

    def at_rows(self, rows: npt.NDArray[np.intp]) -> SpeedSegments:
        """Some departures, each as often as ``rows`` has it."""
        size = self.codes.shape[0]

        def take(values: Any) -> Any:
            return rows_of(values, rows)

        def flat(values: Any) -> Any:
            width = values.shape[-1]
            return values.reshape(size, -1, width)[rows].reshape(-1, width)

        wind = self.wind
        return replace(
            self,
            time=take(self.time),
            heading=take(self.heading),
            responses=flat(self.responses),
            # Each channel stays contiguous.
            sea=np.moveaxis(np.moveaxis(self.sea, -1, 0)[:, rows], 0, -1),
            slope=take(self.slope),
            codes=take(self.codes),
            waves=take(self.waves),
            wind=WindForces(take(wind.force_n), take(wind.heel_rad), take(wind.known)),
            centred=flat(self.centred),
            height2=take(self.height2),
        )

    def thinned(self, some: npt.NDArray[np.int64]) -> SpeedSegments:
        """The same at some of the columns only."""
        grid = self.codes.shape
        wind = self.wind
        return replace(
            self,
            columns=self.columns[some],
            time=self.time[:, some],
            heading=self.heading[:, some],
            responses=self.responses.reshape(*grid, -1)[:, some].reshape(
                -1, self.responses.shape[1]
            ),
            sea=self.sea[:, some],
            slope=self.slope[:, some],
            codes=self.codes[:, some],
            waves=self.waves[:, some],
            wind=WindForces(wind.force_n[:, some], wind.heel_rad[:, some], wind.known[:, some]),
            centred=self.centred.reshape(*grid, -1)[:, some].reshape(-1, self.centred.shape[1]),
            height2=self.height2[:, some],
        )


def speed_segments(
    passage: Passage,
    tables: SpeedTables,
    data: TrackData,
    movement: Movement,
    columns: npt.NDArray[np.int64],
    north: Array,
    east: Array,
    wind: Array,
) -> tuple[SpeedSegments, Codes]:
    """Sea, wind, fin use and roll with the fins centred on the segments of one speed."""
    yacht = passage.yacht
    made = tables.responses
    where = (
        made,
        columns,
        movement.time_s[:, columns],
        np.ascontiguousarray(north[:, columns]),
        np.ascontiguousarray(east[:, columns]),
    )
    rows, height2, coverage = rows_from_cells(data.waves, data.systems, *where)
    first, last = made.first_sea_column, made.squares
    force = made.first_amount_column
    each = np.moveaxis(rows, -1, 0)
    # As doubles, each field contiguous as by ``contiguous_fields``, in one pass.
    kept = [each[first:last], each[force + 1 : made.used]]
    sea = np.moveaxis(np.concatenate(kept, dtype=float), 0, -1)
    resistance = rows[..., force].astype(float)
    hull = yacht.vessel.particulars
    count = 2 * len(yacht.places)
    slam = slam_probability(
        hull.bow_draught_m,
        sea[..., count],
        sea[..., count + 1],
        slam_threshold_velocity_m_s(hull.length_waterline_m),
    )
    judged = slamming_judged(sea[..., count + 3], height2 / 16.0)
    speed = np.full((1, 1), tables.speed_m_s)
    stw = np.where(np.isnan(one_row(movement.speed_through_water_m_s)[:, columns]), np.nan, speed)
    codes = use.fin_use(
        stw,
        np.where(judged | np.isnan(slam), slam, 0.0),
        slam_limit=slam_probability_limit(hull.length_waterline_m),
        fitted=yacht.has_fins,
        at_rest_fitted=yacht.has_rest_mode,
    )
    # Only the part of a march that the forces read.
    view = SimpleNamespace(
        conditions=SimpleNamespace(wind_u_m_s=wind[:, columns, 0], wind_v_m_s=wind[:, columns, 1]),
        speed_through_water_m_s=speed,
        speed_over_ground_m_s=one_row(movement.speed_over_ground_m_s)[:, columns],
        heading_rad=_angle(
            north[:, columns], east[:, columns], one_row(movement.heading_rad)[:, columns]
        ),
        course_rad=one_row(movement.course_rad)[:, columns],
    )
    march: Any = view
    waves, _ = wave_forces(yacht, march, np.zeros(0), resistance[..., None], "all-heading")
    flat = rows.reshape(-1, rows.shape[-1])
    return SpeedSegments(
        columns=columns,
        tables=tables,
        data=data,
        stw=speed,
        time=movement.time_s[:, columns],
        heading=view.heading_rad,
        responses=flat,
        sea=sea,
        slope=rows[..., made.slope_column].astype(float),
        codes=codes,
        waves=waves,
        wind=wind_forces(yacht, march),
        centred=tables.roll.centred(flat),
        height2=height2,
    ), coverage


def rows_of(values: npt.NDArray[Any], rows: npt.NDArray[np.intp]) -> npt.NDArray[Any]:
    """Rows of ``(departures, n)``; a row that serves all stays one."""
    if values.shape[0] == 1 or values.strides[0] == 0:
        return np.broadcast_to(values[:1], (rows.size, *values.shape[1:]))
    return values[rows]


def movement_of(movement: Movement, rows: npt.NDArray[np.intp]) -> Movement:
    """The movement of some departures."""
    names = [one.name for one in fields(Movement)]
    return replace(movement, **{name: rows_of(getattr(movement, name), rows) for name in names})


def contiguous_fields(values: npt.NDArray[Any]) -> Array:
    """The same as doubles, each field of the last axis contiguous for fast reading."""
    return np.moveaxis(np.ascontiguousarray(np.moveaxis(values, -1, 0), dtype=float), 0, -1)


def _angle(north: Array, east: Array, heading_rad: Array) -> Array:
    """Heading; where NaN (in stays) from its north and east components. [rad]"""
    if not np.isnan(heading_rad).any():
        return heading_rad
    return np.where(np.isnan(heading_rad), np.arctan2(east, north) % (2.0 * np.pi), heading_rad)
