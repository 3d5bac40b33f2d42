"""The graph of a search: a grid along the great circle, without closed water.

Nodes lie on lines across the great circle from start to end, so that the grid contains the
straight passage. Edges go to every neighbour up to four cells away in either direction
with no other node on the line to it: 48 headings. Start and end are extra nodes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.errors import RouteError
from passage.inputs.route.geometry import WGS84, great_circle_inverse, great_circle_points
from passage.units import m_to_nm, nm_to_m, wrap_180, wrap_360

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int_]
Bools = npt.NDArray[np.bool_]

#: Neighbours reach this many cells: 48 headings, at most 14.1 degrees apart.
REACH = 4
#: A path on the grid is longer than a straight line between its headings by at most this factor.
GRID_ERROR = 1.0 / math.cos(0.5 * math.atan2(1.0, REACH))
#: More nodes than this come from a mistyped cell size.
MAX_NODES = 20_000


@dataclass(frozen=True, eq=False)
class Graph:
    """Nodes and directed edges; node 0 is the start and node 1 the end.

    Edges are sorted by their first node; ``first_edge[n]`` to ``first_edge[n + 1]`` are
    those that leave node n. ``course_rad`` is the true course in the middle of an edge.
    Edges of the same direction on the grid have the same number in ``move``; it is 0 for
    edges to or from start and end that are not on a grid line.
    """

    lat_deg: Array
    lon_deg: Array
    tail: Ints
    head: Ints
    length_m: Array
    course_rad: Array
    middle_lat_deg: Array
    middle_lon_deg: Array
    move: Ints
    first_edge: Ints

    @property
    def edges(self) -> int:
        """Number of edges."""
        return int(self.tail.size)


@dataclass(frozen=True)
class GridPlan:
    """Position and size of the grid; ``turn_deg`` turns it off the great circle (for tests)."""

    start: tuple[float, float]
    end: tuple[float, float]
    cell_nm: float
    width_nm: float
    box: tuple[float, float, float, float] | None = None
    turn_deg: float = 0.0


def grid_nodes(plan: GridPlan) -> tuple[Array, Array, Ints, Ints]:
    """Latitude, longitude and grid indices of the nodes, start and end first.

    Raises
    ------
    RouteError
        Start and end are the same place, or the grid would be too large.
    """
    distance_m, course = great_circle_inverse(*plan.start, *plan.end)
    distance_nm = float(m_to_nm(distance_m))
    if not distance_nm > 0.1:
        raise RouteError("start and end are the same place: there is no route to search.")
    cells = max(2, round(distance_nm / plan.cell_nm))
    step_m = float(distance_m) / cells
    side = max(1, round(float(nm_to_m(plan.width_nm)) / step_m))
    beyond = min(side, 4) + (side if plan.turn_deg else 0)
    total = (cells + 1 + 2 * beyond) * (2 * side + 1)
    if total > MAX_NODES:
        raise RouteError(
            f"the grid would have {total} nodes, more than {MAX_NODES}. "
            "Give larger cells or a narrower corridor."
        )
    along = np.arange(-beyond, cells + beyond + 1)
    across = np.arange(-side, side + 1)
    bearing = float(course) + plan.turn_deg
    line_lon, line_lat, back = WGS84.fwd(
        np.full(along.shape, plan.start[1]),
        np.full(along.shape, plan.start[0]),
        np.where(along < 0, bearing + 180.0, bearing),
        np.abs(along) * step_m,
    )
    # The course of the line at each station, whichever way it was measured.
    ahead = np.where(along < 0, back, np.asarray(back) + 180.0)
    ahead[along == 0] = bearing
    i, j = (x.ravel() for x in np.meshgrid(along, across, indexing="ij"))
    row = i + beyond
    lon, lat, _ = WGS84.fwd(
        np.asarray(line_lon)[row],
        np.asarray(line_lat)[row],
        wrap_360(ahead[row] + np.where(j < 0, -90.0, 90.0)),
        np.abs(j) * step_m,
    )
    lat, lon = np.asarray(lat), wrap_180(np.asarray(lon))
    keep = np.ones(lat.shape, dtype=bool)
    if plan.box is not None:
        south, north, west, east = plan.box
        inside = wrap_360(lon - west) <= wrap_360(east - west)
        keep = (lat >= south) & (lat <= north) & inside
    if not plan.turn_deg:
        keep &= ~((j == 0) & ((i == 0) | (i == cells)))
    first = [0, cells] if not plan.turn_deg else [-9999, 9999]
    zero = [0, 0]
    return (
        np.r_[plan.start[0], plan.end[0], lat[keep]],
        np.r_[plan.start[1], plan.end[1], lon[keep]],
        np.r_[first, i[keep]],
        np.r_[zero, j[keep]],
    )


def moves() -> list[tuple[int, int]]:
    """Steps over the grid: pairs of coprime numbers, up to `REACH` cells either way."""
    span = range(-REACH, REACH + 1)
    return [(a, b) for a in span for b in span if math.gcd(a, b) == 1]


def make_graph(plan: GridPlan, closed: object = None) -> Graph:
    """Nodes and edges of a grid, without those that are closed.

    Parameters
    ----------
    plan : GridPlan
    closed : object with ``nodes(lat, lon)`` and ``edges(lat1, lon1, lat2, lon2)``, optional
        Each gives True where a place or a line is closed (`suggest.closed`). Start and end
        stay open; lines to them are tested like the others.
    """
    lat, lon, i, j = grid_nodes(plan)
    if closed is not None:
        shut = closed.nodes(lat, lon)  # type: ignore[attr-defined]
        shut[:2] = False
        lat, lon, i, j = lat[~shut], lon[~shut], i[~shut], j[~shut]
    tails, heads, numbers = [], [], []
    index = {(a, b): n for n, (a, b) in enumerate(zip(i.tolist(), j.tolist(), strict=True))}
    for number, (a, b) in enumerate(moves(), 1):
        pairs = [
            (n, index[(p + a, q + b)]) for (p, q), n in index.items() if (p + a, q + b) in index
        ]
        tails += [n for n, _ in pairs]
        heads += [m for _, m in pairs]
        numbers += [number] * len(pairs)
    if plan.turn_deg:
        # Start and end lie between the nodes and are joined to all within reach.
        for end in (0, 1):
            distance_m, _ = great_circle_inverse(
                np.full(lat.shape, lat[end]), np.full(lat.shape, lon[end]), lat, lon
            )
            near = np.flatnonzero((distance_m < REACH * nm_to_m(plan.cell_nm)) & (distance_m > 1.0))
            near = near[near > 1]
            tails += [end] * near.size if end == 0 else near.tolist()
            heads += near.tolist() if end == 0 else [end] * near.size
            numbers += [0] * near.size
    tail, head = np.array(tails, dtype=int), np.array(heads, dtype=int)
    move = np.array(numbers, dtype=int)
    if closed is not None and tail.size:
        fine = ~closed.edges(lat[tail], lon[tail], lat[head], lon[head])  # type: ignore[attr-defined]
        tail, head, move = tail[fine], head[fine], move[fine]
    # No edge leaves the end or returns to the start.
    fine = (tail != 1) & (head != 0)
    order = np.argsort(tail[fine], kind="stable")
    tail, head, move = tail[fine][order], head[fine][order], move[fine][order]
    ends = (lat[tail], lon[tail], lat[head], lon[head])
    length_m, _ = great_circle_inverse(*ends)
    middle = great_circle_points(*ends, np.full(tail.shape, 0.5))
    return Graph(
        lat_deg=lat,
        lon_deg=lon,
        tail=tail,
        head=head,
        length_m=np.asarray(length_m),
        course_rad=np.radians(middle.course_deg),
        middle_lat_deg=middle.lat_deg,
        middle_lon_deg=middle.lon_deg,
        move=move,
        first_edge=np.searchsorted(tail, np.arange(lat.size + 1)),
    )
