"""Routes x departures x speeds x fin use, all judged alike: ``passage compare``.

Every combination is computed as a plan is, vectorised over the departures. The result has
a row for each combination, those that are open (within the limits, covered, in time), and
the front of the best trade-offs between fuel and comfort.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.inputs.coast.coastline import legs_over_land
from passage.inputs.route import Route
from passage.physics.fuel.propulsion import co2_tonnes
from passage.planning.compare import choice
from passage.planning.compare.all_odds import count_all
from passage.planning.compare.cell import Cell, CellTask, leg_rows, make_cells
from passage.planning.compare.daylight import SUNRISE_ALTITUDE_DEG, sun_altitude_deg
from passage.planning.compare.gaps import gap_notes, lacks_flow
from passage.planning.compare.odds import CompareOdds, odds_totals
from passage.planning.compare.tasks import make_tasks
from passage.planning.compare.work import run_tasks
from passage.planning.plan.cautions_loop import hunting_note
from passage.planning.plan.cautions_sea import trim_note
from passage.planning.plan.partial import extended_totals
from passage.planning.plan.totals import at_limits_note, fuel_aboard_note
from passage.units import knots_to_m_s

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.plan.result import PlannedPassage
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int_]
Bools = npt.NDArray[np.bool_]

#: A leg may run over the coarse coastline's land for this far into or out of a port. [nm]
APPROACH_NM = 5.0


@dataclass(frozen=True)
class CompareOptions:
    """The user's choices. ``speeds_kn`` empty: the routes' own speeds.

    ``odds`` is the least chance of keeping what is asked [%]. Where the forecast has no
    members it is counted on ``draws`` of the error model ``forecast_error`` (None: the
    usual one).
    """

    departures_s: tuple[float, ...]
    speeds_kn: tuple[float, ...] = ()
    fins: tuple[str, ...] = ("active",)
    comfort: str = "roll"
    budget: float | None = None
    arrive_by_s: float | None = None
    daylight: bool = False
    allow_land: bool = False
    hold: str = "water"
    heel: str = "fins"
    minutes: float = 20.0
    wave_method: str = "all-heading"
    odds: float | None = None
    draws: int = 0
    forecast_error: Any = None

    @property
    def measure(self) -> choice.Measure:
        """The measure of comfort."""
        return choice.MEASURES[self.comfort]


@dataclass(frozen=True, eq=False)
class Comparison:
    """All combinations; arrays over them, in the order route, fins, speed, departure.

    ``totals`` maps names to arrays; ``closed`` holds the bits of ``choice.WHY``,
    0 for an open combination; ``names`` maps "least fuel", "most comfortable" and
    "balanced" to combinations; ``front_open`` is False where no combination is open and
    the front is that of all that are known.
    """

    vessel: Any
    routes: tuple[Route, ...]
    options: CompareOptions
    cells: tuple[Cell, ...]
    cell: Ints
    at: Ints
    totals: dict[str, Array]
    closed: Ints
    front: Bools
    front_open: bool
    names: dict[str, int]
    exclusions: tuple[choice.Exclusion, ...]
    notes: tuple[str, ...] = ()
    plans: dict[int, PlannedPassage] = field(default_factory=dict)
    provenance: dict[str, Any] = field(default_factory=dict)
    chosen: int | None = None
    sea: tuple[Any, ...] = ()
    odds: CompareOdds | None = None

    def __len__(self) -> int:
        """Number of combinations."""
        return int(self.cell.size)

    @property
    def open(self) -> Bools:
        """Where a combination keeps every limit and constraint, (C,)."""
        return self.closed == 0

    @property
    def judges(self) -> bool:
        """Whether any limit is set, or constraint asked, that a combination could break."""
        asked = self.options
        return bool(
            self.vessel.limits.any_set
            or asked.arrive_by_s is not None
            or asked.budget is not None
            or asked.daylight
        )

    @property
    def comfort(self) -> Array:
        """The measure of discomfort, (C,)."""
        return self.totals[self.options.measure.key]

    @property
    def departure_s(self) -> Array:
        """Time of leaving, (C,). [s]"""
        return self.totals["departure_s"]

    @property
    def lacks_flow(self) -> Bools:
        """Where wind or current is missing on more than a fifth of a leg, (C,)."""
        return np.concatenate([lacks_flow(cell) for cell in self.cells])

    def cell_of(self, index: int) -> Cell:
        """The cell of a combination."""
        return self.cells[int(self.cell[index])]

    def label(self, index: int) -> str:
        """Departure, speed and fin use of a combination in words, without its route."""
        from passage.units import utc_text

        cell = self.cell_of(index)
        return f"{utc_text(self.departure_s[index])}, {cell.speed_text}, fins {cell.fins}"

    def front_order(self) -> Ints:
        """The front by rising fuel."""
        rows = np.flatnonzero(self.front)
        order = np.lexsort((self.comfort[rows], self.totals["fuel_l"][rows]))
        return np.asarray(rows[order])

    def legs(self, index: int) -> list[dict[str, Any]]:
        """Leg rows of one combination, with the keys of a plan."""
        cell = self.cell_of(index)
        return leg_rows(cell, self.routes[cell.route], int(self.at[index]))


Progress = Callable[[int, int], None]


def compare(
    yacht: Yacht,
    routes: Sequence[Route],
    forecast: Forecast,
    options: CompareOptions,
    *,
    progress: Progress | None = None,
    extra: Sequence[CellTask] = (),
    tasks: Sequence[CellTask] | None = None,
) -> Comparison:
    """Compute and judge every combination on an open forecast.

    Parameters
    ----------
    yacht : Yacht
        The vessel with her tables.
    routes : sequence of Route
    forecast : Forecast
        Open for the corridor and the hours of all of them.
    options : CompareOptions
    progress : callable, optional
        Called with cells done and cells in all.
    extra : sequence of CellTask
        Further cells, such as speeds chosen leg by leg; all departures are computed.
    tasks : sequence of CellTask, optional
        As `make_tasks` gives them, if made already.
    """
    made, notes = make_tasks(yacht, routes, options)
    work = [*(made if tasks is None else tasks), *extra]
    for task in work:
        yacht.pin(*np.unique(knots_to_m_s(task.track.speed_kn)))
    departures = np.array(options.departures_s, dtype=float)

    def one(task: CellTask) -> list[Cell]:
        return make_cells(
            yacht, task, forecast, departures, options.fins, hold=options.hold, heel=options.heel,
            wave_method=options.wave_method,
        )  # fmt: skip

    found = run_tasks(yacht, work, one, progress)
    pairs = sorted(
        ((cell, task) for task, group in zip(work, found, strict=True) for cell in group),
        key=lambda pair: (pair[0].route, options.fins.index(pair[0].fins)),
    )
    speeds = np.concatenate([np.ravel(task.track.speed_kn) for task in work])
    words = (trim_note(yacht.resistance_hull), hunting_note(yacht, speeds))
    notes += [one[0].upper() + one[1:] for one in words if one]
    made_of = judge(yacht.vessel, routes, options, [cell for cell, _ in pairs], notes=tuple(notes))
    odds = count_all(
        yacht, made_of, pairs, forecast, partial(_judged, yacht.vessel, options), progress
    )
    if odds is None:
        return made_of
    return judge(yacht.vessel, routes, options, made_of.cells, notes=tuple(notes), odds=odds)


def _judged(
    vessel: Any, options: CompareOptions, route: Route, cell: Cell
) -> tuple[dict[str, Array], Ints]:
    """Totals of a cell and why its departures are closed, land not considered."""
    totals = _totals(vessel, route, cell)
    return totals, _closed(vessel, route, cell, totals, options, False)


def judge(
    vessel: Any,
    routes: Sequence[Route],
    options: CompareOptions,
    cells: Sequence[Cell],
    *,
    notes: tuple[str, ...] = (),
    odds: CompareOdds | None = None,
) -> Comparison:
    """Totals, what is open, the front and the reasons, from computed cells."""
    parts = [_totals(vessel, routes[cell.route], cell) for cell in cells]
    totals = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    crossings = [_crosses(route) for route in routes]
    codes = []
    for cell, part in zip(cells, parts, strict=True):
        codes.append(_closed(vessel, routes[cell.route], cell, part, options,
                             bool(crossings[cell.route])))  # fmt: skip
    sizes = [cell.departure_s.size for cell in cells]
    if odds is not None and options.odds is not None:
        # Unknown odds count as too low.
        low = np.where(odds.reach(options.odds), 0, choice.ODDS)
        ends = np.cumsum(sizes)[:-1]
        codes = [code | more for code, more in zip(codes, np.split(low, ends), strict=True)]
    if odds is not None:
        totals |= odds_totals(odds)
    closed = np.concatenate(codes)
    fuel, rough = totals["fuel_l"], totals[options.measure.key]
    is_open = closed == 0
    front_open = bool(np.any(is_open))
    among = is_open if front_open else (closed & (choice.UNKNOWN | choice.LAND)) == 0
    front = np.zeros(closed.shape, dtype=bool)
    rows = np.flatnonzero(among)
    front[rows] = choice.non_dominated(fuel[rows], rough[rows])
    share = totals["limit_share"]
    if odds is not None and options.odds is not None:
        share = np.where(np.isnan(odds.asked), np.nan, 100.0 - odds.asked)
    words = (
        fuel_aboard_note(vessel, fuel, "combinations"),
        at_limits_note(totals["worst_leg_fin_at_limit_percent"], "combinations"),
    )
    return Comparison(
        vessel=vessel,
        routes=tuple(routes),
        options=options,
        cells=tuple(cells),
        cell=np.repeat(np.arange(len(cells)), sizes),
        at=np.concatenate([np.arange(size) for size in sizes]),
        totals=totals,
        closed=closed,
        front=front,
        front_open=front_open,
        names=choice.front_names(fuel, rough, front, None if front_open else share, among),
        exclusions=choice.exclusions(vessel, routes, cells, codes, crossings),
        notes=(
            *notes,
            *gap_notes(routes, cells),
            *(f"{one[0].upper()}{one[1:]}." for one in words if one),
        ),
        odds=odds,
    )


def _crosses(route: Route) -> tuple[str, ...]:
    """Legs over land, except approaches to a port that the coarse coastline closes."""
    return tuple(
        found.text
        for found in legs_over_land(route)
        if not (found.only_at_ends and found.over_land_nm <= APPROACH_NM)
    )


_SUMS = (
    "fuel_l", "fuel_still_water_l", "fuel_waves_l", "fuel_wind_l", "fuel_fins_active_l",
    "fuel_fins_offset_l", "fuel_list_l", "fuel_hotel_l", "hours",
)  # fmt: skip
_WORST = (
    "significant_height_m", "roll_centred_significant_deg", "roll_active_significant_deg",
    "lateral_acceleration_rms_g", "vertical_acceleration_rms_g", "fin_at_limit_percent",
    "motion_sickness_percent",
)  # fmt: skip


def _totals(vessel: Any, route: Route, cell: Cell) -> dict[str, Array]:
    """Totals of a cell, a value for each departure; NaN where any leg is not known."""
    totals: dict[str, Array] = {"departure_s": cell.departure_s, "eta_s": cell.end_s[:, -1]}
    totals["distance_nm"] = np.sum(cell.legs["distance_nm"], axis=-1)
    for name in _SUMS:
        totals[name] = np.sum(cell.legs[name], axis=-1)
    for name in _WORST:
        totals[f"worst_leg_{name}"] = np.max(cell.legs[name], axis=-1)
    totals["worst_window_roll_significant_deg"] = np.max(
        cell.legs["window_roll_significant_deg"], axis=-1
    )
    totals["worst_window_lateral_acceleration_rms_g"] = np.max(
        cell.legs["window_lateral_acceleration_rms_g"], axis=-1
    )
    totals["fuel_extended_l"], totals["known_percent"] = extended_totals(
        cell.covered_fuel_l, cell.known_h, cell.legs["hours"]
    )
    with np.errstate(invalid="ignore", divide="ignore"):
        totals["mean_roll_significant_deg"] = cell.roll_degree_hours / totals["hours"]
    totals["roll_degree_hours"] = cell.roll_degree_hours
    totals["hours_over_roll_limit"] = cell.hours_over_limit
    totals["fin_travel_deg"] = cell.travel_deg
    density = vessel.propulsion.fuel_density_t_m3
    totals["co2_t"] = np.asarray(co2_tonnes(totals["fuel_l"], density))
    if vessel.money is not None:
        totals["cost"] = totals["fuel_l"] * vessel.money.fuel_price_per_l
    totals["limit_share"] = choice.limit_share(
        choice.check_limits(vessel, route, cell), cell.departure_s.size
    )
    last = route.legs[-1]
    totals["arrival_sun_altitude_deg"] = sun_altitude_deg(
        totals["eta_s"], last.lat_to_deg, last.lon_to_deg
    )
    return totals


def _closed(
    vessel: Any,
    route: Route,
    cell: Cell,
    totals: dict[str, Array],
    options: CompareOptions,
    over_land: bool,
) -> Ints:
    """The reasons why each departure of a cell is closed, as bits."""
    code = np.zeros(cell.departure_s.shape, dtype=int)
    checks = choice.check_limits(vessel, route, cell)
    rough = totals[options.measure.key]
    unknown = np.isnan(totals["fuel_l"]) | np.isnan(rough) | np.isnan(totals["eta_s"])
    for check in checks:
        code |= np.where(np.any(check.exceeded, axis=-1), choice.LIMIT, 0)
        unknown |= np.any(check.unknown, axis=-1)
    code |= np.where(unknown, choice.UNKNOWN, 0)
    code |= np.where(choice.hunts(cell), choice.HUNT, 0)
    code |= np.where(cell.no_way, choice.NO_WAY, 0)
    code |= np.where(cell.flow_missing, choice.FLOW, 0)
    if options.arrive_by_s is not None:
        code |= np.where(totals["eta_s"] > options.arrive_by_s, choice.LATE, 0)
    if options.daylight:
        dark = totals["arrival_sun_altitude_deg"] < SUNRISE_ALTITUDE_DEG
        code |= np.where(dark, choice.DARK, 0)
    if options.budget is not None:
        code |= np.where(rough > options.budget, choice.BUDGET, 0)
    if over_land and not options.allow_land:
        code |= choice.LAND
    return code
