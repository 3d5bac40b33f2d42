"""Finalists of a search over the forecast's doubt: mean price, spread, odds of the limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from passage.inputs.route import make_track
from passage.planning.compare.cell import CellTask
from passage.planning.compare.choice import check_limits
from passage.planning.compare.compare import CompareOptions
from passage.planning.compare.daylight import is_daylight
from passage.planning.compare.odds import drawn_cell
from passage.planning.odds.count import percentile
from passage.planning.suggest.judge import SMOOTH
from passage.planning.suggest.smooth import most_apart_nm
from passage.planning.voyage.threads import in_threads
from passage.units import HOUR_S

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.planning.odds.versions import Versions
    from passage.planning.suggest.judge import Judged
    from passage.planning.suggest.search import SearchOptions
    from passage.planning.voyage.yacht import Yacht

#: Most finalists computed over the draws, and how far above the cheapest by the forecast
#: they may be: the doubt in the price does not make up for more.
MOST, DEARER = 8, 0.10
#: Smooth routes that are nowhere further apart than this count as one. [nm]
SAME_NM = 1.0


@dataclass(frozen=True)
class Expected:
    """One route over the draws or members.

    ``price`` is the mean of the objective (litres or degree hours), ``low`` and ``high``
    its 10 and 90 % values; ``odds`` the percentage that keeps the vessel's limits and what
    else is asked, None where that is not known for some version. ``unknown`` is the number
    of versions that are not covered.
    """

    price: float
    low: float
    high: float
    fuel_l: float
    odds: float | None
    unknown: int = 0


def expected_of(
    yacht: Yacht,
    found: Mapping[str, Judged],
    forecast: Forecast,
    options: SearchOptions,
    versions: Versions,
    minutes: float,
) -> dict[str, Expected]:
    """The finalists by name; candidates that are closed or cost much more are left out.

    Those that keep the vessel's limits come first, however cheap the others are. Each is
    compared with the cheapest of its own kind. Where odds are asked for, they decide, so
    none is left out for its price.
    """
    keys = {name: one.key(options.objective) for name, one in found.items() if not one.faults}
    if not keys:
        return {}
    cheapest = {over: min(k[2] for k in keys.values() if k[1] == over)
                for over in {k[1] for k in keys.values()}}  # fmt: skip
    more = DEARER if options.odds is None else np.inf
    names = sorted(
        (name for name, key in keys.items() if key[2] <= cheapest[key[1]] * (1.0 + more)),
        key=lambda name: keys[name],
    )
    names = _unlike(names, found, options)[:MOST]
    made = in_threads(
        names, lambda name: _expected(yacht, found[name], forecast, options, versions, minutes)
    )
    return dict(zip(names, made, strict=True))


def _unlike(names: list[str], found: Mapping[str, Judged], options: SearchOptions) -> list[str]:
    """The names without smooth routes equal to another one; the one of fewest legs is kept."""
    kept: list[str] = []
    for name in sorted(names, key=lambda key: len(found[key].route.legs)):
        if not name.startswith(SMOOTH) or not any(
            other.startswith(SMOOTH) and _alike(found[name], found[other], options)
            for other in kept
        ):
            kept.append(name)
    return [name for name in names if name in kept]


def _alike(one: Judged, other: Judged, options: SearchOptions) -> bool:
    """Whether two routes break the same limits, cost the same and lie within `SAME_NM`."""
    prices = [x.price(options.objective) for x in (one, other)]
    if one.over != other.over or abs(prices[0] - prices[1]) > 1e-4 * max(prices):
        return False
    return (
        max(most_apart_nm(one.route, other.route), most_apart_nm(other.route, one.route)) < SAME_NM
    )


def _expected(
    yacht: Yacht,
    one: Judged,
    forecast: Forecast,
    options: SearchOptions,
    versions: Versions,
    minutes: float,
) -> Expected:
    task = CellTask(0, one.route, make_track(one.route, options.speed_kn, minutes), None, "")
    leave = np.array([one.departure_s])
    asked = CompareOptions(
        departures_s=(one.departure_s,), heel=options.heel, wave_method=options.wave_method
    )
    cell = drawn_cell(yacht, task, options.fins, leave, forecast, versions, asked)
    fuel = np.sum(cell.legs["fuel_l"], axis=-1)
    price = fuel if options.objective == "fuel" else cell.roll_degree_hours
    kept, unsure = np.isfinite(price), np.zeros(price.shape, dtype=bool)
    for check in check_limits(yacht.vessel, one.route, cell):
        kept &= ~np.any(check.exceeded, axis=-1)
        unsure |= np.any(check.unknown, axis=-1)
    if options.roll_limit_deg is not None:
        kept &= cell.worst_roll_deg <= options.roll_limit_deg
    if options.budget is not None:
        kept &= cell.roll_degree_hours <= options.budget
    if options.arrive_by_s is not None:
        kept &= cell.end_s[:, -1] <= options.arrive_by_s + 1.0
    if options.daylight:
        last = one.route.waypoints[-1]
        kept &= is_daylight(cell.end_s[:, -1], last.lat_deg, last.lon_deg)
    missing = ~(np.isfinite(price) & np.isfinite((cell.end_s[:, -1] - leave) / HOUR_S))
    if np.any(missing):
        return Expected(np.inf, np.nan, np.nan, np.nan, None, int(np.count_nonzero(missing)))
    low, high = percentile(price, (10, 90))
    # A version that keeps all that is known of it, but not all is known, is neither.
    odds = None if np.any(kept & unsure) else 100.0 * float(np.mean(kept))
    return Expected(float(price.mean()), float(low), float(high), float(fuel.mean()), odds)
