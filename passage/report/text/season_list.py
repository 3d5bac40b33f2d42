"""The cost of living with a standing list, in words, for screen and page."""

from __future__ import annotations

from math import ceil
from typing import Any

from passage.planning.heel.headline import FIND_CAUSE_DEG
from passage.planning.plan.result import plain
from passage.planning.season.season import SeasonResult
from passage.planning.season.spells import FEW_WORDS
from passage.planning.season.standing_price import (
    MOST_PASSAGES,
    SURE_YEARS,
    WORDS,
    WORSE_PERCENT,
    Standing,
    StandingList,
    WayCost,
)
from passage.report.text.season_rank import share_text
from passage.report.text.verdict import listed, number

#: Ways in the order of the table.
ROWS = tuple(WORDS)
#: The same, short enough for its first column.
_ROW_WORDS = WORDS | {"fins": "fins, all of it", "transfer": "liquid moved each time"}
#: Smaller lists count as none. [deg]
_UPRIGHT_DEG = 0.05
#: Smaller differences a year count as none. [l]
_SAME_L = 1.0
#: Share of departures within the limits under which the best of the cures is mentioned. [%]
_RARELY_PERCENT = 50.0


def _side(list_deg: float) -> str:
    side = "starboard" if list_deg > 0.0 else "port"
    return f"{abs(list_deg):g} deg to {side}" if list_deg else "no list"


def title(one: StandingList) -> str:
    """``Direct, 12 kn, list 1.5 deg to starboard``."""
    listed_ = f"list {_side(one.list_deg)}" if one.list_deg else "no list"
    return f"{one.label['route']}, {one.label['speed_kn']:g} kn, {listed_}"


def _litres(standing: Standing, litres: float) -> str:
    """Litres, with the money where a price is known."""
    text = f"{number(litres)} l"
    price = standing.fuel_price_per_l
    return text if not price else f"{text} ({number(litres * price)} {standing.currency})".replace(
        " )", ")"
    )  # fmt: skip


def headline(standing: Standing, one: StandingList) -> str:
    """The cheapest way, what the next costs more, how often both keep the limits; break-even."""
    order = one.order
    if not order:
        return f"{title(one)}: no way can be priced; {one.ways['fins'].why_not}."
    best = one.ways[order[0]]
    n = standing.prices.passages
    price = (
        f"{_litres(standing, abs(best.year_mean_l))} {'a year' if n else 'a passage'} "
        f"{'less' if best.year_mean_l < 0.0 else 'more'} than upright"
    )
    if n:
        price += f" with {n:g} passages"
    share = best.within_percent
    within = "" if share is None else f"within the limits on {share:.0f} % of departures"
    name = _named(standing, best.way)
    text = f"{title(one)}: {_cause(one)}"
    open_ = [way for way in order[1:] if way in one.undecided]
    if open_:
        text += f"not decided between {listed([WORDS[way] for way in (best.way, *open_)])}. "
        text += f"{name[:1].upper()}{name[1:]} takes {price}"
        text += f", {within}" if within else ""
    elif within and _best_kept(one) - (share or 0.0) > WORSE_PERCENT:
        text += f"cheapest, but {within.replace('on', 'on only', 1)}, is {name}, {price}"
    else:
        text += f"cheapest is {name}, {price}" + (f" and {within}" if within else "")
    for way in open_ or order[1:2]:
        text += _against(standing, best, one.ways[way], one)
    text += f".{_oftener(standing, one, best)} {turning(standing, one)}"
    text = text.strip() + _wrong_side(one) + _left(standing, one)
    if one.few:
        text += f" (Of {FEW_WORDS}: no odds.)"
    return text


def _named(standing: Standing, way: str) -> str:
    """The way; of ballast also that its price is not counted."""
    unpriced = way == "permanent" and not (
        standing.prices.ballast_cost and standing.prices.passages
    )
    return WORDS[way] + (" (its own price left out)" if unpriced else "")


def _against(standing: Standing, best: WayCost, other: WayCost, one: StandingList) -> str:
    """What another cure takes beyond the cheapest, and how surely."""
    text = f"; {_named(standing, other.way)} takes {_more(standing, best, other)}"
    if other.within_percent is not None:
        text += f", within the limits on {other.within_percent:.0f} %"
    more_often = one.undecided.get(other.way)
    if more_often is not None and other.year_mean_l - best.year_mean_l >= _SAME_L:
        text += f", and takes more in {more_often:.0f} years of 100"
    return text


def _cause(one: StandingList) -> str:
    """A warning where the list is more than loading explains."""
    if abs(one.list_deg) <= FIND_CAUSE_DEG:
        return ""
    return (
        f"more than uneven loading explains (over {FIND_CAUSE_DEG:g} deg): find the cause before "
        "anything is done about it. The prices: "
    )


def _best_kept(one: StandingList) -> float:
    """Largest share within the limits of the cures. [%]"""
    return max((one.ways[way].within_percent or 0.0 for way in one.order), default=0.0)


def _more(standing: Standing, best: WayCost, other: WayCost) -> str:
    """What another cure takes beyond the cheapest."""
    more = other.year_mean_l - best.year_mean_l
    return "as much" if more < _SAME_L else f"{_litres(standing, more)} more"


def _oftener(standing: Standing, one: StandingList, best: WayCost) -> str:
    """The cure that keeps the limits clearly more often than the cheapest, with its price."""
    judged = [w for way in one.order if (w := one.ways[way]).within_percent is not None]
    if best.within_percent is None or not judged:
        return ""
    better = max(judged, key=lambda w: w.within_percent or 0.0)
    share = better.within_percent or 0.0
    if share - best.within_percent > WORSE_PERCENT:
        if better.way in (one.order[1], *one.undecided):
            # Its share and price are in the sentence before.
            return f" Most often within the limits is {WORDS[better.way]}."
        return (
            f" Most often within the limits is {WORDS[better.way]}, on {share:.0f} % of "
            f"departures, for {_more(standing, best, better)} than the cheapest."
        ).replace("as much than", "as much as")
    if not share:
        return " No cure is within the limits on any departure."
    if share < _RARELY_PERCENT:
        return f" No cure is within the limits on more than {share:.0f} % of departures."
    return ""


def _wrong_side(one: StandingList) -> str:
    """A warning where the ballast adds to the list, or takes out so much that she leans over."""
    after = one.ballast_list_deg
    if after is None or abs(after) < _UPRIGHT_DEG:
        return ""
    leans = _side(round(after, 1))
    if after * one.list_deg < 0.0:
        return f" The ballast takes out more than the list: with it she lists {leans}."
    if abs(after) > abs(one.list_deg):
        if not one.list_deg:
            return f" She has no list: with the ballast she lists {leans}."
        return f" The ballast lies on the side of the list: with it she lists {leans}."
    return ""


def _left(standing: Standing, one: StandingList) -> str:
    """Heel, litres and the share within the limits if the list is left."""
    leave = one.ways["leave"]
    if leave.why_not:
        return ""
    more = leave.mean_l * (standing.prices.passages or 1.0)
    per = "a year" if standing.prices.passages else "a passage"
    text = (
        f" If it is left, she leans {leave.heel_deg:.1f} deg at most on the median passage, "
        f"for {number(abs(more))} l {'more' if more > 0.0 else 'less'} {per} than upright"
    )
    if leave.within_percent is not None:
        text += f", and is within the limits on {leave.within_percent:.0f} % of departures"
    return f"{text}."


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
    drawn = f"{n or 0:g} passages drawn from them, with what is written off"
    year = (("a year l", f"mean (10th-90th percentile) of {drawn}"),) if n else ()
    return (
        ("way", ""),
        ("a passage l", "litres more than upright, mean (10th-90th percentile)"),
        ("mean within l", "90 % interval of that mean, from spells drawn again"),
        *year,
        ("cheapest %", "departures on which it is the cheapest of the cures, its price left out"),
        ("fin travel deg", "angle one fin swings through a passage, mean: their wear"),
        ("heel left deg", "largest on the way, median"),
        ("within %", "departures within the owner's limits"),
    )  # fmt: skip


def _spread(mean: float, values: tuple[float, ...]) -> str:
    """A mean, as in the sentence, and the outer percentiles."""
    if not values:
        return "-"
    low, middle, high = (f"{round(v) + 0.0:,.0f}" for v in (values[0], mean, values[-1]))
    return f"{middle} ({low} to {high})"


def row(standing: Standing, one: StandingList, way: WayCost) -> list[str]:
    """Cells of one way; dashes where it cannot be used."""
    year = bool(standing.prices.passages)
    if way.why_not:
        return [_ROW_WORDS[way.way], *["-"] * (6 + year)]
    between = way.interval_l
    mean = "-" if between is None else " to ".join(f"{round(v) + 0.0:,.0f}" for v in between)
    within = way.within_percent
    return [
        _ROW_WORDS[way.way],
        _spread(way.mean_l, way.passage_l),
        mean,
        *([_spread(way.year_mean_l, way.year_l)] if year else []),
        share_text(way.cheapest_percent, one.few),
        f"{way.travel_deg:,.0f}",
        f"{way.heel_deg:.1f}",
        share_text(within, one.few),
    ]


def basis(result: SeasonResult, standing: Standing) -> list[str]:
    """The basis of the prices, in sentences."""
    lines = []
    step = standing.step
    if step > 1:
        hours = step * standing.every_h
        span = f"{hours:.0f} hours" if hours < 48.0 else f"{hours / 24.0:.1f} days"
        lines.append(
            f"Sailed in every way: one departure in {span}, since those between meet much the "
            "same weather."
        )
    lines.append(
        "Litres are those of the passage less those of the same departure without the list. "
        + _heel_rule(standing)
    )
    for list_deg in dict.fromkeys(one.list_deg for one in standing.lists):
        one = next(o for o in standing.lists if o.list_deg == list_deg)
        if one.transfer is not None and list_deg:
            lines.append(
                f"Transfer, list {_side(list_deg)}, all of it: {one.transfer.words}."
                + (_sized(standing, list_deg) if standing.limit_deg else "")
            )
        for way in one.ways.values():
            if way.why_not and standing.ballast is not None and way.way == "permanent":
                lines.append(f"Permanent ballast is not compared: {way.why_not}.")
    if standing.ballast is not None:
        rest = {o.list_deg: o.ballast_list_deg for o in standing.lists}
        left = [
            f"{_side(one)} becomes {_side(round(after, 2))}"
            for one, after in rest.items()
            if after is not None
        ]
        lines.append(
            f"Ballast: {standing.ballast_words}. The fins hold the list it leaves: "
            f"{', '.join(left)}."
        )
        prices = standing.prices
        if prices.ballast_cost:
            lines.append(
                f"Its price: {number(prices.ballast_cost)} {standing.currency}".rstrip()
                + f" once, over {prices.ballast_years:g} years"
                + ("." if prices.passages else "; counted with --passages only.")
            )
    else:
        lines.append("Permanent ballast is not priced: give its weight and place (--ballast).")
    if not standing.prices.passages:
        lines.append("Per year: give the passages a year (--passages).")
    return lines


def _sized(standing: Standing, list_deg: float) -> str:
    """The lists that transfers leave, on each route and speed."""
    parts = []
    for one in standing.lists:
        if one.list_deg != list_deg or not one.left:
            continue
        shares = [
            f"{_side(left) if left else 'none'} on {share:.0f} %"
            for left, share in sorted(one.left.items(), key=lambda item: -item[1])
        ]
        parts.append(f"{one.label['route']}, {one.label['speed_kn']:g} kn: {listed(shares)}")
    if not parts:
        return ""
    return (
        " Each departure moves what keeps the limits and then takes fewest litres (people, "
        f"tenders, wind and burn counted); list left at departure: {'; '.join(parts)}."
    )


def _heel_rule(standing: Standing) -> str:
    """What the fins do about the heel in each way."""
    left = "Leaving the list leaves the wind heel too, so that it may take fewer."
    if standing.limit_deg is None:
        return f"The fins hold all wind heel (the owner has no limit of it). {left}"
    return (
        f"The fins hold heel down to the owner's limit of {standing.limit_deg:g} deg, also without "
        f"the list and with liquid moved or ballast; in the way '{_ROW_WORDS['fins']}' they hold "
        f"all heel, the wind's too. {left} --heel is for the months, not for these ways."
    )


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
                "list_with_ballast_deg": plain(one.ballast_list_deg),
                "transfer_l": None if one.transfer is None else one.transfer.litres,
                "undecided_takes_more_in_percent_of_years": plain(one.undecided),
                "transfer_leaves_deg": {f"{d:g}": plain(s) for d, s in one.left.items()},
                "ballast_cheaper_from_passages_a_year": plain(one.breakeven),
                "ballast_cheaper_in_9_years_of_10_from_passages_a_year": plain(one.breakeven_sure),
                "ways": [plain(vars(one.ways[way])) for way in ROWS],
            }
            for one in standing.lists
        ],
    }
