"""Rows of responses for wave systems in arrays: the season's tables read without a hindcast."""

from __future__ import annotations

import numpy as np

from passage.physics.tables.response_rows import (
    HEADINGS,
    LOG_FIRST,
    LOG_STEP,
    PERIODS,
)
from passage.physics.tables.sea_rows import add_row

EDGE = 1e-6


def heading_place(cosine, sine):
    """Place of an encounter angle in the tables, 0 following to 2 ahead; any common factor."""
    s = np.abs(sine)
    return 1.0 - cosine / (np.abs(cosine) + s)


def rows_from_seas(height_m, peak_period_s, cosine, sine, slots, weights, table):
    """Rows ``(P, width)`` of systems ``(P, systems)``, shapes mixed ``(P, systems, corners)``.

    NaN where a point has no system, or one that lacks a period or direction or lies
    outside the tables.
    """
    root = np.where(np.isnan(height_m), 0.0, height_m)
    with np.errstate(invalid="ignore", divide="ignore"):
        x = (np.log(peak_period_s) - LOG_FIRST) / LOG_STEP
        p = heading_place(cosine, sine) * (0.5 * (HEADINGS - 1))
        x = np.where((x > -EDGE) & (x < PERIODS - 1 + EDGE), np.clip(x, 0, PERIODS - 1), np.nan)
    rows = np.zeros((root.shape[0], table.data.shape[-1]), np.float32)
    for n, s in np.argwhere((root != 0.0) & np.isfinite(x + p)):
        for k in np.flatnonzero(weights[n, s]):
            one = np.zeros(rows.shape[1], np.float32)
            tables = table.data[slots[n, s, k]]
            add_row(one, tables, x[n, s], p[n, s], root[n, s], table.squares, table.used)
            rows[n] += np.float32(weights[n, s, k]) * one
    unknown = ((root != 0.0) & ~np.isfinite(x + p)).any(axis=1)
    unknown |= np.isnan(height_m).all(axis=1)
    rows[unknown] = np.nan
    return rows
