"""Least-cost paths through nodes and time, exact on the graph.

State: (node, time step). She leaves a node the moment she reaches it: no waiting. Every
arrival time is a state of its own, so an early arrival is not taken to be better (no FIFO
property is needed). The duration of an edge is rounded to whole steps, at least one; its
costs are those of the table, unrounded. An edge with any unknown value is closed.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.physics.compiled import compile_loop
from passage.units import HOUR_S

if TYPE_CHECKING:
    from passage.planning.suggest.cost import EdgeTable
    from passage.planning.suggest.grid import Graph

Array = npt.NDArray[np.float64]

#: Length of a time step. [s]
STEP_S = 60.0
#: Most labels of a search with a budget.
MAX_LABELS = 4_000_000


@dataclass(frozen=True)
class Path:
    """Edges of a path, its cost and its arrival (``steps`` after departure).

    ``fuel_l`` and ``roll_hours`` (degree hours of significant roll) are sums over the
    edges, ``worst_roll_deg`` the largest significant roll of any edge.
    """

    edges: tuple[int, ...]
    steps: int
    hours: float
    fuel_l: float
    roll_hours: float
    worst_roll_deg: float


@compile_loop
def _price(e, k, step_h, column_h, offset, first, nominal, hours, fuel, roll, worst, out):  # type: ignore[no-untyped-def]
    """Hours, litres, roll of edge ``e`` left at step ``k``; False where not known."""
    place = (k * step_h + 0.5 * nominal[e]) / column_h - first[e]
    low = int(np.floor(place))
    count = offset[e + 1] - offset[e]
    # The end of the last interval is inside the table.
    if low == count - 1 and place - low < 1e-9:
        low = max(count - 2, 0)
    if (low < 0 or low + 1 >= count) and not (count == 1 and low == 0):
        return False
    share = place - low
    a = offset[e] + low
    b = a + 1 if count > 1 else a
    out[0] = hours[a] + share * (hours[b] - hours[a])
    out[1] = fuel[a] + share * (fuel[b] - fuel[a])
    out[2] = roll[a] + share * (roll[b] - roll[a])
    out[3] = worst[a] + share * (worst[b] - worst[a])
    return out[0] == out[0] and out[1] == out[1] and out[2] == out[2] and out[0] > 0.0


@compile_loop
def _to_go(first_edge, head, last_k, weights, cap, step_h, column_h, offset, first,  # type: ignore[no-untyped-def]
           nominal, hours, fuel, roll, worst, low_k, high_k, best, choice):  # fmt: skip
    """Cheapest path to the end from every node and step; node 1 is the end.

    Fills ``best`` and ``choice``, of shape (last_k + 1, nodes); they stay infinity and -1
    where there is no path.
    """
    nodes = first_edge.size - 1
    out = np.empty(4)
    for k in range(last_k, -1, -1):
        for n in range(nodes):
            if n == 1:
                best[k, n] = 0.0
                continue
            if k < low_k[n] or k > high_k[n]:
                continue
            for e in range(first_edge[n], first_edge[n + 1]):
                if not _price(e, k, step_h, column_h, offset, first, nominal, hours, fuel, roll,
                              worst, out):  # fmt: skip
                    continue
                if out[3] > cap:
                    continue
                later = k + max(1, int(np.rint(out[0] / step_h)))
                if later > last_k or later < 0:
                    continue
                ahead = best[later, head[e]]
                if ahead == np.inf:
                    continue
                total = weights[0] * out[1] + weights[1] * out[2] * out[0] + ahead
                if total < best[k, n]:
                    best[k, n] = total
                    choice[k, n] = e


@compile_loop
def _labels(first_edge, head, last_k, budget, rate, bound, cap, step_h, column_h, offset,  # type: ignore[no-untyped-def]
            first, nominal, hours, fuel, roll, worst, fuel_go, rough_go, mixed_go, l_fuel, l_rough,
            l_next, l_parent, l_edge, l_node, l_step, l_live, heads):  # fmt: skip
    """Label search for least fuel under a budget; returns (number of labels, best label).

    ``bound`` is the fuel of the best known path. A label is dropped where the least still
    to come, in fuel, in roughness or in their mixture, takes it over the bound or the
    budget. ``heads`` (last_k + 1, nodes) is the first label of each state, -1 for none.
    """
    out = np.empty(4)
    nodes = first_edge.size - 1
    l_fuel[0] = l_rough[0] = 0.0
    l_next[0] = l_parent[0] = l_edge[0] = -1
    l_node[0] = l_step[0] = 0
    l_live[0] = True
    heads[0, 0] = 0
    count = 1
    best = -1
    for k in range(last_k + 1):
        for n in range(nodes):
            label = heads[k, n]
            while label >= 0:
                if n == 1:
                    if l_live[label] and l_fuel[label] < bound:
                        bound = l_fuel[label]
                        best = label
                    label = l_next[label]
                    continue
                if not l_live[label]:
                    label = l_next[label]
                    continue
                for e in range(first_edge[n], first_edge[n + 1]):
                    if not _price(e, k, step_h, column_h, offset, first, nominal, hours, fuel,
                                  roll, worst, out):  # fmt: skip
                        continue
                    if out[3] > cap:
                        continue
                    later = k + max(1, int(np.rint(out[0] / step_h)))
                    if later > last_k:
                        continue
                    m = head[e]
                    f = l_fuel[label] + out[1]
                    r = l_rough[label] + out[2] * out[0]
                    if r + rough_go[later, m] > budget or f + fuel_go[later, m] >= bound:
                        continue
                    if f + rate * r + mixed_go[later, m] - rate * budget >= bound:
                        continue
                    other = heads[later, m]
                    worse = False
                    while other >= 0:
                        if l_live[other]:
                            if l_fuel[other] <= f and l_rough[other] <= r:
                                worse = True
                                break
                            if f <= l_fuel[other] and r <= l_rough[other]:
                                l_live[other] = False
                        other = l_next[other]
                    if worse:
                        continue
                    if count == l_fuel.size:
                        return -1, -1
                    l_fuel[count], l_rough[count] = f, r
                    l_parent[count], l_edge[count] = label, e
                    l_node[count], l_step[count] = m, later
                    l_live[count] = True
                    l_next[count] = heads[later, m]
                    heads[later, m] = count
                    count += 1
                label = l_next[label]
    return count, best


class Search:
    """Searches on one graph with one table of prices."""

    def __init__(
        self,
        graph: Graph,
        table: EdgeTable,
        last_step: int,
        earliest_s: Array | None = None,
        latest_s: Array | None = None,
    ) -> None:
        self._graph, self._last = graph, last_step
        nodes = graph.lat_deg.size
        # States outside these cannot lie on a path; with a step on either side for rounding.
        low, high = np.zeros(nodes), np.full(nodes, float(last_step))
        if earliest_s is not None:
            low = np.floor((earliest_s - table.origin_s) / STEP_S) - 1.0
        if latest_s is not None:
            high = np.ceil((latest_s - table.origin_s) / STEP_S) + 1.0
        self._low = np.clip(low, 0.0, last_step + 1.0).astype(np.int64)
        self._high = np.clip(high, -1.0, last_step).astype(np.int64)
        self._numbers: tuple[Any, ...] = (
            STEP_S / HOUR_S,
            table.step_s / HOUR_S,
            table.offset,
            table.first,
            table.nominal_hours,
            table.hours,
            table.fuel_l,
            table.roll_deg,
            table.roll_deg if table.worst_deg is None else table.worst_deg,
        )

    def to_go(self, fuel: float, rough: float, cap: float = np.inf) -> tuple[Array, Any]:
        """Weighted cost to the end from every (step, node), and the edge to take."""
        shape = (self._last + 1, self._graph.lat_deg.size)
        best, choice = np.full(shape, np.inf), np.full(shape, -1, dtype=np.int32)
        _to_go(
            self._graph.first_edge,
            self._graph.head,
            self._last,
            np.array([fuel, rough]),
            cap,
            *self._numbers,
            self._low,
            self._high,
            best,
            choice,
        )
        return best, choice

    def best(self, fuel: float, rough: float, cap: float = np.inf) -> Path | None:
        """The path of least ``fuel x litres + rough x degree hours``; None if there is none.

        Edges on which the significant roll exceeds ``cap`` [deg] are not used.
        """
        _, choice = self.to_go(fuel, rough, cap)
        return self._follow(choice)

    def _follow(self, choice: Any) -> Path | None:
        node, k, edges = 0, 0, []
        while node != 1:
            e = int(choice[k, node])
            if e < 0:
                return None
            edges.append(e)
            k += self._steps(e, k)
            node = int(self._graph.head[e])
        return self.path(edges)

    def _steps(self, e: int, k: int) -> int:
        out = np.empty(4)
        _price(e, k, *self._numbers, out)
        return max(1, int(np.rint(out[0] / self._numbers[0])))

    def path(self, edges: list[int]) -> Path:
        """The path along edges sailed in this order from departure, with its sums."""
        k, hours, fuel, rough, worst = 0, 0.0, 0.0, 0.0, 0.0
        out = np.empty(4)
        for e in edges:
            if not _price(e, k, *self._numbers, out):
                raise ValueError("the path uses an edge whose price is not known")
            hours += float(out[0])
            fuel += float(out[1])
            rough += float(out[2] * out[0])
            worst = max(worst, float(out[3]))
            k += self._steps(e, k)
        return Path(tuple(edges), k, hours, fuel, rough, worst)

    def within_budget(self, budget: float, cap: float = np.inf) -> Path | None:
        """Least fuel among paths of at most ``budget`` degree hours; None if there is none.

        The price of roughness (a Lagrange multiplier) is varied until it gives a lower
        bound and a path within the budget; a label search then closes the gap exactly.

        Raises
        ------
        ValueError
            More labels than `MAX_LABELS` would be needed.
        """
        fuel_go, choice = self.to_go(1.0, 0.0, cap)
        cheapest = self._follow(choice)
        if cheapest is None or cheapest.roll_hours <= budget:
            return cheapest
        rough_go, choice = self.to_go(0.0, 1.0, cap)
        smoothest = self._follow(choice)
        assert smoothest is not None
        if smoothest.roll_hours > budget:
            return None
        best, rate, mixed = self._bracket(cheapest, smoothest, budget, cap)
        found = self._close_gap(best, rate, mixed, budget, cap, fuel_go, rough_go)
        return best if found is None else found

    def _bracket(
        self, cheap: Path, smooth: Path, budget: float, cap: float
    ) -> tuple[Path, float, Array]:
        """Best path on the convex hull within the budget, the multiplier, and costs to go."""
        while True:
            drop = cheap.roll_hours - smooth.roll_hours
            rate = (smooth.fuel_l - cheap.fuel_l) / drop if drop > 0.0 else 0.0
            mixed, choice = self.to_go(1.0, rate, cap)
            middle = self._follow(choice)
            assert middle is not None
            value = middle.fuel_l + rate * middle.roll_hours
            edge = cheap.fuel_l + rate * cheap.roll_hours
            if value >= edge - 1e-9 * max(1.0, abs(edge)):
                return smooth, rate, mixed
            if middle.roll_hours <= budget:
                smooth = middle
            else:
                cheap = middle

    def _close_gap(
        self,
        best: Path,
        rate: float,
        mixed: Array,
        budget: float,
        cap: float,
        fuel_go: Array,
        rough_go: Array,
    ) -> Path | None:
        size = 50_000
        while True:
            arrays = (np.empty(size), np.empty(size))
            links = tuple(np.empty(size, dtype=np.int32) for _ in range(5))
            heads = np.full(mixed.shape, -1, dtype=np.int32)
            live = np.zeros(size, dtype=np.bool_)
            count, label = _labels(
                self._graph.first_edge, self._graph.head, self._last, budget * (1.0 + 1e-12), rate,
                best.fuel_l - 1e-9, cap, *self._numbers, fuel_go, rough_go, mixed,
                *arrays, *links, live, heads,
            )  # fmt: skip
            if count >= 0:
                break
            if size >= MAX_LABELS:
                raise ValueError(
                    "the budgeted search holds too many ways at once: take larger cells, or "
                    "another budget"
                )
            size = min(8 * size, MAX_LABELS)
        if label < 0:
            return None
        parent, edge = links[1], links[2]
        edges: list[int] = []
        while parent[label] >= 0:
            edges.append(int(edge[label]))
            label = int(parent[label])
        return self.path(edges[::-1])


def earliest_and_latest(
    graph: Graph, departure_s: float, arrive_by_s: float, fastest_m_s: float
) -> tuple[Array, Array]:
    """Earliest time at which each node can be reached, and latest at which to leave it. [s]

    By the shortest path over the graph at the highest speed over the ground; infinite
    where a node is not joined to start or end.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import dijkstra

    size = graph.lat_deg.size
    weights = coo_array((graph.length_m, (graph.tail, graph.head)), shape=(size, size)).tocsr()
    from_start = dijkstra(weights, indices=0) / fastest_m_s
    to_end = dijkstra(weights.T.tocsr(), indices=1) / fastest_m_s
    latest = arrive_by_s - to_end
    return departure_s + from_start, np.where(np.isfinite(to_end), latest, -np.inf)
