"""The cost of sailing each edge at each time she could be on it, summed mile by mile."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.inputs.route.geometry import great_circle_points
from passage.planning.suggest.closed import STEP_NM
from passage.planning.suggest.field import (
    COLUMN_S,
    Known,
    Lattice,
    lattice_around,
    make_field,
    price_edges,
)
from passage.planning.voyage.rolling import Choices
from passage.units import HOUR_S, deg_to_rad, m_to_nm
from passage.variables import COVERAGE

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.suggest.grid import Graph
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

#: Time between the columns of the table; the sea is taken as linear in between. [s]
TABLE_STEP_S = 3600.0
#: The same where she may be under way as the forecast ends. [s]
END_STEP_S = 900.0
#: Cell of the lattice where none is given. [nm]
_LATTICE_NM = 10.0
#: Gaps of the forecast that depend on the place only.
_PLACELESS = tuple(COVERAGE.index(word) for word in ("outside_area", "masked"))


@dataclass(frozen=True, eq=False)
class EdgeTable:
    """Prices of edges by the time at which she passes their middle.

    Row ``r`` of the flat arrays is edge ``e`` at ``origin_s + (first[e] + r - offset[e]) *
    step_s``. ``hours`` is the duration, ``fuel_l`` litres, ``roll_deg`` the significant
    roll as a mean over time, ``worst_deg`` its largest value on the edge (None: the mean
    is used). NaN where any part of the edge is not known.
    """

    origin_s: float
    step_s: float
    offset: Ints
    first: Array
    hours: Array
    fuel_l: Array
    roll_deg: Array
    nominal_hours: Array
    worst_deg: Array | None = None


@dataclass(eq=False)
class Shared:
    """Data shared by searches of other departures, speeds and limits on the same graph.

    ``last`` is the last prepared search, with its options.
    """

    graph: Graph | None = None
    pieces: _Pieces | None = None
    by_speed: dict[float, Known] = field(default_factory=dict)
    last: tuple[Any, Any] | None = None


@dataclass(frozen=True, eq=False)
class _Pieces:
    """Edges cut into short pieces.

    ``of`` is the edge of each piece; position, course and ``share`` (along the edge) are
    those of its middle, ``row`` and ``column`` its place on the lattice. ``number`` is the
    count of pieces of each edge.
    """

    of: Ints
    lat_deg: Array
    lon_deg: Array
    course_rad: Array
    share: Array
    number: Ints
    lattice: Lattice
    row: Array
    column: Array


def edge_table(
    yacht: Yacht,
    graph: Graph,
    forecast: Forecast,
    *,
    departure_s: float,
    speed_m_s: float,
    earliest_s: Array,
    latest_s: Array,
    choices: Choices,
    lattice_nm: float = _LATTICE_NM,
    end_s: float = np.inf,
    shared: Shared | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> EdgeTable:
    """Price every edge over the times she may be on it.

    An edge is cut into pieces of at most `STEP_NM`, as for the test of land. An edge with a
    piece where the forecast has no sea gets no price.

    Parameters
    ----------
    yacht, graph, forecast
    departure_s : float
        Origin of the table's times. [s]
    speed_m_s : float
        Speed through the water. [m/s]
    earliest_s, latest_s : ndarray, (nodes,)
        Earliest and latest time at which each node can be left; edges of a node with an
        empty interval get no rows. [s]
    choices : Choices
        Fin use and heel, as in a plan; the band is not computed.
    lattice_nm : float
        Distance between the places at which fuel and roll are computed. [nm]
    end_s : float
        Time to which the forecast reaches. Where she may be under way then, a column of the
        field lies there and rows are closer, so that little of it is lost. [s]
    shared : Shared, optional
        Data from other searches on the same graph, with the same choices.
    """
    step_s, column_s = TABLE_STEP_S, COLUMN_S
    if departure_s + END_STEP_S < end_s < np.max(latest_s[np.isfinite(latest_s)], initial=-np.inf):
        step_s = END_STEP_S
        # A second is left, so that rounding puts no column past the end.
        span = end_s - 1.0 - departure_s
        column_s = span / np.ceil(span / COLUMN_S)
    nominal = graph.length_m / speed_m_s
    begin = earliest_s[graph.tail] + 0.5 * nominal - departure_s
    end = latest_s[graph.tail] + 0.5 * nominal - departure_s
    # The rows of an edge begin when it can first be left: no earlier times are needed.
    first = np.where(np.isfinite(begin), begin / step_s - 1e-6, 0.0)
    hours = np.where(end >= begin, (end - begin) / step_s, -1.0)
    count = np.where(hours >= 0.0, np.ceil(hours + 2e-6) + 1.0, 0.0).astype(np.int64)
    offset = np.r_[0, np.cumsum(count)].astype(np.int64)
    edge = np.repeat(np.arange(graph.edges), count)
    column = np.arange(edge.size) - offset[edge]
    time = departure_s + (first[edge] + column) * step_s
    out = np.full((4, edge.size), np.nan)
    if edge.size:
        shared = shared or Shared()
        if shared.pieces is None:
            shared.pieces = _pieces(graph, lattice_nm)
        cut = shared.pieces
        lag = (cut.share - 0.5) * nominal[cut.of]
        low = departure_s + first[cut.of] * step_s + lag
        asked = count[cut.of] > 0
        from_s, to_s = _windows(
            cut.lattice, cut.row[asked], cut.column[asked], low[asked],
            (low + (count[cut.of] - 1) * step_s)[asked],
        )  # fmt: skip
        field = make_field(
            yacht, forecast, cut.lattice, from_s=from_s, to_s=to_s, origin_s=departure_s,
            speed_m_s=speed_m_s, choices=choices, column_s=column_s,
            known=shared.by_speed.setdefault(speed_m_s, Known()), progress=progress,
        )  # fmt: skip
        starts = np.r_[0, np.cumsum(cut.number)].astype(np.int64)
        price_edges(
            edge, time, starts, cut.row, cut.column, cut.course_rad, lag,
            graph.length_m[cut.of] / cut.number[cut.of], cut.lattice.number, field.origin_s,
            field.column_s, field.rate, field.roll, field.east, field.north, speed_m_s, out,
        )  # fmt: skip
        shut = _no_sea(
            forecast, graph.edges, cut.of[asked], cut.lat_deg[asked], cut.lon_deg[asked],
            np.maximum(low, departure_s)[asked],
        )  # fmt: skip
        out[:, shut[edge]] = np.nan
    return EdgeTable(
        departure_s, step_s, offset, first, out[0], out[1], out[2], nominal / HOUR_S, out[3]
    )


def _pieces(graph: Graph, lattice_nm: float) -> _Pieces:
    """All edges in pieces of at most `STEP_NM`, on a lattice of that size."""
    length_nm = np.asarray(m_to_nm(graph.length_m))
    number = np.maximum(1, np.ceil(length_nm / STEP_NM)).astype(np.int64)
    of = np.repeat(np.arange(graph.edges), number)
    start = np.cumsum(number) - number
    share = (np.arange(of.size) - start[of] + 0.5) / number[of]
    tail, head = graph.tail[of], graph.head[of]
    points = great_circle_points(
        graph.lat_deg[tail], graph.lon_deg[tail], graph.lat_deg[head], graph.lon_deg[head], share
    )
    lattice = lattice_around(points.lat_deg, points.lon_deg, lattice_nm)
    row, column = lattice.place(points.lat_deg, points.lon_deg)
    course = np.asarray(deg_to_rad(points.course_deg))
    return _Pieces(of, points.lat_deg, points.lon_deg, course, share, number, lattice, row, column)


def _windows(
    lattice: Lattice, row: Array, place: Array, low: Array, high: Array
) -> tuple[Array, Array]:
    """First and last time at which each corner is needed. [s]"""
    from_s = np.full(lattice.lat_deg.size, np.inf)
    to_s = np.full(lattice.lat_deg.size, -np.inf)
    i, j = np.floor(row).astype(np.int64), np.floor(place).astype(np.int64)
    for a in (0, 1):
        for b in (0, 1):
            corner = lattice.number[i + a, j + b]
            np.minimum.at(from_s, corner, low)
            np.maximum.at(to_s, corner, high)
    return from_s, to_s


def _no_sea(
    forecast: Forecast, edges: int, of: Ints, lat: Array, lon: Array, time_s: Array
) -> npt.NDArray[np.bool_]:
    """Edges with a piece outside the forecast's area or where it has no sea."""
    shut = np.zeros(edges, dtype=bool)
    for low in range(0, of.size, 100_000):
        part = slice(low, low + 100_000)
        code = forecast.sample(lat[part], lon[part], time_s[part]).coverage
        shut[of[part][np.isin(code, _PLACELESS)]] = True
    return shut


def plan_choices(yacht: Yacht, fins: str, heel: str, wave_method: str) -> Choices:
    """The choices of a plan, with the list at departure."""
    list_rad = float(deg_to_rad(yacht.vessel.loading.list_deg))
    return Choices(fins=fins, heel=heel, list_rad=list_rad, wave_method=wave_method, band=False)
