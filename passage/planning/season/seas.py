"""Rows of responses by movement of decoded wave systems.

The movement for a total sea, whose spectral shape goes with its steepness; partitions go
straight from the cells (``physics/tables/sea_rows.py``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.systems import decode_waves
from passage.inputs.forecast.waves import WavePlan
from passage.physics.tables.cell_sampling import OK, CellRuns, sample_runs
from passage.physics.tables.response_rows import ResponseRows
from passage.physics.tables.sea_rows import rows_from_seas
from passage.physics.waves.seas import COS2_SHAPE, GAMMA_LEVELS, WIDTH_LEVELS_RAD, Seas
from passage.physics.waves.spectrum import COS2_WIDTH_RAD

Array = npt.NDArray[np.float64]


def rows_by_systems(
    plan: WavePlan,
    waves: CellRuns,
    table: ResponseRows,
    places: npt.NDArray[np.int64],
    time_s: Array,
    north: Array,
    east: Array,
) -> tuple[npt.NDArray[np.float32], Array, npt.NDArray[np.int8]]:
    """As ``sea_rows.rows_from_cells``, with ``plan`` for the meaning of the fields."""
    here = replace(
        waves,
        corner=np.ascontiguousarray(waves.corner[places]),
        weight=np.ascontiguousarray(waves.weight[places]),
        inside=waves.inside[places],
    )
    fields, code = sample_runs(here, np.ascontiguousarray(time_s))
    known = code.reshape(-1) == OK
    sea = decode_waves(plan, fields.reshape(-1, fields.shape[-1]), known)
    ahead, aside = _bow(sea.height_m, sea.from_rad, north.reshape(-1), east.reshape(-1))
    from_north, from_east = np.cos(sea.from_rad), np.sin(sea.from_rad)
    # Waves from right ahead are met at pi: the cosine of the encounter angle is negative.
    cosine = -(from_north * ahead + from_east * aside)
    sine = from_north * aside - from_east * ahead
    seas = Seas(sea.height_m, sea.peak_period_s, 0.0, sea.gamma, sea.spread_rad)
    slots = np.zeros(seas.shapes.shape, np.int64)
    for slot, shape in enumerate(table.shapes):
        slots[seas.shapes == _number(shape)] = slot
    rows = rows_from_seas(
        sea.height_m,
        sea.peak_period_s,
        cosine,
        sine,
        slots,
        np.where(seas.shapes >= 0, seas.weights, 0.0),
        table,
    )
    height2 = np.where(known, np.nansum(sea.height_m**2, axis=1), np.nan)
    grid = time_s.shape
    return rows.reshape(*grid, -1), height2.reshape(grid), code


def _bow(height: Array, from_rad: Array, north: Array, east: Array) -> tuple[Array, Array]:
    """Bow as unit vectors (P, 1); to the waves, weighted by energy, where it is not known."""
    energy = np.nan_to_num(height, nan=0.0) ** 2
    angle = np.nan_to_num(from_rad, nan=0.0)
    to_north = np.sum(energy * np.cos(angle), axis=1)
    to_east = np.sum(energy * np.sin(angle), axis=1)
    size = np.hypot(to_north, to_east)
    size = np.where(size > 0.0, size, 1.0)
    free = np.isnan(north)
    return (
        np.where(free, to_north / size, north)[:, None],
        np.where(free, to_east / size, east)[:, None],
    )


def _number(shape: tuple[float, float]) -> int:
    """Number that ``Seas`` gives a shape on its levels."""
    gamma, width = shape
    level = int(np.argmin(np.abs(GAMMA_LEVELS - gamma)))
    at = int(np.argmin(np.abs(WIDTH_LEVELS_RAD - width)))
    if abs(width - COS2_WIDTH_RAD) < 1e-9:
        at = COS2_SHAPE
    return level * (COS2_SHAPE + 1) + at
