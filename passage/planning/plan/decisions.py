"""Decisions of a plan about fins and heel, one line each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from passage.planning.odds.draws import Sailing
from passage.planning.voyage.evaluate import Evaluation
from passage.planning.voyage.held import lost_to, own_drag
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import Passage, PlanOptions

#: Heel left by the fins from which it is mentioned. [deg]
SHORT_DEG = 0.05


def _on(numbers: Sequence[int], count: int) -> str:
    """``leg 2``, ``legs 1, 2, 4`` or, of more than one, ``every leg``."""
    if len(numbers) == count > 1:
        return "every leg"
    return f"leg{'s' * (len(numbers) > 1)} {', '.join(map(str, numbers))}"


def decisions_of(
    passage: Passage,
    legs: Sequence[dict[str, Any]],
    options: PlanOptions,
    lost: tuple[float, float] | None = None,
) -> tuple[dict[str, Any], ...]:
    """Decisions about fins and heel, one line each.

    ``lost`` are the hours and miles that the offset costs where the fuel rate is held.
    """
    vessel = passage.vessel
    if not vessel.fins:
        return ()
    uses: dict[str, list[int]] = {}
    for leg in legs:
        uses.setdefault(str(leg["fin_use"]), []).append(leg["leg"])
    rows: list[dict[str, Any]] = [
        {
            "kind": "fin_use",
            "legs": numbers,
            "choice": word,
            "text": f"Fins {word} on {_on(numbers, len(legs))}.",
        }
        for word, numbers in uses.items()
    ]
    offset = [leg for leg in legs if leg["fin_offset_deg"] not in (None, 0.0)]
    offset = [leg for leg in offset if leg["fin_offset_deg"] == leg["fin_offset_deg"]]
    litres = sum(leg["fuel_fins_offset_l"] or 0.0 for leg in offset)
    if offset and litres == litres:
        rows.append(
            {
                "kind": "heel",
                "legs": [leg["leg"] for leg in offset],
                "choice": "fins",
                "text": "The fins hold the steady heel on "
                f"{_on([leg['leg'] for leg in offset], len(legs))}{_left_over(offset)} for "
                f"{litres:,.0f} l in all{_in_time(lost)}. "
                "`passage heel` compares that with moving fuel or water.",
            }
        )
    elif options.heel == "leave" and abs(vessel.loading.list_deg) > 0:
        rows.append(
            {
                "kind": "heel",
                "legs": [leg["leg"] for leg in legs],
                "choice": "leave",
                "text": f"The list of {vessel.loading.list_deg:+.1f} deg is left as it is.",
            }
        )
    return tuple(rows)


def left_with(legs: Sequence[dict[str, Any]]) -> tuple[tuple[int, ...], float]:
    """Legs whose heel the fins cannot hold in full, and the most heel left on them. [deg]"""
    short = [leg for leg in legs if (leg["heel_shortfall_deg"] or 0) > SHORT_DEG]
    worst = max((abs(leg["steady_heel_worst_deg"]) for leg in short), default=0.0)
    return tuple(leg["leg"] for leg in short), float(worst)


def _left_over(legs: Sequence[dict[str, Any]]) -> str:
    """Words for the heel that the fins leave; empty where they hold all."""
    numbers, worst = left_with(legs)
    if not numbers:
        return ""
    where = "" if len(numbers) == len(legs) else f" on {_on(numbers, 0)}"
    return f" as far as they can (up to {worst:.1f} deg remain{where})"


def offset_time(
    passage: Passage, way: March, here: Evaluation, sailing: Sailing
) -> tuple[float, float] | None:
    """Hours and miles that the offset costs at a held fuel rate; None where fuel is not held."""
    if sailing.slowed_by is None:
        return None
    own = own_drag(passage.yacht, way, here, sailing.choices)
    without = replace(own, force_n=own.force_n - np.nan_to_num(here.values["fin_drag_offset_n"]))
    return lost_to(sailing.slowed_by(without, way.sampled_s), way)


def _in_time(lost: tuple[float, float] | None) -> str:
    """Cost of the offset in minutes and miles where the fuel rate is held; else empty."""
    if lost is None or not np.isfinite(lost[0]):
        return ""
    return (
        f", out of the rate held: she is {60.0 * lost[0]:.0f} min ({lost[1]:.1f} nm) later, "
        "which the times here count"
    )
