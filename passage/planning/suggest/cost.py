"""What sailing each edge costs at each time she could be on it, through the yacht's chain."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.physics.resistance.current import hold_speed_through_water
from passage.planning.voyage.evaluate import evaluate
from passage.planning.voyage.march import March
from passage.planning.voyage.rolling import Choices
from passage.units import HOUR_S, deg_to_rad

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.suggest.grid import Graph
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

#: Time between the columns of the table; the sea is taken as linear in between. [s]
TABLE_STEP_S = 3600.0
#: Points evaluated at once: enough to be quick, few enough to be small.
_BATCH = 60_000


@dataclass(frozen=True, eq=False)
class EdgeTable:
    """Prices of edges over the time she is in their middle.

    Row ``r`` of the flat arrays is edge ``e`` at ``origin_s + (first[e] + r - offset[e]) *
    step_s``. ``hours`` is the duration, ``fuel_l`` litres, ``roll_deg`` the significant
    roll; NaN where anything of it is not known.
    """

    origin_s: float
    step_s: float
    offset: Ints
    first: Ints
    hours: Array
    fuel_l: Array
    roll_deg: Array
    nominal_hours: Array

    @property
    def rows(self) -> int:
        """Number of prices."""
        return int(self.hours.size)


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
    progress: Callable[[int, int], None] | None = None,
) -> EdgeTable:
    """Evaluate every edge over the times she may be on it.

    Parameters
    ----------
    yacht, graph, forecast
    departure_s : float
        Origin of the table's times. [s]
    speed_m_s : float
        Speed through the water. [m/s]
    earliest_s, latest_s : ndarray, (nodes,)
        When each node can be left at the earliest and latest; edges of a node with an
        empty window get no rows. [s]
    choices : Choices
        Fin use and heel, as in a plan; the band is not computed.
    """
    nominal = graph.length_m / speed_m_s
    begin = earliest_s[graph.tail] + 0.5 * nominal - departure_s
    end = latest_s[graph.tail] + 0.5 * nominal - departure_s
    first = np.floor(begin / TABLE_STEP_S).astype(np.int64)
    count = np.where(end >= begin, np.ceil(end / TABLE_STEP_S).astype(np.int64) - first + 1, 0)
    count = np.maximum(count, 0)
    offset = np.r_[0, np.cumsum(count)].astype(np.int64)
    edge = np.repeat(np.arange(graph.edges), count)
    column = np.arange(edge.size) - offset[edge]
    time = departure_s + (first[edge] + column) * TABLE_STEP_S
    out = np.full((3, edge.size), np.nan)
    for low in range(0, edge.size, _BATCH):
        part = slice(low, min(low + _BATCH, edge.size))
        out[:, part] = _prices(yacht, graph, forecast, edge[part], time[part], speed_m_s, choices)
        if progress:
            progress(part.stop, edge.size)
    return EdgeTable(
        departure_s, TABLE_STEP_S, offset, first, out[0], out[1], out[2], nominal / HOUR_S
    )


def _prices(
    yacht: Yacht,
    graph: Graph,
    forecast: Forecast,
    edge: npt.NDArray[np.int_],
    time_s: Array,
    speed_m_s: float,
    choices: Choices,
) -> Array:
    """Hours, litres and roll of edges, (3, points)."""
    # A trailing axis of one: what looks back along a track has nothing to look at here.
    lat, lon = graph.middle_lat_deg[edge][:, None], graph.middle_lon_deg[edge][:, None]
    course = graph.course_rad[edge][:, None]
    sky = forecast.sample(lat, lon, time_s[:, None])
    u = np.nan_to_num(sky.current_u_m_s, nan=0.0)
    v = np.nan_to_num(sky.current_v_m_s, nan=0.0)
    water = hold_speed_through_water(course, np.full(course.shape, speed_m_s), u, v)
    hours = graph.length_m[edge][:, None] / water.speed_over_ground_m_s / HOUR_S
    way = March(
        time_s=time_s[:, None],
        end_time_s=time_s[:, None],
        hours=hours,
        speed_through_water_m_s=water.speed_through_water_m_s,
        speed_over_ground_m_s=water.speed_over_ground_m_s,
        heading_rad=water.heading_rad,
        course_rad=course,
        conditions=sky,
        no_way=np.isnan(water.speed_over_ground_m_s),
        rounds=1,
        converged=True,
    )
    values = evaluate(yacht, way, choices).values
    word = "active" if choices.fins == "active" else "centred"
    return np.stack(
        [hours[:, 0], values["fuel_l"][:, 0], values[f"roll_{word}_significant_deg"][:, 0]]
    )


def plan_choices(yacht: Yacht, fins: str, heel: str, wave_method: str) -> Choices:
    """The choices of a plan, with the list of departure."""
    list_rad = float(deg_to_rad(yacht.vessel.loading.list_deg))
    return Choices(fins=fins, heel=heel, list_rad=list_rad, wave_method=wave_method, band=False)
