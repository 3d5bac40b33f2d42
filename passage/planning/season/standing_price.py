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
from passage.planning.season.spells import few, mean_interval, spell_hours, spells_of
from passage.planning.season.standing import Ballast, Variant, with_ballast, with_list

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
    ``breakeven``: passages a year from which ballast is cheaper than another way on average;
    ``breakeven_sure``: in nine years of ten. None: never, or not up to ``MOST_PASSAGES``.
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
        transfer = transfer_price(
            with_list(vessel, list_deg),
            fuel_price_per_l=prices.fuel_price_per_l,
            crew_cost_per_hour=prices.crew_cost_per_hour,
        )
        for p, label in enumerate(labels):
            rows = {name: values[p] for name, values in numbers.items()}
            sailed = [at[Variant("upright", 0.0)]]
            sailed += [i for v, i in at.items() if v.way != "upright" and v.list_deg == list_deg]
            known = np.all(np.isfinite(rows["fuel_l"][sailed]), axis=0)
            hours = spell_hours(rows[CALM][0], departures_s, month)
            spell = spells_of(departures_s, hours)[known]

            def cost(way: str, rows=rows, known=known, spell=spell, list_deg=list_deg,  # type: ignore[no-untyped-def]
                     transfer=transfer) -> WayCost:  # fmt: skip
                return _way_cost(
                    way, rows, known, spell, at, list_deg, transfer, ballast, prices, fuel_price
                )

            made = _cheapest({way: cost(way) for way in WORDS}, rows, known, at, list_deg)
            lists.append(
                StandingList(
                    list_deg=list_deg,
                    label=dict(label),
                    departures=int(known.sum()),
                    spells=int(np.unique(spell).size),
                    ways=made,
                    breakeven=_breakeven(made),
                    breakeven_sure=_sure_breakeven(made, rows, known, at, list_deg),
                    transfer=transfer,
                    ballast_list_deg=None
                    if ballast is None
                    else with_ballast(with_list(vessel, list_deg), ballast).loading.list_deg,
                )
            )
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
    rows: dict[str, npt.NDArray[Any]],
    known: npt.NDArray[np.bool_],
    spell: npt.NDArray[np.int64],
    at: dict[Variant, int],
    list_deg: float,
    transfer: TransferPrice,
    ballast: Ballast | None,
    prices: StandingPrices,
    fuel_price: float | None,
) -> WayCost:
    upright = at[Variant("upright", 0.0)]
    if way == "transfer":
        if transfer.litres is None:
            return WayCost(way, why_not=transfer.words)
        i, fixed_each = upright, transfer.litres
    else:
        if way == "permanent" and ballast is None:
            return WayCost(way, why_not="no ballast is given (--ballast)")
        if Variant(way, list_deg) not in at:  # type: ignore[arg-type]
            return WayCost(way, why_not="the vessel file has no limit of steady heel under way")
        i, fixed_each = at[Variant(way, list_deg)], 0.0  # type: ignore[arg-type]
    fixed = 0.0
    if way == "permanent" and prices.ballast_cost:
        if fuel_price is None:
            return WayCost(way, why_not="its cost needs a fuel price to compare with")
        fixed = prices.ballast_cost / prices.ballast_years / fuel_price
    if not known.any():
        return WayCost(way, why_not="no departure is covered by the data")
    litres = (rows["fuel_l"][i] - rows["fuel_l"][upright])[known].astype(float) + fixed_each
    within = rows["within_limits"][i][known]
    judged = within != UNKNOWN
    travel = rows["fin_travel_deg"][i][known].astype(float)
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
        heel_deg=float(np.median(rows["worst_leg_steady_heel_deg"][i][known])),
        within_percent=100.0 * float(np.mean(within[judged] == WITHIN)) if judged.any() else None,
    )


def _over_upright_l(
    one: WayCost,
    rows: dict[str, npt.NDArray[Any]],
    known: npt.NDArray[np.bool_],
    at: dict[Variant, int],
    list_deg: float,
) -> Array:
    """Litres of a way over those of an upright yacht, without fixed cost, by known departure."""
    if one.way == "transfer":
        return np.full(int(known.sum()), one.mean_l)
    fuel, i = rows["fuel_l"], at[Variant(one.way, list_deg)]  # type: ignore[arg-type]
    return (fuel[i] - fuel[at[Variant("upright", 0.0)]])[known].astype(float)


def _cheapest(
    ways: dict[str, WayCost],
    rows: dict[str, npt.NDArray[Any]],
    known: npt.NDArray[np.bool_],
    at: dict[Variant, int],
    list_deg: float,
) -> dict[str, WayCost]:
    """The ways, with the share of departures on which each remedy is the cheapest."""
    cures = [w for w in ways.values() if not w.why_not and w.way != "leave"]
    if len(cures) < 2 or not known.any():
        return ways
    litres = [_over_upright_l(cure, rows, known, at, list_deg) for cure in cures]
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
    ways: dict[str, WayCost],
    rows: dict[str, npt.NDArray[Any]],
    known: npt.NDArray[np.bool_],
    at: dict[Variant, int],
    list_deg: float,
) -> dict[str, float | None]:
    """Least passages a year from which ballast is cheaper in nine of ten years drawn.

    Both ways have the same departures in a year, so that only their difference counts.
    """
    ballast = ways["permanent"]
    found: dict[str, float | None] = {}
    if ballast.why_not or not known.any():
        return found
    with_weight = _over_upright_l(ballast, rows, known, at, list_deg)
    drawn = np.random.default_rng(11).integers(0, with_weight.size, (YEARS, MOST_PASSAGES))
    for name in compared_with_ballast(ways):
        other = ways[name]
        litres = _over_upright_l(other, rows, known, at, list_deg)
        saved = np.cumsum((litres - with_weight)[drawn], axis=1) - ballast.fixed_l
        short = np.flatnonzero(np.mean(saved > 0.0, axis=0) < SURE_YEARS / 10.0)
        least = 1 if not short.size else int(short[-1]) + 2
        found[name] = float(least) if least <= MOST_PASSAGES else None
    return found


def ballast_words(vessel: Vessel, ballast: Ballast) -> str:
    """The effect of the weight on list and GM, in words."""
    heavier = with_ballast(with_list(vessel, 0.0), ballast)
    hull, after = vessel.particulars, heavier.particulars
    turn = -heavier.loading.list_deg
    words = (
        f"{ballast.weight_t:g} t at {abs(ballast.y_m):g} m to "
        f"{'starboard' if ballast.y_m > 0.0 else 'port'} and {abs(ballast.z_m):g} m "
        f"{'above' if ballast.z_m > 0.0 else 'below'} the waterline takes out {abs(turn):.2f} deg "
        f"of list to {'starboard' if turn > 0.0 else 'port'}, GM "
        f"{hull.gm_m:.2f} to {after.gm_m:.2f} m"
    )
    least = hull.minimum_gm_m
    if least is not None and after.gm_m < least:
        words += f", under the least allowed {least:.2f} m"
    return words
