"""The finalists of a search over the draws, as text and for JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from passage.planning.suggest.judge import PRICE_UNITS
from passage.planning.suggest.search import Found, SearchOptions
from passage.report.text.chances import percent_words
from passage.report.text.verdict import number


def finalist_lines(
    found: Found, options: SearchOptions, draws: int, *, limits_set: bool
) -> list[str]:
    """Mean, spread and odds of each finalist, the chosen one first, and the source.

    Odds are given only where the vessel file has a limit.
    """
    if not found.expected:
        return []
    unit = PRICE_UNITS[options.objective]
    over = {bool(found.candidates[name].over) for name in found.expected}
    of = " of those within the vessel's limits by the forecast" if len(over) > 1 else ""
    lines = [f"Finalists over the forecast's doubt; the one of least mean{of} is taken:"]
    for name in sorted(found.expected, key=lambda key: (key != found.best, key)):
        one = found.expected[name]
        if not np.isfinite(one.price):
            lines.append(
                f"  {name}: not known; {one.unknown} of {draws} run beyond the area or hours of "
                "the forecast."
            )
            continue
        kept = ""
        if limits_set:
            kept = ", limits kept: not known"
            if one.odds is not None:
                kept = f", limits kept in {percent_words(one.odds, draws)} %"
        lines.append(
            f"  {name}: {number(one.price)} {unit} on average (10 to 90 %: {number(one.low)} to "
            f"{number(one.high)}){kept}."
        )
    return [*lines, f"Source of the odds: {found.odds_source}."]


def expected_dict(found: Found, *, limits_set: bool) -> dict[str, Any]:
    """The same for JSON; empty without draws."""
    return {
        name: {
            "expected": None if not np.isfinite(one.price) else one.price,
            "p10": None if np.isnan(one.low) else one.low,
            "p90": None if np.isnan(one.high) else one.high,
            "expected_fuel_l": None if np.isnan(one.fuel_l) else one.fuel_l,
            "odds_percent": one.odds if limits_set else None,
        }
        for name, one in found.expected.items()
    }
