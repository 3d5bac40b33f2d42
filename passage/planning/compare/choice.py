"""Which combinations are open, which of them are best trade-offs, and why others are closed.

All arrays here are over combinations ``(C,)`` or over departures and legs ``(D, legs)``.
A combination that is not known in full is never open.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.route import Route
from passage.planning.plan.partial import remedy_words
from passage.planning.voyage.limits import LIMIT_KEYS, limits_of, slack
from passage.planning.voyage.rolling import driven_by_fins
from passage.variables import BY_NAME, COVERAGE

if TYPE_CHECKING:
    from passage.inputs.vessel import Vessel
    from passage.planning.compare.cell import Cell

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class Measure:
    """A measure of discomfort: key of the totals, words, unit, decimals."""

    key: str
    heading: str
    meaning: str
    unit: str
    decimals: int = 1


#: Measures of discomfort; smaller is better in all.
MEASURES: dict[str, Measure] = {
    "roll": Measure(
        "worst_window_roll_significant_deg",
        "worst roll",
        "roll of the worst hour (the owner's window), significant single amplitude, fins as used",
        "deg",
    ),
    "mean-roll": Measure(
        "mean_roll_significant_deg",
        "mean roll",
        "roll over the whole passage, significant single amplitude, weighted by time",
        "deg",
        2,
    ),
    "hours": Measure(
        "hours_over_roll_limit",
        "hours over the limit",
        "time with roll, over any hour, above the owner's limit",
        "h",
    ),
    "degree-hours": Measure(
        "roll_degree_hours",
        "degree hours of roll",
        "roll over the whole passage, significant single amplitude, summed over time",
        "deg h",
    ),
    "sickness": Measure(
        "worst_leg_motion_sickness_percent",
        "motion sickness",
        "people expected to be sick on the worst leg, worst place",
        "%",
    ),
    "lateral": Measure(
        "worst_window_lateral_acceleration_rms_g",
        "lateral acceleration",
        "lateral acceleration of the worst hour (the owner's window) at the worst place, rms",
        "g",
        3,
    ),
}

#: Why a combination is closed, by bit.
LIMIT, UNKNOWN, LATE, DARK, LAND, NO_WAY, BUDGET, FLOW, HUNT, ODDS = (1 << i for i in range(10))
_NO_FLOW = "lacks the wind or current that the files give for elsewhere"
WHY: dict[int, str] = {
    LIMIT: "over a limit",
    UNKNOWN: "not covered by the forecast",
    LATE: "arrives too late",
    DARK: "arrives in the dark",
    LAND: "over land",
    NO_WAY: "cannot make way against the current",
    BUDGET: "over the comfort budget",
    FLOW: _NO_FLOW,
    HUNT: "the fins hunt: no roll",
    ODDS: "odds too low",
}


def why_words(code: int) -> list[str]:
    """The reasons of one combination."""
    # Where the fins hunt, the value is unknown for that reason, not for the forecast's.
    shown = code & ~UNKNOWN if code & HUNT else code
    return [words for bit, words in WHY.items() if shown & bit]


def hunts(cell: Cell) -> Bools:
    """Departures of a cell without a roll value because the fins would drive the roll."""
    return driven_by_fins(cell.legs) & (cell.fins != "centred")


def non_dominated(cost: npt.ArrayLike, discomfort: npt.ArrayLike) -> Bools:
    """True where no other is at least as good in both and better in one.

    A combination with NaN in either is never on the front; equal ones are all on it.
    """
    a, b = np.asarray(cost, dtype=float), np.asarray(discomfort, dtype=float)
    front = np.zeros(a.shape, dtype=bool)
    known = np.flatnonzero(np.isfinite(a) & np.isfinite(b))
    if known.size == 0:
        return front
    order = known[np.lexsort((b[known], a[known]))]
    costs, rough = a[order], b[order]
    # The best discomfort among all that cost strictly less.
    first = np.searchsorted(costs, costs, side="left")
    best_before = np.r_[np.inf, np.minimum.accumulate(rough)][first]
    # Sorted by discomfort within one cost, so the first of each cost is its best.
    front[order] = (rough < best_before) & (rough == rough[first])
    return front


def balanced(cost: Array, discomfort: Array, among: Bools) -> int | None:
    """The one of ``among`` nearest the corner of least cost and least discomfort.

    Both are scaled to run from 0 to 1 over ``among``. None where there is none.
    """
    rows = np.flatnonzero(among)
    if rows.size == 0:
        return None

    def scaled(values: Array) -> Array:
        part = values[rows]
        span = float(np.ptp(part))
        return (part - part.min()) / span if span > 0.0 else np.zeros(part.shape)

    distance = np.hypot(scaled(cost), scaled(discomfort))
    return int(rows[np.argmin(distance)])


def front_names(
    fuel: Array, rough: Array, front: Bools, limit_share: Array | None, among: Bools
) -> dict[str, int]:
    """Combinations by name; ``limit_share`` is given where none is open."""
    rows = np.flatnonzero(front)
    if rows.size == 0:
        return {}
    # Of those equal in one measure, the other decides.
    found = {
        "least fuel": int(rows[np.lexsort((rough[rows], fuel[rows]))[0]]),
        "most comfortable": int(rows[np.lexsort((fuel[rows], rough[rows]))[0]]),
    }
    middle = balanced(fuel, rough, front)
    if middle is not None:
        found["balanced"] = middle
    if limit_share is None or not np.any(among):
        return found
    # Nothing is open: name the one nearest its limits, or without limits the cheapest.
    near = limit_share if np.any(among & np.isfinite(limit_share)) else fuel
    found["nearest the limits"] = int(
        np.argmin(np.where(among, np.nan_to_num(near, nan=np.inf), np.inf))
    )
    return found


@dataclass(frozen=True, eq=False)
class LimitCheck:
    """One limit on one cell: where it is exceeded or unknown, ``(departures, legs)``."""

    name: str
    limit: Array
    value: Array
    exceeded: Bools
    unknown: Bools


def check_limits(vessel: Vessel, route: Route, cell: Cell) -> list[LimitCheck]:
    """Every limit of the vessel file against the legs of a cell."""
    at_rest = [leg.kind == "stay" for leg in route.legs]
    checks = []
    for key, limit_key in LIMIT_KEYS:
        limit = limits_of(vessel, at_rest, limit_key)
        if np.all(np.isnan(limit)):
            continue
        value = np.abs(cell.legs[key])
        judged = ~np.isnan(limit)
        over = judged & (value > limit + slack(limit_key, limit))
        checks.append(LimitCheck(key, limit, value, over, judged & np.isnan(value)))
    return checks


def limit_share(checks: Sequence[LimitCheck], departures: int) -> Array:
    """Largest value as a share of its limit, over all legs and limits; above 1 is over.

    NaN where a value is not known, and everywhere without a limit.
    """
    share = np.full(departures, 0.0 if checks else np.nan)
    for check in checks:
        judged = ~np.isnan(check.limit)
        with np.errstate(invalid="ignore", divide="ignore"):
            each = check.value[:, judged] / check.limit[judged]
        share = np.maximum(share, np.max(each, axis=-1))
    return share


def known_limit_share(checks: Sequence[LimitCheck], departures: int) -> Array:
    """As `limit_share`, over what is known; inf where nothing is, or without a limit."""
    share = np.full(departures, -np.inf)
    for check in checks:
        judged = check.limit > 0.0
        known = np.where(np.isnan(check.value), -np.inf, check.value)[:, judged]
        share = np.maximum(share, np.max(known / check.limit[judged], axis=-1, initial=-np.inf))
    return np.where(np.isfinite(share), share, np.inf)


def limit_words(name: str, limit: float) -> str:
    """``4 deg significant roll`` and the like."""
    if "roll_" in name:
        return f"{limit:g} deg significant roll"
    variable = BY_NAME[name]
    unit = {"degree": " deg", "percent": " %", "1": " g", "minute-1": " a minute"}
    words = {
        "motion_sickness_percent": "motion sickness",
        "steady_heel_worst_deg": "steady heel",
        "window_interruptions_per_minute": "interruptions of standing work",
        "window_lateral_acceleration_rms_g": "rms lateral acceleration",
        "window_vertical_acceleration_rms_g": "rms vertical acceleration",
    }.get(name, variable.heading)
    return f"{limit:g}{unit.get(variable.unit, '')} {words}"


_GAPS = {
    "before_forecast": "starts before the forecast",
    "after_forecast": "runs past the end of the forecast",
    "outside_area": "leaves the area of the forecast",
    "masked": "lies where the forecast has no sea",
    "time_gap": "falls in hours that the forecast leaves out",
}


def _times(counts: Sequence[tuple[str, int]], total: int) -> str:
    """``in 11 of 24 departures at 10 kn, 8 at 12 kn``; a range for more than two speeds."""
    numbers = [n for _, n in counts]
    if total == 1:
        hit = [speed for speed, n in counts if n and speed]
        every = len(counts) > 1 and len(hit) == len(counts)
        return "at every speed" if every else f"at {' and '.join(hit)}" if hit else ""
    if min(numbers) == total:
        return f"in all {total} departures"
    if len(counts) == 1:
        at = f" at {counts[0][0]}" if counts[0][0] else ""
        return f"in {numbers[0]} of {total} departures{at}"
    if len(counts) > 2:
        low, high = min(numbers), max(numbers)
        few = next(speed for speed, n in counts if n == low)
        many = next(speed for speed, n in counts if n == high)
        if low == high:
            return f"in {low} of {total} departures at each of {len(counts)} speeds"
        return f"in {low} ({few}) to {high} ({many}) of {total} departures"
    if len(set(numbers)) == 1:
        return f"in {numbers[0]} of {total} departures at {counts[0][0]} and at {counts[1][0]}"
    first = f"in {numbers[0]} of {total} departures at {counts[0][0]}"
    return ", ".join([first, *(f"{n} at {speed}" for speed, n in counts[1:])])


@dataclass(frozen=True)
class Exclusion:
    """Why combinations of one route and one use of the fins are closed.

    ``lines`` has a line for every leg and reason; ``brief`` a line for every reason, about
    the leg where it applies most often, and names the other legs.
    """

    of: str
    lines: tuple[str, ...]
    brief: tuple[str, ...]


def exclusion_words(
    of: str,
    vessel: Vessel,
    route: Route,
    cells: Sequence[Cell],
    closed: Sequence[npt.NDArray[np.int_]],
) -> Exclusion:
    """The reasons; ``cells`` differ only in speed, ``closed`` holds their codes."""
    total = cells[0].departure_s.size
    checks = [check_limits(vessel, route, cell) for cell in cells]
    reach_km = widest_reach_km(cells)
    # Reason -> lines of (times it applies, leg number, words).
    found: dict[str, list[tuple[int, int, str]]] = {}

    def note(reason: str, leg: int, head: str, masks: Sequence[Bools], tail: str = "") -> None:
        hits = sum(int(np.count_nonzero(mask)) for mask in masks)
        if hits:
            words = " ".join(f"{head} {_times(_counted(cells, masks), total)}".split()) + tail
            found.setdefault(reason, []).append((hits, leg, words))

    for i, leg in enumerate(route.legs):
        head = f"leg {i + 1} ({leg.label})"
        for k, check in enumerate(checks[0]):
            masks = [done[k].exceeded[:, i] for done in checks]
            values = [done[k].value[mask, i] for done, mask in zip(checks, masks, strict=True)]
            worst = max((float(v.max()) for v in values if v.size), default=0.0)
            words = limit_words(check.name, float(check.limit[i]))
            decimals = max(BY_NAME[check.name].decimals, 1)
            note(check.name, i + 1, f"{head}: over {words}", masks,
                 f" (up to {worst:.{decimals}f})")  # fmt: skip
        for word, text in _GAPS.items():
            code = COVERAGE.index(word)
            tail = f";{remedy_words(reach_km)[:-1]}" if word == "masked" and reach_km else ""
            note(word, i + 1, f"{head} {text}", [c.coverage[:, i] == code for c in cells], tail)
    for bit, words in ((LATE, "arrives too late"), (DARK, "arrives in the dark"),
                       (NO_WAY, "cannot make way against the current"),
                       (BUDGET, "exceeds the comfort budget"), (FLOW, _NO_FLOW),
                       (ODDS, "has lower odds than asked")):  # fmt: skip
        note(words, 0, words, [(code & bit) > 0 for code in closed])
    brief = []
    for rows in found.values():
        worst_row = max(rows, key=lambda row: row[0])
        others = [str(row[1]) for row in rows if row is not worst_row]
        more = f"; also leg{'s' * (len(others) > 1)} {', '.join(others)}" if others else ""
        brief.append(worst_row[2] + more)
    lines = [row[2] for rows in found.values() for row in rows]
    return Exclusion(of, tuple(lines), tuple(brief))


def exclusions(
    vessel: Vessel,
    routes: Sequence[Route],
    cells: Sequence[Cell],
    codes: Sequence[npt.NDArray[np.int_]],
    crossings: Sequence[tuple[str, ...]],
) -> tuple[Exclusion, ...]:
    """Why combinations are closed, by route and use of the fins."""
    found = []
    for index, route in enumerate(routes):
        if crossings[index]:
            found.append(Exclusion(route.name, crossings[index], crossings[index]))
        for word in dict.fromkeys(cell.fins for cell in cells):
            mine = [i for i, c in enumerate(cells) if c.route == index and c.fins == word
                    and c.leg_speeds_kn is None]  # fmt: skip
            if not mine:
                continue
            words = exclusion_words(
                f"{route.name}, fins {word}",
                vessel,
                route,
                [cells[i] for i in mine],
                [codes[i] for i in mine],
            )
            if words.lines:
                found.append(words)
    return tuple(found)


def widest_reach_km(cells: Sequence[Cell]) -> float | None:
    """Distance within which all masked points have a sea cell [km]; None for no remedy."""
    masked = COVERAGE.index("masked")
    reach = [cell.reach_km for cell in cells if np.any(cell.coverage == masked)]
    known = [one for one in reach if one is not None]
    return max(known) if known and len(known) == len(reach) else None


def _counted(cells: Sequence[Cell], masks: Sequence[Bools]) -> list[tuple[str, int]]:
    """Pairs of speed and count; the speed is left out where there is only one."""
    pairs = [
        ("" if len(cells) == 1 else cell.speed_text, int(np.count_nonzero(mask)))
        for cell, mask in zip(cells, masks, strict=True)
    ]
    return pairs if len(pairs) > 2 else [(speed, n) for speed, n in pairs if n]
