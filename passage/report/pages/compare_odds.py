"""Odds on the page of a comparison: what certainty costs, and the spread of the options."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from passage.planning.compare.certainty import extra_l, steps, wait_h
from passage.planning.compare.compare import Comparison
from passage.report.drawing.blocks import Block, Column, Notes, Table
from passage.report.pages.cards import named_options
from passage.report.text.compare_odds import odds_lead, source_words
from passage.report.text.verdict import when


def odds_keys(found: Comparison) -> tuple[str, ...]:
    """Totals of odds in the table of combinations; empty without odds."""
    return () if found.odds is None else ("odds_asked_percent",)


def whiskers(
    found: Comparison, place: Mapping[int, int]
) -> dict[int, tuple[float, float, float, float]]:
    """10 and 90 % values of fuel and comfort of the named options, by index in the chart.

    Where odds of every combination are not computed, they come from the plans of the named
    ones, if comfort is judged by roll.
    """
    made = {}
    for index in named_options(found):
        if index not in place:
            continue
        if found.odds is not None:
            fuel, rough = found.odds.fuel_l[index], found.odds.rough[index]
            ends = (fuel[0], fuel[2], rough[0], rough[2])
        else:
            plan = found.plans.get(index)
            if plan is None or found.options.comfort != "roll":
                continue
            key = "worst_window_roll_significant_deg"
            names = ("fuel_l_p10", "fuel_l_p90", f"{key}_p10", f"{key}_p90")
            low, high, calm, rough_end = (plan.totals.get(name) or np.nan for name in names)
            ends = (low, high, calm, rough_end)
        if np.all(np.isfinite(ends)):
            made[place[index]] = (float(ends[0]), float(ends[1]), float(ends[2]), float(ends[3]))
    return made


def certainty_blocks(found: Comparison) -> list[Block]:
    """The least fuel at each level of odds; empty without odds."""
    if found.odds is None:
        return []
    lead = odds_lead(found)
    rows: list[list[object]] = []
    marked = []
    for step in steps(found, lead):
        if step.cheapest is None:
            rows.append([f"{step.percent:g} %", 0, None, None, "none", None, None, None])
            continue
        cell = found.cell_of(step.cheapest)
        if step.cheapest == lead:
            marked.append(len(rows))
        rows.append(
            [
                f"{step.percent:g} %",
                step.count,
                step.cheapest + 1,
                when(float(found.departure_s[step.cheapest])),
                f"{found.routes[cell.route].name}, {cell.speed_text}",
                float(found.totals["fuel_l"][step.cheapest]),
                extra_l(found, step.cheapest, lead),
                wait_h(found, step.cheapest, lead),
            ]
        )
    heads = [
        Column("odds of at least"), Column("combinations", "", 0), Column("no.", "", 0),
        Column("leaves", "UTC"), Column("cheapest"), Column("fuel", "l", 0),
        Column("more fuel", "l", 0), Column("leaves later", "h", 1),
    ]  # fmt: skip
    word = "chosen" if found.chosen is not None else "nearest"
    caption = f"What certainty costs, beside the {word} one"
    table = Table(heads, rows, caption=caption, marked=marked, mark=word)
    return [table, Notes([source_words(found, lead)])]
