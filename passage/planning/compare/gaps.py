"""Combinations that lack much of the wind or current on a leg, and remarks about them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.planning.voyage.flows import (
    FLOW_SHARE,
    LEFT_OUT,
    REMEDIES,
    not_given_words,
    unknown_words,
)

if TYPE_CHECKING:
    from passage.inputs.route import Route
    from passage.planning.compare.cell import Cell

Bools = npt.NDArray[np.bool_]


def lacks_flow(cell: Cell) -> Bools:
    """Departures with wind or current missing on more than a fifth of a leg."""
    much = (cell.wind_gap > FLOW_SHARE) | (cell.current_gap > FLOW_SHARE)
    return np.asarray(np.any(much, axis=-1))


def gap_notes(routes: Sequence[Route], cells: Sequence[Cell]) -> list[str]:
    """A sentence for each route and flow: how many combinations, and the largest share."""
    notes = []
    for flow in ("wind", "current"):
        gaps = [getattr(cell, f"{flow}_gap") for cell in cells]
        if all(np.all(gap == 1.0) for gap in gaps):
            words = not_given_words(flow)
            notes.append(f"{words[0].upper()}{words[1:]}")
            continue
        for index, route in enumerate(routes):
            mine = [gap for gap, cell in zip(gaps, cells, strict=True) if cell.route == index]
            if not mine:
                continue
            every = np.concatenate(mine)
            hit = int(np.count_nonzero(np.any(every > FLOW_SHARE, axis=-1)))
            if not hit:
                continue
            leg = int(np.argmax(np.max(every, axis=0)))
            most = 100.0 * every[:, leg].max()
            notes.append(
                f"{route.name}: no {flow} is known on more than {100.0 * FLOW_SHARE:.0f} % of a "
                f"leg in {hit} of {len(every)} combinations, on up to {most:.0f} % of leg "
                f"{leg + 1}; {LEFT_OUT[flow]} there. {REMEDIES[flow]}"
            )
    return notes


def strict_words(cells: Sequence[Cell]) -> list[str]:
    """What wind and current the forecast lacks, in how many combinations, and the remedy."""
    words = []
    for flow in ("wind", "current"):
        gaps = [getattr(cell, f"{flow}_gap") for cell in cells]
        short = sum(int(np.any(gap > FLOW_SHARE, axis=-1).sum()) for gap in gaps)
        if short:
            most = 100.0 * max(float(gap.max()) for gap in gaps)
            every = sum(len(gap) for gap in gaps)
            where = f"up to {most:.0f} % of a leg in {short} of {every} combinations"
            text = unknown_words(flow, where)
            words.append(f"{text[0].upper()}{text[1:]}")
    return words
