"""The cost of living with a standing list, in words, for screen and page."""

from __future__ import annotations

from math import ceil
from typing import Any

from passage.planning.plan.result import plain
from passage.planning.season.season import SeasonResult
from passage.planning.season.spells import FEW_WORDS
from passage.planning.season.standing_price import (
    MOST_PASSAGES,
    SURE_YEARS,
    WORDS,
    Standing,
    StandingList,
    WayCost,
)
from passage.report.text.verdict import number

#: Ways in the order of the table.
ROWS = tuple(WORDS)
#: The same, short enough for its first column.
_ROW_WORDS = WORDS | {"transfer": "liquid moved each time"}
#: Smaller differences a year count as none. [l]
_SAME_L = 1.0
#: Difference in departures within the limits from which it is mentioned. [% points]
_WORSE_PERCENT = 3.0


def _side(list_deg: float) -> str:
    side = "starboard" if list_deg > 0.0 else "port"
    return f"{abs(list_deg):g} deg to {side}" if list_deg else "no list"


def title(one: StandingList) -> str:
    """``Direct, 12 kn, list 1.5 deg to starboard``."""
    return f"{one.label['route']}, {one.label['speed_kn']:g} kn, list {_side(one.list_deg)}"


def _litres(standing: Standing, litres: float) -> str:
    """Litres, with the money where a price is known."""
    text = f"{number(litres)} l"
    price = standing.fuel_price_per_l
    return text if not price else f"{text} ({number(litres * price)} {standing.currency})".replace(
        " )", ")"
    )  # fmt: skip


def headline(standing: Standing, one: StandingList) -> str:
    """The cheapest way, what the next one costs more, and the break-even."""
    order = one.order
    if not order:
        return f"{title(one)}: no way can be priced; {one.ways['fins'].why_not}."
    best = one.ways[order[0]]
    n = standing.prices.passages
    per = "a year" if n else "a passage"
    text = (
        f"{title(one)}: cheapest is {WORDS[best.way]}, "
        f"{_litres(standing, abs(best.year_mean_l))} {per} "
        f"{'less' if best.year_mean_l < 0.0 else 'more'} than upright"
    )
    if n:
        text += f" with {n:g} passages"
    if len(order) > 1:
        following = one.ways[order[1]]
        more = following.year_mean_l - best.year_mean_l
        words = "as much" if more < _SAME_L else f"{_litres(standing, more)} more"
        text += f"; {WORDS[following.way]} takes {words}"
    text += f". {turning(standing, one)}{_left(standing, one, best)}"
    if one.few:
        text += f" (Of {FEW_WORDS}: no odds.)"
    return text.strip()


def _left(standing: Standing, one: StandingList, best: WayCost) -> str:
    """Heel and litres if the list is left, and a way that keeps the limits more often."""
    leave = one.ways["leave"]
    text = ""
    if not leave.why_not:
        more = leave.mean_l * (standing.prices.passages or 1.0)
        per = "a year" if standing.prices.passages else "a passage"
        text = (
            f" If it is left, she leans {leave.heel_deg:.1f} deg at most on the median passage, "
            f"for {number(abs(more))} l {'more' if more > 0.0 else 'less'} {per} than upright."
        )
    shares = [w.within_percent for w in one.ways.values() if w.within_percent is not None]
    mine = best.within_percent
    if mine is not None and max(shares) - mine > _WORSE_PERCENT:
        better = max(
            (w for w in one.ways.values() if w.within_percent is not None),
            key=lambda w: w.within_percent or 0.0,
        )
        text += (
            f" But only {mine:.0f} % of departures are within the limits; with "
            f"{WORDS[better.way]}, {better.within_percent:.0f} %."
        )
    return text


def turning(standing: Standing, one: StandingList) -> str:
    """Passages a year from which permanent ballast is cheaper."""
    parts = []
    for other, count in one.breakeven.items():
        words = WORDS[other]
        if count is None:
            parts.append(f"never cheaper than {words}")
            continue
        # Rounded up: fewer passages do not pay for the weight.
        whole = max(ceil(count * (1.0 - 1e-9)), 1)
        text = f"cheaper than {words} from {_from(whole)}"
        sure = one.breakeven_sure.get(other)
        if sure is None:
            text += f" on the mean (in {SURE_YEARS} years of 10 not within {MOST_PASSAGES})"
        elif round(sure) > whole:
            text += f" on the mean (in {SURE_YEARS} years of 10 from {number(sure)})"
        parts.append(text)
    if not parts:
        return ""
    free = "" if one.ways["permanent"].fixed_l else ", its own price left out"
    return f"{WORDS['permanent'].capitalize()} is {' and '.join(parts)}{free}."


def _from(count: int) -> str:
    return "the first passage" if count <= 1 else f"{number(count)} passages a year"


def heads(standing: Standing) -> tuple[tuple[str, str], ...]:
    """Headings of the table and their meanings."""
    n = standing.prices.passages
    year = (("a year l", f"{n:g} passages drawn from them, and what is written off"),) if n else ()
    return (
        ("way", ""),
        ("a passage l", "litres more than upright, median (10th-90th percentile)"),
        ("mean l", "and its 90 % interval, from spells drawn again"),
        *year,
        ("cheapest %", "departures on which it is the cheapest of the cures, its price left out"),
        ("fin travel deg", "angle one fin swings through a passage, mean: their wear"),
        ("heel left deg", "largest on the way, median"),
        ("within %", "departures within the owner's limits"),
    )  # fmt: skip


def _spread(values: tuple[float, ...]) -> str:
    if not values:
        return "-"
    low, middle, high = (f"{round(v) + 0.0:.0f}" for v in values)
    return f"{middle} ({low} to {high})"


def row(standing: Standing, one: StandingList, way: WayCost) -> list[str]:
    """Cells of one way; dashes where it cannot be used."""
    year = bool(standing.prices.passages)
    if way.why_not:
        return [_ROW_WORDS[way.way], *["-"] * (6 + year)]
    low_high = way.interval_l
    mean = f"{round(way.mean_l) + 0.0:.0f}"
    if low_high is not None:
        mean += f" ({round(low_high[0]) + 0.0:.0f} to {round(low_high[1]) + 0.0:.0f})"
    within = way.within_percent
    return [
        _ROW_WORDS[way.way],
        _spread(way.passage_l),
        mean,
        *([_spread(way.year_l)] if year else []),
        "-" if way.cheapest_percent is None else f"{way.cheapest_percent:.0f}",
        f"{way.travel_deg:.0f}",
        f"{way.heel_deg:.1f}",
        "-" if within is None else f"{within:.0f}",
    ]


def basis(result: SeasonResult, standing: Standing) -> list[str]:
    """The basis of the prices, in sentences."""
    lines = []
    step = standing.step
    if step > 1:
        days = step * standing.every_h / 24.0
        lines.append(
            f"Sailed in every way: one departure in {days:.1f} days, since those between meet "
            "much the same weather."
        )
    lines.append(
        "Litres are those of the passage less those of the same departure without the list, the "
        "fins holding what wind heel there is. Leaving the list leaves that wind heel too, so "
        "that it may take fewer."
    )
    for list_deg in dict.fromkeys(one.list_deg for one in standing.lists):
        one = next(o for o in standing.lists if o.list_deg == list_deg)
        if one.transfer is not None:
            lines.append(f"Transfer, list {_side(list_deg)}: {one.transfer.words}.")
    if standing.ballast is not None:
        lines.append(f"Ballast: {standing.ballast_words}. The fins hold what it leaves.")
        prices = standing.prices
        if prices.ballast_cost:
            lines.append(
                f"Its price: {number(prices.ballast_cost)} {standing.currency}".rstrip()
                + f" once, over {prices.ballast_years:g} years."
            )
    else:
        lines.append("Permanent ballast is not priced: give its weight and place (--ballast).")
    if not standing.prices.passages:
        lines.append("Per year: give the passages a year (--passages).")
    return lines


def standing_dict(standing: Standing) -> dict[str, Any]:
    """Lists, ways and prices as plain dicts."""
    return {
        "every_nth_departure": standing.step,
        "passages_per_year": standing.prices.passages,
        "fuel_price_per_l": standing.fuel_price_per_l,
        "currency": standing.currency,
        "ballast": standing.ballast_words or None,
        "lists": [
            {
                "list_deg": one.list_deg,
                **plain(one.label),
                "departures": one.departures,
                "spells": one.spells,
                "few": one.few,
                "answer": headline(standing, one),
                "cheapest": one.order[0] if one.order else None,
                "transfer_l": None if one.transfer is None else one.transfer.litres,
                "ballast_cheaper_from_passages_a_year": plain(one.breakeven),
                "ballast_cheaper_in_9_years_of_10_from_passages_a_year": plain(one.breakeven_sure),
                "ways": [plain(vars(one.ways[way])) for way in ROWS],
            }
            for one in standing.lists
        ],
    }
