"""The result of a search in lines, beside the plans of the known routes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from passage.planning.suggest.judge import NOT_COVERED

if TYPE_CHECKING:
    from passage.planning.plan.result import PlannedPassage
    from passage.planning.suggest.search import Found, SearchOptions

#: Cautions of the plans that are printed beside them.
_SAID = ("fuel_aboard", "wind_missing", "current_missing", "coverage_masked")


def summary(found: Found, plans: dict[str, PlannedPassage], options: SearchOptions) -> list[str]:
    """The result in lines, beside ``plans`` by name."""
    lines = _own_lines(found)
    lines.append("Computed along the tracks, as `passage plan` does:")
    word = "active" if options.fins == "active" else "centred"
    for name, plan in plans.items():
        totals = plan.totals
        roll = np.asarray(plan.points[f"roll_{word}_significant_deg"], dtype=float)
        hours = np.asarray(plan.points["hours"], dtype=float)
        judged = found.candidates.get("as given" if name.startswith("as given") else name)
        other = judged is not None and name != "suggested"
        over = ""
        # `over` holds the limits that are not known as well: those of a way not covered to its end.
        if judged is not None and other and judged.over and not found.candidates[found.best].over:
            known = not any(NOT_COVERED in fault for fault in judged.faults)
            over = f"; over a limit: {', '.join(judged.over)}" if known else ""
        worst = _shown(totals.get("worst_window_roll_significant_deg"), 1)
        lines.append(
            f"  {name}: {_shown(totals['distance_nm'], 1)} nm, {_shown(totals['hours'], 1)} h, "
            f"{_shown(totals['fuel_l'], 0)} l, {_shown(float(np.sum(roll * hours)), 0)} degree "
            f"hours, worst hour {worst} deg{over}."
        )
        lines += [f"  {c.text}" for c in plan.cautions if c.code in _SAID]
        if judged is not None and other:
            lines += [f"  {name}, ruled out: {fault}." for fault in judged.faults]
    return lines


def _own_lines(found: Found) -> list[str]:
    """A line where the best is the route given or the great circle; else empty."""
    if found.best == "as given":
        return ["Your own route is the best found."]
    return ["The great circle is the best found."] if found.best == "great circle" else []


def _shown(value: float | None, decimals: int) -> str:
    return "-" if value is None or not np.isfinite(value) else f"{value:,.{decimals}f}"
