"""Interpolation in spectral tables: the compiled loop.

Interpolation is cubic (four-point Lagrange) in log period and in heading, and linear between
spectral shapes. In heading the tables are mirrored at 0 and 180 degrees.
"""

from __future__ import annotations

import numpy as np

from passage.physics.compiled import compile_loop


@compile_loop
def gather(  # type: ignore[no-untyped-def]
    data,
    variance_scale,
    period_position,
    heading_position,
    slots,
    weights,
    rows,
    out,
):
    """Add the table values of all systems of each point to its row of ``out``.

    Parameters
    ----------
    data : ndarray, shape (slots, periods, headings, channels)
        Tables per square metre of significant height.
    variance_scale : ndarray, shape (P, systems)
        Height squared times any weight; 0 adds nothing. [m2]
    period_position, heading_position : ndarray, shape (P, systems)
        Position in the table, in cells; NaN adds nothing (the caller marks the point).
    slots, weights : ndarray, shape (P, systems, corners)
        Tables mixed for the spectral shape, and the share of each.
    rows : ndarray, shape (P,)
        Rows of ``out``, each once.
    out : ndarray, shape (any, channels)
        Added to in place; belongs to the spectral tables.
    """
    points, systems = variance_scale.shape
    corners = slots.shape[2]
    nt, nm, channels = data.shape[1], data.shape[2], data.shape[3]
    wt = np.empty(4)
    wm = np.empty(4)
    jm = np.empty(4, np.int64)
    for p in range(points):
        row = rows[p]
        target = out[row]
        for s in range(systems):
            scale = variance_scale[p, s]
            if scale == 0.0:
                continue
            x = period_position[p, s]
            if not np.isfinite(scale + x + heading_position[p, s]):
                continue
            i = min(max(int(x) - 1, 0), nt - 4)
            u = x - i
            wt[0] = -(u - 1.0) * (u - 2.0) * (u - 3.0) / 6.0
            wt[1] = u * (u - 2.0) * (u - 3.0) / 2.0
            wt[2] = -u * (u - 1.0) * (u - 3.0) / 2.0
            wt[3] = u * (u - 1.0) * (u - 2.0) / 6.0
            y = heading_position[p, s]
            j = min(int(y), nm - 2)
            u = y - j + 1.0
            wm[0] = -(u - 1.0) * (u - 2.0) * (u - 3.0) / 6.0
            wm[1] = u * (u - 2.0) * (u - 3.0) / 2.0
            wm[2] = -u * (u - 1.0) * (u - 3.0) / 2.0
            wm[3] = u * (u - 1.0) * (u - 2.0) / 6.0
            for b in range(4):
                n = j - 1 + b
                if n < 0:
                    n = -n
                if n > nm - 1:
                    n = 2 * (nm - 1) - n
                jm[b] = n
            for k in range(corners):
                shape_weight = scale * weights[p, s, k]
                if shape_weight == 0.0:
                    continue
                slot = slots[p, s, k]
                for a in range(4):
                    w = shape_weight * wt[a]
                    w0, w1, w2, w3 = w * wm[0], w * wm[1], w * wm[2], w * wm[3]
                    s0 = data[slot, i + a, jm[0]]
                    s1 = data[slot, i + a, jm[1]]
                    s2 = data[slot, i + a, jm[2]]
                    s3 = data[slot, i + a, jm[3]]
                    # Four headings at a time need one pass over the row of results.
                    for c in range(channels):
                        target[c] += w0 * s0[c] + w1 * s1[c] + w2 * s2[c] + w3 * s3[c]
