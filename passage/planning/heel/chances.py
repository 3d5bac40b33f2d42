"""The heel advice over the forecast's doubt: how often it is best, and what it costs.

Every version of the forecast is a problem of its own, with its sea, wind, GM and burn. All
ways are priced in each of them, with the moves as ordered and the fins by the same rule:
only what the master could not foresee differs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.planning.heel.asked import near_l
from passage.planning.heel.build import HeelPrices, build_problem
from passage.planning.heel.choice import SIGMAS, least_over
from passage.planning.heel.leg_cost import LegCost
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.options import Comparison, Priced, price, simplest
from passage.planning.heel.points import (
    OFFSET_FRACTIONS,
    PRICED,
    Voyage,
    heel_points,
    left_alone,
    offset_tries,
)
from passage.planning.heel.rules import broken_rules
from passage.planning.heel.sensitivity import Change, same_moves, with_gm
from passage.planning.odds.count import PERCENTILES, interval_percent, percentile
from passage.planning.plan.result import Caution
from passage.planning.voyage.evaluate import evaluate, over_engine
from passage.planning.voyage.rolling import doubt_rows
from passage.planning.voyage.threads import cores, in_threads

if TYPE_CHECKING:
    from passage.planning.odds.draws import Sailing
    from passage.planning.odds.versions import Versions
    from passage.planning.voyage.march import March

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int_]

#: Chance of keeping the heel limit that the advice must have, unless another is asked. [%]
USUAL_ODDS = 80.0
#: Least number of covered versions for odds, unless all are covered; common practice, no source.
LEAST_VERSIONS = 20


@dataclass(frozen=True)
class WayOdds:
    """One way in all versions; litres are those paid for heel, crew and comfort.

    ``limit_percent`` is the chance of keeping the owner's heel limit throughout,
    ``best_percent`` that of being the cheapest of the ways least over it; ``behind_l`` the
    mean extra cost over the best way, where it is not the best itself; ``over_h`` the mean
    hours over the limit.
    """

    priced: Priced
    limit_percent: float
    best_percent: float
    expected_l: float
    spread_l: tuple[float, ...]
    behind_l: float
    over_h: float


@dataclass(frozen=True)
class HeelChances:
    """Odds of every way, the advice first, and their source.

    ``asked_percent`` is the chance asked for, ``by_forecast`` the way advised by the
    forecast as it is, ``unknown`` the number of the ``draws`` that the forecast does not
    cover; they do not keep the limit.
    """

    ways: tuple[WayOdds, ...]
    draws: int
    what: str
    source: str
    asked_percent: float
    by_forecast: str
    unknown: int

    @property
    def advice(self) -> WayOdds:
        """Odds of the advice."""
        return self.ways[0]

    @property
    def changed(self) -> bool:
        """Whether the advice differs from that by the forecast as it is."""
        return self.advice.priced.name != self.by_forecast


def drawn_problems(
    voyage: Voyage,
    sailing: Sailing,
    versions: Versions,
    legs: Sequence[dict[str, Any]],
    prices: HeelPrices,
    no_transfer_legs: Sequence[int] = (),
    every_hours: float | None = None,
) -> list[HeelProblem]:
    """The heel problem of each version that the forecast covers as it covers the plan."""
    passage = voyage.passage
    plain = replace(left_alone(voyage), displacement_ratio=sailing.choices.displacement_ratio)
    known = np.isfinite(voyage.evaluation.values["fuel_l"])
    blows, blown = voyage.evaluation.wind_known, passage.vessel.windage is not None

    def of(way: March, rows: Ints, slower: bool) -> tuple[dict[int, HeelProblem], Ints]:
        """Problems by version, and the versions left out because they overload the engines."""
        some = doubt_rows(versions.doubt, rows)
        here = evaluate(passage.yacht, way, replace(plain, doubt=some))
        over = np.any(over_engine(passage.yacht, passage.track, here), axis=-1)
        over &= not (sailing.limited or slower)
        beyond = rows[over]
        if beyond.size:
            way, here = (_rows(one, ~over, deep=True) for one in (way, here))
            rows, some = rows[~over], doubt_rows(some, ~over)
        if not rows.size:
            return {}, beyond
        tries = offset_tries(
            Voyage(passage, way, here, voyage.wave_method, some), OFFSET_FRACTIONS[PRICED]
        )
        gm = np.broadcast_to(np.ravel(some.gm), rows.shape)
        found: dict[int, HeelProblem] = {}
        for at in range(len(rows)):
            one = Voyage(passage, _rows(way, at), _rows(here, at), voyage.wave_method)
            lost = np.isnan(one.evaluation.values["fuel_l"]) & known
            if blown:
                lost |= blows & ~one.evaluation.wind_known
            if np.any(lost):
                continue
            points = heel_points(
                one, legs, no_transfer_legs, every_hours=every_hours, priced_only=True,
                tries=tries.row(at),
            )[0]  # fmt: skip
            problem = build_problem(passage.vessel, points, prices)
            found[int(rows[at])] = with_gm(problem, float(gm[at]))
        return found, beyond

    def all_of(rows: Ints, slower: bool) -> tuple[dict[int, HeelProblem], Ints]:
        # All in one march: its number of rounds must not depend on the number of cores.
        way = sailing.go(versions.sea, rows, slower)
        parts = np.array_split(np.arange(len(rows)), min(cores(), len(rows)))
        made = in_threads(parts, lambda part: of(_rows(way, part, deep=True), rows[part], slower))
        found = {row: one for part, _ in made for row, one in part.items()}
        return found, np.concatenate([over for _, over in made])

    found, over = all_of(np.arange(versions.count), False)
    if over.size:
        # Versions that overload the engines are repeated, slower.
        found |= all_of(over, True)[0]
    return [found[row] for row in sorted(found)]


def _rows(made: Any, rows: npt.NDArray[Any] | int, *, deep: bool = False) -> Any:
    """Some versions, or one, of a dataclass of arrays whose first axis is the versions.

    Nested dataclasses are taken too only with ``deep``: pricing one version needs the
    values only, not conditions or roll responses.
    """
    changed = {}
    for one in fields(made):
        value = getattr(made, one.name)
        if isinstance(value, np.ndarray) and value.ndim > 1:
            changed[one.name] = value[rows]
        elif isinstance(value, dict):
            changed[one.name] = {
                key: part[rows] if isinstance(part, np.ndarray) and part.ndim > 1 else part
                for key, part in value.items()
            }
        elif deep and is_dataclass(value) and not isinstance(value, type):
            changed[one.name] = _rows(value, rows, deep=True)
    return replace(made, **changed)


def candidates(
    comparison: Comparison, question: HeelProblem, changes: Sequence[Change]
) -> list[Priced]:
    """The ways to compare, the advice first, then those found best for changed problems."""
    problem, cost = comparison.problem, comparison.cost
    ways = [comparison.plan, *(one for one in comparison.policies if one is not comparison.plan)]
    seen = {one.moves for one in ways}
    for change in changes:
        moves = same_moves(question, problem, change.moves)
        if change.verdict == "holds" or moves in seen or not moves:
            continue
        if broken_rules(problem, moves):
            continue
        seen.add(moves)
        ways.append(simplest(problem, cost, moves, f"chosen for {change.what}"))
    return ways


def weigh(
    ways: Sequence[Priced],
    problem: HeelProblem,
    drawn: Sequence[HeelProblem],
    versions: Versions,
    departure_s: float,
    asked_percent: float,
) -> HeelChances | None:
    """Every way in every version, the advised one first; None where too few are known.

    Advised is the way of least mean cost among those that keep the heel limit with the
    chance asked for. Where none does, it is the one least over the limit of those that keep it
    most often. The first of ``ways``, which is advised by the
    forecast as it is, stays the advice where none is better by more than the tolerance of
    the search, and where the number of draws does not exclude that it keeps the limit with
    that chance.
    """
    if len(drawn) < max(min(versions.count, LEAST_VERSIONS), 1):
        return None
    shape = (len(drawn), len(ways))
    paid, ranked, over_h, over_deg_h = (np.zeros(shape) for _ in range(4))
    for row, one in enumerate(drawn):
        cost = LegCost.of(one)
        for column, way in enumerate(ways):
            moves = same_moves(problem, one, way.moves)
            made = price(one, cost, moves, way.rule, way.name)
            paid[row, column] = made.total_l
            over_h[row, column] = float(made.over_limit_h.sum())
            over_deg_h[row, column] = made.over_limit_deg_h
            # An excess too small for a clinometer does not count and is not charged.
            charge = made.over_limit_charge_l if over_h[row, column] > 0.0 else 0.0
            ranked[row, column] = made.weighed_l + charge
    # A version that is not known does not keep the limit, nor is any way the best there.
    within = np.zeros((versions.count, len(ways)), dtype=bool)
    within[: len(drawn)] = over_h <= 0.0
    kept = 100.0 * np.mean(within, axis=0)
    least = ranked.min(axis=1)
    near = np.array([near_l(float(value)) for value in least])[:, None]
    best = ranked <= near
    expected = paid.mean(axis=0)
    hours = float(problem.hours.sum())
    order = advised_way(within, expected, asked_percent, (over_h, over_deg_h), hours)
    rows = []
    for column in [order, *(n for n in range(len(ways)) if n != order)]:
        # Another way may be best by litres, or by fewer hours over the limit.
        behind = paid[:, column] - paid[np.arange(len(drawn)), ranked.argmin(axis=1)]
        where = ~best[:, column]
        rows.append(
            WayOdds(
                priced=ways[column],
                limit_percent=float(kept[column]),
                best_percent=float(100.0 * np.sum(best[:, column]) / versions.count),
                expected_l=float(expected[column]),
                spread_l=tuple(float(x) for x in percentile(paid[:, column], PERCENTILES)),
                behind_l=float(behind[where].mean()) if where.any() else 0.0,
                over_h=float(over_h[:, column].mean()),
            )
        )
    return HeelChances(
        ways=tuple(rows),
        draws=versions.count,
        what=versions.what,
        source=versions.words(departure_s),
        asked_percent=asked_percent,
        by_forecast=ways[0].name,
        unknown=versions.count - len(drawn),
    )


def advised_way(
    kept: npt.NDArray[np.bool_],
    expected: Array,
    asked_percent: float,
    over: tuple[Array, Array],
    hours: float,
) -> int:
    """Index of the way to advise: the first where it is as good as any other.

    Parameters
    ----------
    kept : ndarray, shape (versions, ways)
        Whether the way keeps the owner's limit of heel.
    expected : ndarray, shape (ways,)
        Its mean cost. [l]
    asked_percent : float
        Least share of the versions in which the limit shall be kept. [%]
    over : tuple of ndarray, shape (versions, ways)
        Hours over the limit, and degrees over it times hours.
    hours : float
        Length of the passage. [h]

    Returns
    -------
    int
        The first stays as long as the chance asked for lies in the interval left by the
        number of versions. Where no way has that chance, those that keep the limit most
        often are left, of these the ones least over it, and of these the cheapest; what the
        versions do not distinguish counts as equal.
    """
    percent = 100.0 * np.mean(kept, axis=0)
    within = percent >= asked_percent
    within[0] |= interval_percent(float(percent[0]), len(kept))[1] >= asked_percent
    if not np.any(within):
        within = least_over(_as_near(kept, expected), *over, hours)
    least = float(expected[within].min())
    if within[0] and expected[0] <= near_l(least):
        return 0
    return int(np.flatnonzero(within & (expected <= least + 1e-9))[0])


def _as_near(kept: npt.NDArray[np.bool_], expected: Array) -> npt.NDArray[np.bool_]:
    """Ways that keep the limit as often as the one that does so most, within chance.

    The versions are the same for all ways, so only those in which two ways differ count: if
    the ways were equal, each would be as likely to favour either (a sign test).
    """
    often = kept.sum(axis=0)
    top = int(np.lexsort((expected, -often))[0])
    differ = np.sum(kept != kept[:, [top]], axis=0)
    return np.asarray(often[top] - often <= SIGMAS * np.sqrt(differ))


def plan_unknown() -> Caution:
    """The caution where the forecast leaves out part of the passage as it is."""
    text = (
        "no odds are given: the forecast does not give sea and wind all the way. The advice is "
        "that of the forecast as far as it reaches."
    )
    return Caution("odds_unknown", "caution", (), text)


def few_known(known: int, versions: Versions) -> Caution:
    """The caution where the forecast covers too few of its versions for odds."""
    least = min(versions.count, LEAST_VERSIONS)
    text = (
        f"no odds are given: the forecast covers {known} of {versions.count} {versions.what} as "
        f"far as the plan, and fewer than {least} are too few. The advice is that of the forecast "
        "as it is. Give a forecast that reaches later and farther out."
    )
    return Caution("odds_too_few", "caution", (), text)
