"""Refusal of a passage without a known sea at any point, with the reason and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from passage.errors import NoCoverage
from passage.inputs.forecast import ALL_HOURS, Forecast
from passage.inputs.forecast.gap_words import gap_words
from passage.planning.voyage.march import March
from passage.units import utc_text
from passage.variables import COVERAGE

if TYPE_CHECKING:
    from passage.planning.voyage.evaluate import Evaluation


def refuse_no_sea(forecast: Forecast, way: March, evaluation: Evaluation) -> None:
    """Refuse a passage without a known sea at any point.

    Raises
    ------
    NoCoverage
        No point has a sea; the message gives the share of the passage for each reason.
    """
    if np.any(np.isfinite(evaluation.excitation[..., 0])) or np.any(way.no_way):
        return
    codes = way.conditions.coverage
    shares = ", ".join(
        f"{100.0 * np.mean(codes == code):.0f} % {word.replace('_', ' ')}"
        for code, word in enumerate(COVERAGE)
        if np.any(codes == code)
    )
    files = ", ".join(source.file for source in forecast.sources)
    # A sea that holds everywhere and at all times has no hours.
    first = getattr(forecast, "time_from_s", None)
    if first is not None and first == forecast.time_to_s:
        raise NoCoverage(
            f"{files}: holds {utc_text(first)} only, and no point of the passage "
            f"has a sea then ({shares}). {ALL_HOURS}"
        )
    if np.any(codes == COVERAGE.index("time_gap")):
        begins, ends = np.min(way.time_s - 1800.0 * way.hours), np.max(way.end_time_s)
        raise NoCoverage(
            f"no point of the passage has a sea ({shares}): it runs {utc_text(begins)} to "
            f"{utc_text(ends)}, and {gap_words(forecast)}"
        )
    because = getattr(forecast, "own_range", "")
    raise NoCoverage(
        f"{files}: no point of the passage has a sea ({shares}). {because}{' ' * bool(because)}"
        "`passage check FILE --route ROUTE` shows why."
    )
