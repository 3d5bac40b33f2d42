"""The finalists of a search over the draws, in lines and for JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from passage.planning.suggest.search import Found, SearchOptions
from passage.report.text.chances import percent_words
from passage.report.text.verdict import number


def finalist_lines(found: Found, options: SearchOptions, draws: int) -> list[str]:
    """Mean, spread and odds of each finalist, the chosen one first, and the source."""
    if not found.expected:
        return []
    unit = "l" if options.objective == "fuel" else "degree hours"
    lines = ["Finalists over the forecast's doubt, the least mean is taken:"]
    for name in sorted(found.expected, key=lambda key: (key != found.best, key)):
        one = found.expected[name]
        if one.odds is None or not np.isfinite(one.price):
            lines.append(f"  {name}: not covered in every draw.")
            continue
        odds = percent_words(one.odds, draws)
        lines.append(
            f"  {name}: {number(one.price)} {unit} in the mean (10 to 90 %: {number(one.low)} to "
            f"{number(one.high)}), limits kept in {odds} %."
        )
    return [*lines, f"Source of the odds: {found.odds_source}."]


def expected_dict(found: Found) -> dict[str, Any]:
    """The same for JSON; empty where nothing was drawn."""
    return {
        name: {
            "expected": None if not np.isfinite(one.price) else one.price,
            "p10": None if np.isnan(one.low) else one.low,
            "p90": None if np.isnan(one.high) else one.high,
            "expected_fuel_l": None if np.isnan(one.fuel_l) else one.fuel_l,
            "odds_percent": one.odds,
        }
        for name, one in found.expected.items()
    }
