"""Cards of the named combinations, with the same names as on chart, map and table."""

from __future__ import annotations

from passage.planning.compare.choice import why_words
from passage.planning.compare.compare import Comparison
from passage.report.drawing.blocks import Card, Cards
from passage.report.text.compare_odds import card_odds, odds_percent
from passage.report.text.verdict import EVEN_ODDS, number, when
from passage.report.text.verdict_compare import first_departure, tightest

#: Most cards side by side.
MOST_CARDS = 5


def named_options(found: Comparison) -> dict[int, str]:
    """Names by combination for cards, chart, map and table; the chosen one comes first.

    Several names of one combination are joined. With a choice of departures the same route
    and speed at the first departure is named too, to show the price of waiting.
    """
    names: dict[int, list[str]] = {}
    if found.chosen is not None:
        names[found.chosen] = ["chosen"]
    for name, index in found.names.items():
        names.setdefault(index, []).append(name)
    lead = found.chosen if found.chosen is not None else found.names.get("nearest the limits")
    if lead is not None and len(names) < MOST_CARDS:
        first = first_departure(found, lead)
        if first is not None:
            names.setdefault(first, []).append("leaving first")
    return {index: ", ".join(words) for index, words in names.items()}


def option_cards(found: Comparison) -> Cards:
    """A card for each named option: fuel, price, hours, roll, sickness, what rules it out."""
    items = []
    for index, name in named_options(found).items():
        cell = found.cell_of(index)
        totals = {key: float(values[index]) for key, values in found.totals.items()}
        rows = [("fuel", f"{number(totals['fuel_l'])} l")]
        if "cost" in totals and found.vessel.money is not None:
            rows.append(("price", f"{number(totals['cost'])} {found.vessel.money.currency}"))
        rows += [
            ("time", f"{number(totals['hours'], 1)} h"),
            ("worst roll", f"{number(totals['worst_window_roll_significant_deg'], 1)} deg"),
            ("sickness", f"{number(totals['worst_leg_motion_sickness_percent'])} %"),
        ]
        if odds := card_odds(found, index):
            rows.append(("odds", odds))
        # A card with odds below even is not shown as good.
        state = "limit" if not found.open[index] else (
            "caution" if odds_percent(found, index) < EVEN_ODDS else "good"
        )  # fmt: skip
        tight = tightest(found, index)
        if found.open[index]:
            note = f"Nearest to a limit: {tight}." if tight else ""
        else:
            words = ", ".join(why_words(int(found.closed[index])))
            note = f"{words[0].upper()}{words[1:]}" + (f": {tight}." if tight else ".")
        what = f"{found.routes[cell.route].name}, {when(float(found.departure_s[index]))}, "
        what += cell.speed_text if cell.fins == "active" else f"{cell.speed_text}, {cell.fins}"
        items.append(
            Card(
                f"{name[0].upper()}{name[1:]}",
                what,
                rows,
                note,
                state,
                cell.route,
                index == found.chosen,
            )
        )
    return Cards(items[:MOST_CARDS])
