"""Rows of a table over seas: roll variances at levels, and other responses linear in the sea.

A row has everything that a point needs from a wave system, so that one look-up in period and
heading is enough. Rows come from the spectral tables (``waves/table.py``) of the kernels that
a plan uses. Variances are stored as their roots, which interpolate better; the rows of several
systems are added after squaring.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passage.physics.tables.levels import RollLevels
from passage.physics.waves.seas import PERIOD_RANGE_S
from passage.physics.waves.table import SpectralTable

FloatArray = NDArray[np.float64]
Singles = NDArray[np.float32]

#: Nodes over peak period (even in its logarithm) and heading (even in ``heading_place``).
#: The resonance, narrowest at rest, needs close periods (docs/season.md).
PERIODS, HEADINGS = 144, 73
LOG_FIRST = float(np.log(PERIOD_RANGE_S[0]))
LOG_STEP = float(np.log(PERIOD_RANGE_S[1] / PERIOD_RANGE_S[0]) / (PERIODS - 1))
#: Rows are padded to whole cache lines of singles.
_LINE = 16


def node_headings_rad() -> FloatArray:
    """Encounter angles of the heading nodes. [rad]"""
    p = np.linspace(0.0, 2.0, HEADINGS)
    # |c| + |s| = 1: c = 1 - p, s = 1 - |c|.
    c = 1.0 - p
    return np.arctan2(1.0 - np.abs(c), c)


def node_periods_s() -> FloatArray:
    """Peak periods of the nodes. [s]"""
    periods = np.exp(LOG_FIRST + LOG_STEP * np.arange(PERIODS))
    return np.clip(periods, *PERIOD_RANGE_S)


@dataclass(frozen=True, eq=False)
class ResponseRows:
    """Rows at one speed for several spectral shapes.

    Attributes
    ----------
    levels : RollLevels
        Levels of the first ``levels.size`` columns.
    data : ndarray of float32, (shapes, PERIODS, HEADINGS, width)
        Roots of variances, per metre of significant height, up to column ``squares``; then
        other responses, per square metre.
    shapes : tuple of (gamma, width_rad)
        Peak enhancement [dimensionless] and circular width [rad] of each shape.
    squares, used : int
        Number of columns that are roots, and of columns in use (the rest is padding).
    """

    levels: RollLevels
    data: Singles
    shapes: tuple[tuple[float, float], ...]
    squares: int
    used: int

    @property
    def derivative_column(self) -> int:
        """Column of the first derivative of ``levels``."""
        return self.squares

    @property
    def first_amount_column(self) -> int:
        """Column of the first sea channel that is not a root."""
        return self.squares + self.levels.x.size

    @property
    def slope_column(self) -> int:
        """Column of the variance of effective wave slope."""
        return self.levels.size

    @property
    def first_sea_column(self) -> int:
        """Column of the first sea channel."""
        return self.levels.size + 1


def response_rows(
    levels: RollLevels,
    roll_table: SpectralTable,
    nodes_rad_s: FloatArray,
    sea_table: SpectralTable,
    shapes: Sequence[tuple[float, float]],
    variance_channels: Sequence[int],
    amount_channels: Sequence[int],
) -> ResponseRows:
    """Compute the rows at one speed.

    Frequencies in [rad/s], widths in rad; rows are for 1 m of significant height.

    Parameters
    ----------
    levels : RollLevels
        Levels of roll at this speed.
    roll_table, sea_table : SpectralTable
        Roll excitation by encounter frequency, and the sea channels, at this speed.
    nodes_rad_s : ndarray
        Encounter frequencies of the excitation. [rad/s]
    shapes : sequence of (gamma, width_rad)
        Spectral shapes.
    variance_channels, amount_channels : sequence of int
        Sea channels to store: variances, and forces that may be negative.
    """
    period = node_periods_s()[:, None, None]
    mu = node_headings_rad()[None, :, None]
    plane, derivative = levels.over_nodes(nodes_rad_s)
    squares = levels.size + 1 + len(variance_channels)
    used = squares + levels.x.size + len(amount_channels)
    width = -(-used // _LINE) * _LINE
    roll_table.add_shapes(shapes)
    sea_table.add_shapes(shapes)
    data = np.zeros((len(shapes), PERIODS, HEADINGS, width), np.float32)
    for i, (gamma, spread) in enumerate(shapes):
        sea = (1.0, period, mu, gamma, spread)
        excitation = roll_table.variance(*sea)
        others = sea_table.variance(*sea)
        variances = np.concatenate(
            [
                excitation @ plane,
                excitation.sum(axis=-1, keepdims=True),
                others[..., list(variance_channels)],
            ],
            axis=-1,
        )
        data[i, ..., :squares] = np.sqrt(np.maximum(variances, 0.0))
        amounts = [excitation @ derivative, others[..., list(amount_channels)]]
        data[i, ..., squares:used] = np.concatenate(amounts, axis=-1)
    return ResponseRows(levels, data, tuple(shapes), squares, used)
