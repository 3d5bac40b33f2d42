"""The cost of living with a standing list, per passage and year, and its break-even."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.inputs.vessel import Vessel
from passage.planning.season.calendar import CALM, months_of
from passage.planning.season.departures import UNKNOWN, WITHIN
from passage.planning.season.heel import TransferPrice, transfer_price
from passage.planning.season.sails import Sail, left_shares, sail_of
from passage.planning.season.spells import few, mean_interval, spell_hours, spells_of
from passage.planning.season.standing import (
    Ballast,
    Variant,
    ballast_words,
    with_ballast,
    with_list,
)

Array = npt.NDArray[np.float64]
#: Percentiles of the cost of a passage and of a year.
SPREAD: tuple[int, ...] = (10, 50, 90)
#: Years made up from the departures, for the spread of a year's total.
YEARS = 400
#: Years in ten in which ballast must be cheaper to be called surely cheaper, and the most
#: passages a year that are tried.
SURE_YEARS, MOST_PASSAGES = 9, 400
#: Ways of holding the list with the fins; and the difference in departures within the limits
#: from which one way keeps them more often than another. [% points]
FIN_WAYS, WORSE_PERCENT = ("fins", "limit"), 3.0
#: Years over which ballast is written off unless given; assumption.
BALLAST_YEARS = 10.0

WORDS = {
    "fins": "fins for all of it",
    "limit": "fins down to the limit",
    "transfer": "liquid moved before each passage",
    "permanent": "permanent ballast",
    "leave": "leave it",
}


@dataclass(frozen=True)
class StandingPrices:
    """Prices besides litres; money in the currency of the vessel file.

    ``passages`` a year; ``ballast_cost`` once, written off over ``ballast_years``.
    """

    passages: float | None = None
    fuel_price_per_l: float | None = None
    crew_cost_per_hour: float | None = None
    ballast_cost: float = 0.0
    ballast_years: float = BALLAST_YEARS


@dataclass(frozen=True)
class WayCost:
    """One way of living with one list, on one route at one speed.

    Litres are those above the same passages upright, with crew time and pumping of a
    transfer: ``passage_l`` at the percentiles ``SPREAD``, ``mean_l`` with its interval,
    ``year_l`` for a year of passages drawn from them. ``fixed_l`` are litres a year that do
    not depend on the number of passages. ``cheapest_percent`` is the share of departures on
    which it is the cheapest remedy, without that yearly part; ``travel_deg`` the mean travel
    of one fin on a passage; ``why_not`` the reason why the way is not possible.
    """

    way: str
    mean_l: float = np.nan
    interval_l: tuple[float, float] | None = None
    passage_l: tuple[float, ...] = ()
    year_l: tuple[float, ...] = ()
    year_mean_l: float = np.nan
    fixed_l: float = 0.0
    travel_deg: float = np.nan
    heel_deg: float = np.nan
    within_percent: float | None = None
    cheapest_percent: float | None = None
    why_not: str = ""


@dataclass(frozen=True)
class StandingList:
    """The ways for one list on one passage; ``order`` has the cheapest by the year first.

    ``ballast_list_deg`` is the list at departure with the ballast aboard, None without ballast.
    ``undecided``: cures that may be as cheap as the first, with the share of years in which they
    are dearer [%]. ``left``: lists [deg] that the transfers leave at departure, and on what share
    of departures [%]. ``breakeven``: passages a year from which ballast is cheaper than another
    way on average; ``breakeven_sure``: in nine years of ten.
    None: never, or not up to ``MOST_PASSAGES``.
    """

    list_deg: float
    label: dict[str, Any]
    departures: int
    spells: int
    ways: dict[str, WayCost]
    breakeven: dict[str, float | None] = field(default_factory=dict)
    breakeven_sure: dict[str, float | None] = field(default_factory=dict)
    transfer: TransferPrice | None = None
    ballast_list_deg: float | None = None
    left: dict[float, float] = field(default_factory=dict)
    undecided: dict[str, float | None] = field(default_factory=dict)

    @property
    def few(self) -> bool:
        """Whether there are too few departures or spells."""
        return few(self.departures, self.spells)

    @property
    def order(self) -> list[str]:
        """Possible remedies by mean litres a year; by passage where no year is given."""
        open_ = [w for w in self.ways.values() if not w.why_not and w.way != "leave"]
        return [w.way for w in sorted(open_, key=lambda w: w.year_mean_l)]


@dataclass(frozen=True)
class Standing:
    """All lists on all passages, with their prices and ballast.

    ``limit_deg`` is the owner's limit of steady heel under way, None without one.
    """

    lists: list[StandingList]
    prices: StandingPrices
    fuel_price_per_l: float | None
    currency: str
    ballast: Ballast | None
    ballast_words: str
    step: int
    every_h: float
    limit_deg: float | None = None


def price_standing(
    vessel: Vessel,
    ways: Sequence[Variant],
    numbers: dict[str, npt.NDArray[Any]],
    departures_s: Array,
    labels: Sequence[dict[str, Any]],
    *,
    lists_deg: Sequence[float],
    ballast: Ballast | None,
    prices: StandingPrices,
    step: int = 1,
    every_h: float = 6.0,
) -> Standing:
    """Price every way of living with every list.

    Parameters
    ----------
    vessel
        The vessel as in her file.
    ways
        The ways that were computed.
    numbers
        Names of ``standing.KEPT`` to arrays ``(passages, ways, departures)``.
    departures_s : ndarray, (departures,)
        Departures that were computed in every way. [s]
    """
    money = vessel.money
    fuel_price = prices.fuel_price_per_l
    if fuel_price is None and money is not None:
        fuel_price = money.fuel_price_per_l or None
    at = {way: i for i, way in enumerate(ways)}
    month = months_of(departures_s)
    lists = []
    for list_deg in lists_deg:
        left = {
            at[way]: transfer_price(
                with_list(vessel, list_deg),
                left_deg=way.list_deg,
                fuel_price_per_l=prices.fuel_price_per_l,
                crew_cost_per_hour=prices.crew_cost_per_hour,
            )
            for way in ways
            if way.way in ("upright", "moved")
        }
        moves = {i: price.litres for i, price in left.items() if price.litres is not None}
        transfer = left[at[Variant("upright", 0.0)]]
        for p, label in enumerate(labels):
            rows = {name: values[p] for name, values in numbers.items()}
            sailed = [at[Variant("upright", 0.0)]]
            sailed += [i for v, i in at.items() if v.way == "moved"]
            sailed += [
                i
                for v, i in at.items()
                if v.way not in ("upright", "moved") and v.list_deg == list_deg
            ]
            known = np.all(np.isfinite(rows["fuel_l"][sailed]), axis=0)
            hours = spell_hours(rows[CALM][0], departures_s, month)
            spell = spells_of(departures_s, hours)[known]
            sails = {way: sail_of(way, rows, known, at, list_deg, moves) for way in WORDS}
            made = {
                way: _way_cost(way, sails[way], rows, spell, transfer, ballast, prices, fuel_price)
                for way in WORDS
            }
            made = _cheapest(made, sails)
            one = StandingList(
                list_deg=list_deg,
                label=dict(label),
                departures=int(known.sum()),
                spells=int(np.unique(spell).size),
                ways=made,
                breakeven=_breakeven(made),
                breakeven_sure=_sure_breakeven(made, sails),
                transfer=transfer,
                left=left_shares(sails["transfer"], ways),
                ballast_list_deg=None
                if ballast is None
                else with_ballast(with_list(vessel, list_deg), ballast).loading.list_deg,
            )
            lists.append(replace(one, undecided=undecided(one, sails, spell, prices.passages)))
    return Standing(
        lists=lists,
        prices=prices,
        fuel_price_per_l=fuel_price,
        currency="" if money is None else money.currency,
        ballast=ballast,
        ballast_words="" if ballast is None else ballast_words(vessel, ballast),
        step=step,
        every_h=every_h,
        limit_deg=vessel.limits.underway.steady_heel_deg,
    )


def _way_cost(
    way: str,
    sail: Sail | None,
    rows: dict[str, npt.NDArray[Any]],
    spell: npt.NDArray[np.int64],
    transfer: TransferPrice,
    ballast: Ballast | None,
    prices: StandingPrices,
    fuel_price: float | None,
) -> WayCost:
    if sail is None:
        return WayCost(
            way,
            why_not={
                "transfer": transfer.words,
                "permanent": "no ballast is given (--ballast)",
            }.get(way, "the vessel file has no limit of steady heel under way"),
        )
    fixed = 0.0
    if way == "permanent" and prices.ballast_cost:
        if fuel_price is None:
            return WayCost(way, why_not="its cost needs a fuel price to compare with")
        fixed = prices.ballast_cost / prices.ballast_years / fuel_price
    litres = sail.litres
    if not litres.size:
        return WayCost(way, why_not="no departure is covered by the data")
    within = sail.of(rows["within_limits"])
    judged = within != UNKNOWN
    travel = sail.of(rows["fin_travel_deg"]).astype(float)
    year: tuple[float, ...] = ()
    mean = float(litres.mean())
    year_mean = mean + fixed
    if prices.passages:
        drawn = np.random.default_rng(7).choice(
            litres, (YEARS, max(1, round(prices.passages))), replace=True
        )
        scale = prices.passages / drawn.shape[1]
        year = tuple(float(x) for x in np.percentile(drawn.sum(axis=1) * scale + fixed, SPREAD))
        year_mean = mean * prices.passages + fixed
    elif fixed:
        # Without a number of passages the yearly part cannot be shared out.
        year_mean = mean
    return WayCost(
        way,
        mean_l=mean,
        interval_l=mean_interval(litres, spell),
        passage_l=tuple(float(x) for x in np.percentile(litres, SPREAD)),
        year_l=year,
        year_mean_l=year_mean,
        fixed_l=fixed,
        travel_deg=float(np.mean(travel)),
        heel_deg=float(np.median(sail.of(rows["worst_leg_steady_heel_deg"]))),
        within_percent=100.0 * float(np.mean(within[judged] == WITHIN)) if judged.any() else None,
    )


def _cheapest(ways: dict[str, WayCost], sails: dict[str, Sail | None]) -> dict[str, WayCost]:
    """The ways, with the share of departures on which each remedy is the cheapest."""
    cures = [w for w in ways.values() if not w.why_not and w.way != "leave"]
    if len(cures) < 2:
        return ways
    litres = [sail.litres for cure in cures if (sail := sails[cure.way]) is not None]
    first = np.argmin(np.stack(litres), axis=0)
    return ways | {
        cure.way: replace(cure, cheapest_percent=100.0 * float(np.mean(first == i)))
        for i, cure in enumerate(cures)
    }


def compared_with_ballast(ways: dict[str, WayCost]) -> tuple[str, ...]:
    """Ways against which ballast is weighed.

    Of the two with the fins it is the cheaper one, unless the other keeps the limits clearly
    more often.
    """
    fins = [ways[name] for name in FIN_WAYS if not ways[name].why_not]
    most = max((one.within_percent or 0.0 for one in fins), default=0.0)
    keep = [one for one in fins if most - (one.within_percent or 0.0) <= WORSE_PERCENT]
    best = [min(keep, key=lambda one: one.mean_l).way] if keep else []
    return tuple(best + ([] if ways["transfer"].why_not else ["transfer"]))


def _breakeven(ways: dict[str, WayCost]) -> dict[str, float | None]:
    """Passages a year from which permanent ballast is cheaper than another way; None: never.

    It is the yearly write-off divided by the saving of a passage; 0 without a write-off.
    """
    ballast = ways["permanent"]
    found: dict[str, float | None] = {}
    if ballast.why_not:
        return found
    for name in compared_with_ballast(ways):
        other = ways[name]
        saved = other.mean_l - ballast.mean_l
        found[name] = ballast.fixed_l / saved if saved > 0.0 else None
    return found


def _sure_breakeven(
    ways: dict[str, WayCost], sails: dict[str, Sail | None]
) -> dict[str, float | None]:
    """Least passages a year from which ballast is cheaper in nine of ten years drawn.

    Both ways have the same departures in a year, so that only their difference counts.
    """
    ballast, weighted = ways["permanent"], sails["permanent"]
    found: dict[str, float | None] = {}
    if ballast.why_not or weighted is None:
        return found
    drawn = np.random.default_rng(11).integers(0, weighted.litres.size, (YEARS, MOST_PASSAGES))
    for name in compared_with_ballast(ways):
        other = sails[name]
        if other is None:
            continue
        saved = np.cumsum((other.litres - weighted.litres)[drawn], axis=1) - ballast.fixed_l
        short = np.flatnonzero(np.mean(saved > 0.0, axis=0) < SURE_YEARS / 10.0)
        least = 1 if not short.size else int(short[-1]) + 2
        found[name] = float(least) if least <= MOST_PASSAGES else None
    return found


def undecided(
    one: StandingList,
    sails: dict[str, Sail | None],
    spell: npt.NDArray[np.int64],
    passages: float | None,
) -> dict[str, float | None]:
    """Cures that may be as cheap as the first of ``order``.

    Each with the share of years drawn in which it is dearer [%], None without passages a year.
    It is undecided where that is less than nine years in ten, or where the mean difference may
    have either sign by its interval.
    """
    found: dict[str, float | None] = {}
    if not one.order or (best := sails[one.order[0]]) is None:
        return found
    for name in one.order[1:]:
        other = sails[name]
        if other is None:
            continue
        more = other.litres - best.litres
        count = passages or 1.0
        fixed = one.ways[name].fixed_l - one.ways[one.order[0]].fixed_l if passages else 0.0
        between = mean_interval(more, spell)
        open_ = between is not None and count * between[0] + fixed <= 0.0
        dearer = None
        if passages:
            size = (YEARS, max(1, round(passages)))
            drawn = np.random.default_rng(13).choice(more, size, replace=True)
            years = drawn.mean(axis=1) * passages + fixed
            dearer = 100.0 * float(np.mean(years > 0.0))
            open_ = open_ or dearer < 10.0 * SURE_YEARS
        if open_:
            found[name] = dearer
    return found
