"""Notes about partitions that did not add up to the total."""

from __future__ import annotations

import math

from passage.inputs.forecast.fields import LoadCounts
from passage.inputs.forecast.waves import WavePlan

#: How the words begin where a mean period of the total would give the period of its rest.
NO_MEAN = "No file gives a mean period of the total"


def share(part: int, whole: int) -> str:
    """A share of the cells in percent."""
    percent = 100.0 * part / max(whole, 1)
    return f"{percent:.0f} %" if percent >= 9.5 else f"{percent:.2g} %"


def holding_words(counts: LoadCounts, plan: WavePlan | None) -> list[str]:
    """Sentences, each with the share of the sea cells that were read."""
    notes = []

    def of(part: int) -> str:
        return f"{share(part, counts.sea_cells)} of the sea cells"

    name = "rest" if plan is None else plan.systems[-1].words
    if counts.alone_cells:
        notes.append(
            f"{of(counts.alone_cells)} have a total but no partition; there the total is "
            f"taken as one system ({name})"
        )
    if counts.rest_cells:
        text = (
            f"in {of(counts.rest_cells)} the partitions leave a remainder of the total, taken as a "
            f"system of its own ({name})"
        )
        lacking = [
            f"{what} in {of(part)}"
            for what, part in (
                ("period", counts.period_unsolved_cells),
                ("direction", counts.direction_unsolved_cells),
            )
            if part
        ]
        if lacking:
            text += (
                "; it could not be worked out and is the total's own for the "
                + " and for the ".join(lacking)
            )
            if counts.period_unsolved_cells and plan is not None and plan.whole_mean is None:
                text += (
                    f". {NO_MEAN}, from which it would follow, so "
                    "fuel and roll may be several percent out: give the mean period, or the "
                    f"height, period and direction of the {name}"
                )
        else:
            text += "; its period and direction follow from the total's"
        notes.append(text)
    if counts.over_cells:
        most = f"up to {counts.largest_over:.2f} times in height"
        if math.isinf(counts.largest_over):
            most = "which is 0 m in some"
        notes.append(
            f"in {of(counts.over_cells)} the partitions are more than the total ({most}) and were "
            "scaled down to it"
        )
    if counts.under_cells:
        notes.append(
            f"in {of(counts.under_cells)} the partitions are less than the total, which has no "
            "period or direction of its own there; they were scaled up to it"
        )
    if counts.contradictory_cells:
        notes.append(
            f"in {of(counts.contradictory_cells)} the partitions are over one and a half times "
            "the total; they count as masked. Is one of the heights another quantity?"
        )
    return notes
