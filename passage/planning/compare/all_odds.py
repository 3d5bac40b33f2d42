"""Which combinations get odds, and whether members or draws are counted."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.errors import PassageError
from passage.planning.compare import choice
from passage.planning.compare.odds import CompareOdds, odds_of_cells
from passage.planning.odds.versions import versions_of
from passage.planning.voyage.steps import stage

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast
    from passage.inputs.route import Route
    from passage.planning.compare.cell import Cell, CellTask
    from passage.planning.compare.compare import Comparison
    from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int_]

#: What no draw of the sea can change: such combinations get no odds.
_HOPELESS = choice.UNKNOWN | choice.LAND | choice.NO_WAY | choice.FLOW | choice.HUNT


def count_all(
    yacht: Yacht,
    found: Comparison,
    pairs: Sequence[tuple[Cell, CellTask]],
    forecast: Forecast,
    judged: Callable[[Route, Cell], tuple[dict[str, Array], Ints]],
    progress: Callable[[int, int], None] | None,
) -> CompareOdds | None:
    """Odds of all combinations that could be chosen; None where they are not asked for.

    ``pairs`` are the cells of ``found`` and what each was made from; ``judged`` judges the
    departures of a cell of a route. A forecast with members always gives odds.

    Raises
    ------
    PassageError
        Odds are asked for, and there are neither members nor draws.
    """
    options = found.options
    if options.odds is None and (options.draws == 0 or forecast.n_members == 1):
        return None
    first = min(options.departures_s)
    versions = versions_of(forecast, first, options.draws, options.forecast_error)
    if versions is None:
        raise PassageError(
            "--odds needs versions of the forecast to count: a forecast with members, or --draws "
            "of 1 or more (64 are usual)."
        )
    stage(progress, f"{versions.what} of every combination")
    hopeful = (found.closed & _HOPELESS) == 0
    wanted = [hopeful[found.cell == number] for number in range(len(found.cells))]
    judges = [partial(judged, found.routes[cell.route]) for cell in found.cells]
    return odds_of_cells(
        yacht, pairs, wanted, forecast, versions, options, judges, progress=progress
    )
