"""The shipped coastline in memory: rings, edges and an index of square cells.

Every cell lists the edges that may touch it and has the winding number of a reference
point inside it. A point is on land if its winding number, found by counting the signed
edges between it and the reference point of its cell, is not zero.
Winding, not parity, so that slivers where rounded neighbours overlap stay land.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from hashlib import blake2b
from importlib import resources
from pathlib import Path

import numpy as np
import numpy.typing as npt

from passage.cache import Arrays, kept

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

#: Side of a cell [deg]; a cell on a coast has about 20 edges.
CELL_DEG = 0.25
_COLUMNS = round(360.0 / CELL_DEG)
_ROWS = round(180.0 / CELL_DEG)
#: Where in a cell the reference point lies; off the grid of the source, so that no
#: edge passes through it.
_REFERENCE = 0.4812345
#: Pairs of point and edge computed at once, to bound the memory.
_PAIRS = 2_000_000


@dataclass(frozen=True)
class Coastline:
    """Rings and edges in degrees, with the index over cells.

    ``start`` holds where each ring begins in ``lon_deg`` and ``lat_deg``, with the
    total at the end; ``box`` holds west, south, east and north of each ring. Edges run
    from ``x1, y1`` to ``x2, y2``; land is on their left.
    """

    lon_deg: Floats
    lat_deg: Floats
    start: Ints
    box: Floats
    x1: Floats
    y1: Floats
    x2: Floats
    y2: Floats
    cell_start: npt.NDArray[np.int32]
    cell_edges: npt.NDArray[np.int32]
    winding: npt.NDArray[np.int16]

    def ring(self, number: int) -> Floats:
        """Longitude and latitude of one closed ring, (n, 2)."""
        part = slice(int(self.start[number]), int(self.start[number + 1]))
        return np.column_stack([self.lon_deg[part], self.lat_deg[part]])


@cache
def load_coastline() -> Coastline:
    """Unpack the shipped coastline; kept for the life of the process.

    Its index takes longer to make than to read, so it is kept in the user's cache folder.
    """
    source = resources.files("passage") / "data" / "coastline_10m.npz"
    with source.open("rb") as handle, np.load(handle, allow_pickle=False) as packed:
        start = np.concatenate([[0], np.cumsum(packed["length"], dtype=np.int64)])
        scale, origin = packed["scale_deg"], packed["origin_deg"]
        # Differences are within rings; the sum over all is undone ring by ring.
        lon = _unpack(packed["dx"], start) * scale[0] + origin[0]
        lat = _unpack(packed["dy"], start) * scale[1] + origin[1]
    lon = np.clip(lon, -180.0, 180.0)
    first, last = start[:-1], start[1:]
    box = np.column_stack(
        [
            np.minimum.reduceat(lon, first),
            np.minimum.reduceat(lat, first),
            np.maximum.reduceat(lon, first),
            np.maximum.reduceat(lat, first),
        ]
    )
    keep = np.ones(lon.size, dtype=bool)
    keep[last - 1] = False
    at = np.flatnonzero(keep)
    x1, y1, x2, y2 = lon[at], lat[at], lon[at + 1], lat[at + 1]

    def make() -> Arrays:
        cell_start, cell_edges = _index(x1, y1, x2, y2)
        winding = _reference_winding(x1, y1, x2, y2)
        return {"cell_start": cell_start, "cell_edges": cell_edges, "winding": winding}

    made_from = blake2b(source.read_bytes() + Path(__file__).read_bytes()).digest()
    return Coastline(lon, lat, start, box, x1, y1, x2, y2, **kept("coast", made_from, make))


def _unpack(steps: npt.NDArray[np.int32], start: Ints) -> Ints:
    total = np.cumsum(steps, dtype=np.int64)
    before = np.concatenate([[0], total[start[1:-1] - 1]])
    return total - np.repeat(before, np.diff(start))


def cell_of(lon_deg: Floats, lat_deg: Floats) -> tuple[Ints, Ints]:
    """Column and row of the cell of each point; the far edges belong to the last."""
    column = np.floor((lon_deg + 180.0) / CELL_DEG).astype(np.int64)
    row = np.floor((lat_deg + 90.0) / CELL_DEG).astype(np.int64)
    return np.clip(column, 0, _COLUMNS - 1), np.clip(row, 0, _ROWS - 1)


def spread(counts: Ints) -> tuple[Ints, Ints]:
    """For counts n_i: the item i repeated n_i times, and 0 to n_i - 1 beside it."""
    item = np.repeat(np.arange(counts.size), counts)
    ends = np.cumsum(counts)
    return item, np.arange(item.size) - np.repeat(ends - counts, counts)


def cells_of_segments(x1: Floats, y1: Floats, x2: Floats, y2: Floats) -> tuple[Ints, Ints]:
    """Pairs of segment and cell over the cells of each segment's bounding box."""
    column1, row1 = cell_of(np.minimum(x1, x2), np.minimum(y1, y2))
    column2, row2 = cell_of(np.maximum(x1, x2), np.maximum(y1, y2))
    wide = column2 - column1 + 1
    segment, place = spread(wide * (row2 - row1 + 1))
    row, column = np.divmod(place, wide[segment])
    return segment, (row1[segment] + row) * _COLUMNS + column1[segment] + column


def _index(
    x1: Floats, y1: Floats, x2: Floats, y2: Floats
) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.int32]]:
    edge, cell = cells_of_segments(x1, y1, x2, y2)
    order = np.argsort(cell, kind="stable")
    counts = np.bincount(cell, minlength=_COLUMNS * _ROWS)
    ends = np.concatenate([[0], np.cumsum(counts)])
    return ends.astype(np.int32), edge[order].astype(np.int32)


def _reference_winding(x1: Floats, y1: Floats, x2: Floats, y2: Floats) -> npt.NDArray[np.int16]:
    """Winding number at the reference point of every cell, row after row.

    Along the parallel through the reference points of a row the number changes by one
    at every edge crossed; west of all edges it is zero.
    """
    level = (np.arange(_ROWS) + _REFERENCE) * CELL_DEG - 90.0
    low = np.searchsorted(level, np.minimum(y1, y2), side="left")
    high = np.searchsorted(level, np.maximum(y1, y2), side="left")
    edge, place = spread(high - low)
    row = low[edge] + place
    share = (level[row] - y1[edge]) / (y2[edge] - y1[edge])
    x = x1[edge] + share * (x2[edge] - x1[edge])
    # Land on the left of the edge: going down means entering when sailing east.
    step = np.where(y2[edge] < y1[edge], 1, -1)
    reference = (np.arange(_COLUMNS) + _REFERENCE) * CELL_DEG - 180.0
    column = np.searchsorted(reference, x, side="left")
    # A million cells: small integers keep them in two megabytes.
    change = np.zeros((_ROWS, _COLUMNS + 1), dtype=np.int16)
    np.add.at(change, (row, column), step.astype(np.int16))
    return np.cumsum(change[:, :-1], axis=1, dtype=np.int16).ravel()


def winding_number(lon_deg: Floats, lat_deg: Floats) -> Ints:
    """Winding number at points (n,); longitudes in [-180, 180]."""
    coast = load_coastline()
    column, row = cell_of(lon_deg, lat_deg)
    cell = row * _COLUMNS + column
    x0 = np.asarray((column + _REFERENCE) * CELL_DEG - 180.0, dtype=np.float64)
    y0 = np.asarray((row + _REFERENCE) * CELL_DEG - 90.0, dtype=np.float64)
    result = coast.winding[cell].astype(np.int64)
    counts = coast.cell_start[cell + 1] - coast.cell_start[cell]
    busy = np.flatnonzero(counts)
    ends = np.cumsum(counts[busy])
    begin = 0
    while begin < busy.size:
        done = int(ends[begin - 1]) if begin else 0
        end = max(begin + 1, int(np.searchsorted(ends, done + _PAIRS, side="right")))
        part = busy[begin:end]
        item, place = spread(counts[part])
        edge = coast.cell_edges[coast.cell_start[cell[part]][item] + place]
        step = _crossings(
            coast,
            edge,
            x0[part][item],
            y0[part][item],
            lon_deg[part][item],
            lat_deg[part][item],
        )
        result[part] += np.bincount(item, weights=step, minlength=part.size).astype(int)
        begin = end
    return result


def _crossings(coast: Coastline, edge: Ints, x0: Floats, y0: Floats, x: Floats, y: Floats) -> Ints:
    """Change of winding by each edge along the path (x0, y0), (x0, y), (x, y).

    Both parts of the path run along an axis, where an edge counts if its ends lie on
    different sides by the rule "not above", which counts a shared vertex once.
    """
    ax, ay, bx, by = coast.x1[edge], coast.y1[edge], coast.x2[edge], coast.y2[edge]
    with np.errstate(divide="ignore", invalid="ignore"):
        cross_y = ay + (x0 - ax) / (bx - ax) * (by - ay)
        cross_x = ax + (y - ay) / (by - ay) * (bx - ax)
    over_x0 = (ax <= x0) != (bx <= x0)
    north = over_x0 & (y0 < cross_y) & (cross_y <= y)
    south = over_x0 & (y < cross_y) & (cross_y <= y0)
    # Eastward edges have land to the north.
    upward = np.where(bx > ax, 1, -1)
    over_y = (ay <= y) != (by <= y)
    east = over_y & (x0 < cross_x) & (cross_x <= x)
    west = over_y & (x < cross_x) & (cross_x <= x0)
    eastward = np.where(by < ay, 1, -1)
    change = upward * (north.astype(int) - south) + eastward * (east.astype(int) - west)
    return np.asarray(change, dtype=np.int64)
