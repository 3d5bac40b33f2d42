"""Axes of the spectral tables, and positions of wave systems in them.

The axes are peak period, heading, peak enhancement and circular width.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.waves.kernel import FINE_MU_RAD
from passage.physics.waves.spectrum import (
    COS2_WIDTH_RAD,
    SWELL_WIDTH_RAD,
    jonswap_normaliser,
)

FloatArray = NDArray[np.float64]

#: Peak periods covered; a point outside is NaN. [s]
PERIOD_RANGE_S = (1.0, 30.0)
#: Peak enhancement factors tabulated; interpolation is linear in the height of the peak.
GAMMA_LEVELS: FloatArray = np.array([1.0, 2.0, 3.3, 5.0, 7.0])
#: Circular widths tabulated as cos-2s; interpolation is cubic in width squared, in which the
#: circular moments are smooth. At the last the sea comes equally from all sides. [rad]
WIDTH_LEVELS_RAD: FloatArray = np.array(
    [0.1, 0.13, 0.17, 0.217, SWELL_WIDTH_RAD, 0.36, 0.46, 0.58, 0.73, 0.92, 1.15, 2**0.5]
)
COS2_SHAPE = WIDTH_LEVELS_RAD.size  # shape index of exact cos^2, after the cos-2s ones
PERIODS_S: FloatArray = np.geomspace(*PERIOD_RANGE_S, 112)
HEADINGS_RAD: FloatArray = FINE_MU_RAD[::6]  # every 3 degrees
_LOG_STEP = float(np.log(PERIODS_S[1] / PERIODS_S[0]))
HEADING_STEP_RAD = float(HEADINGS_RAD[1] - HEADINGS_RAD[0])


def _between(value: FloatArray, levels: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """Index of the level below and the share of the one above; NaN outside."""
    low = np.clip(np.searchsorted(levels, value, "right") - 1, 0, levels.size - 2)
    share = (value - levels[low]) / (levels[low + 1] - levels[low])
    share = np.where((share < -1e-9) | (share > 1.0 + 1e-9), np.nan, share)
    # A value on a level must not need the neighbouring table.
    share = np.where(np.abs(share) < 1e-9, 0.0, share)
    full = np.abs(share - 1.0) < 1e-9
    low = np.where(full & (low < levels.size - 2), low + 1, low)
    share = np.where(full & (levels[low] == value), 0.0, share)
    return low, np.where(full & (share != 0.0), 1.0, share)


def _peak_height(gamma: FloatArray) -> FloatArray:
    return np.asarray(gamma * jonswap_normaliser(gamma))


def _width_mix(width: FloatArray) -> tuple[NDArray[np.intp], FloatArray]:
    """Indices and weights of four widths, on the last axis; weights are NaN outside."""
    levels = WIDTH_LEVELS_RAD**2
    value = np.where(np.isnan(width), -1.0, width) ** 2
    outside = np.isnan(width) | (width < WIDTH_LEVELS_RAD[0] - 1e-9)
    outside |= width > WIDTH_LEVELS_RAD[-1] + 1e-9
    start = np.clip(np.searchsorted(levels, value) - 2, 0, levels.size - 4)
    index = start[..., None] + np.arange(4)
    near = np.abs(width[..., None] - WIDTH_LEVELS_RAD[index]) < 1e-9
    weight = np.ones(index.shape)
    for a in range(4):
        for b in range(4):
            if a != b:
                node, other = levels[index[..., a]], levels[index[..., b]]
                weight[..., a] *= (value - other) / (node - other)
    # On a level its table alone is used, so that no other has to be built.
    weight = np.where(near.any(axis=-1, keepdims=True), near * 1.0, weight)
    cos2 = np.abs(width - COS2_WIDTH_RAD) < 1e-9
    only = np.array([1.0, 0.0, 0.0, 0.0])
    index = np.where(cos2[..., None], COS2_SHAPE, index)
    weight = np.where(cos2[..., None], only, weight)
    weight = np.where(outside[..., None], np.nan, weight)
    return index, weight


def levels_of_shape(shape: int) -> tuple[float, float]:
    """Peak enhancement [dimensionless] and circular width [rad] of the shape of an index."""
    width = shape % (COS2_SHAPE + 1)
    rad = COS2_WIDTH_RAD if width == COS2_SHAPE else float(WIDTH_LEVELS_RAD[width])
    return float(GAMMA_LEVELS[shape // (COS2_SHAPE + 1)]), rad


def fold_heading(mu_rad: ArrayLike) -> FloatArray:
    """Encounter angle in [0, pi], from an angle of either side and with any full turns. [rad]"""
    mu = np.abs(np.remainder(np.asarray(mu_rad, float) + np.pi, 2 * np.pi) - np.pi)
    return np.asarray(mu)


class Seas:
    """Wave systems at points, with their positions in any table.

    Parameters
    ----------
    height_m, peak_period_s, mu_rad, gamma, spread_rad : array_like, P + (systems,)
        Significant height [m], peak period [s], encounter angle (either side, with any full
        turns) [rad], peak enhancement and circular width [rad]. A NaN height means that there
        is no such system.

    Attributes
    ----------
    shape : tuple of int
        P.
    missing : ndarray of bool, flat P
        Whether a point has no system at all, or one that lacks a period or direction or is
        outside the tables; its response is NaN.
    """

    def __init__(
        self,
        height_m: ArrayLike,
        peak_period_s: ArrayLike,
        mu_rad: ArrayLike,
        gamma: ArrayLike,
        spread_rad: ArrayLike,
    ) -> None:
        given = [np.asarray(a, float) for a in (height_m, peak_period_s, mu_rad, gamma, spread_rad)]
        shape = np.broadcast_shapes(*(a.shape for a in given))
        if not shape:
            raise ValueError("seas need a last axis of wave systems")
        self.shape = shape[:-1]
        height, period, mu, gamma_, width = (
            np.broadcast_to(a, shape).reshape(-1, shape[-1]) for a in given
        )
        there = ~np.isnan(height)
        empty = ~there.any(axis=1)
        counts = there & (height != 0.0)
        self.variance_scale = np.where(counts, height * height, 0.0)
        with np.errstate(invalid="ignore", divide="ignore"):
            position = np.log(period / PERIOD_RANGE_S[0]) / _LOG_STEP
            last = PERIODS_S.size - 1.0
            inside = (position > -1e-9) & (position < last + 1e-9)
        position = np.where(inside, np.clip(position, 0.0, last), np.nan)
        self.heading_position = fold_heading(mu) / HEADING_STEP_RAD
        g_low, g_share = _between(gamma_, GAMMA_LEVELS)
        g_share = np.where(
            (g_share == 0.0) | (g_share == 1.0),
            g_share,
            _between(_peak_height(gamma_), _peak_height(GAMMA_LEVELS))[1],
        )
        w_index, w_weight = _width_mix(width)
        bad = np.asarray(counts & np.isnan(g_share + w_weight.sum(axis=-1)))
        self.period_position = np.where(bad, np.nan, position)
        unknown = counts & np.isnan(self.period_position + self.heading_position)
        self.missing = np.asarray(empty | unknown.any(axis=1))
        mix = np.stack([1.0 - g_share, g_share], axis=-1)[..., None]
        mix = mix * w_weight[..., None, :]
        mix = np.where((counts & ~bad)[..., None, None], mix, 0.0)
        level = np.stack([g_low, g_low + 1], axis=-1)[..., None]
        shapes = np.where(mix != 0.0, level * (COS2_SHAPE + 1) + w_index[..., None, :], -1)
        # Corners that no point needs are left out; most seas need one of eight.
        flat = (*mix.shape[:2], mix.shape[2] * mix.shape[3])
        corners = mix.reshape(flat), shapes.reshape(flat)
        used = np.array((corners[0] != 0.0).any(axis=(0, 1)), bool)
        used[0] = True
        self.weights = np.ascontiguousarray(corners[0][..., used])
        self.shapes = np.ascontiguousarray(corners[1][..., used])

    def shapes_in_use(self, rows: NDArray[np.intp]) -> list[int]:
        """Indices of the spectral shapes that these points need."""
        return [int(i) for i in np.unique(self.shapes[rows]) if i >= 0]
