"""What a plan decides about fins and heel, a line each."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.planning.voyage.given_up import speed_given_up
from passage.planning.voyage.march import March
from passage.planning.voyage.prepare import Passage, PlanOptions


def _on(numbers: Sequence[int], count: int) -> str:
    """``leg 2``, ``legs 1, 2, 4`` or, of more than one, ``every leg``."""
    if len(numbers) == count > 1:
        return "every leg"
    return f"leg{'s' * (len(numbers) > 1)} {', '.join(map(str, numbers))}"


def decisions_of(
    passage: Passage,
    legs: Sequence[dict[str, Any]],
    options: PlanOptions,
    way: March | None = None,
    offset_l: npt.NDArray[np.float64] | None = None,
) -> tuple[dict[str, Any], ...]:
    """What was decided about fins and heel, a line each.

    With ``way`` and the litres of the offset at its points, ``(n,)``, a held fuel rate has
    its price in time.
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
                f"{_on([leg['leg'] for leg in offset], len(legs))} for {litres:.0f} l in all"
                f"{_in_time(passage, options, way, offset_l)}. "
                "`passage heel` weighs that against moving fuel or water.",
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


def _in_time(
    passage: Passage,
    options: PlanOptions,
    way: March | None,
    offset_l: npt.NDArray[np.float64] | None,
) -> str:
    """Price of the offset in minutes and miles where the fuel rate is held; else nothing."""
    if options.hold != "fuel" or way is None or offset_l is None:
        return ""
    hours, miles = speed_given_up(passage.yacht, way, np.nan_to_num(offset_l))
    if not np.isfinite(hours):
        return ""
    return (
        f", on top of the rate held; to hold the rate for it as well she gives up "
        f"{60.0 * hours:.0f} min ({miles:.1f} nm), which the times here do not hold"
    )
