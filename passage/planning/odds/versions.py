"""The versions of a forecast that odds are counted on: its members, or draws of the error model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from passage.planning.odds.drawn import DrawnForecast
from passage.planning.odds.draws import doubts, draws_words, run_hour
from passage.planning.odds.error_model import ErrorModel
from passage.planning.voyage.rolling import SURE, Doubt

if TYPE_CHECKING:
    from passage.inputs.forecast import Forecast

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Versions:
    """``count`` versions of a forecast: ``sea.sample(..., member)`` gives that of one.

    ``normals`` are the standard normal numbers of the model's doubt, ``(count, DOUBTS)``;
    None for members, to which no doubt is added. ``run_s`` and ``run_given`` are those of
    the error model's age, ``own`` says that its numbers are the user's.
    """

    sea: Any
    count: int
    normals: Array | None = None
    run_s: float = np.nan
    run_given: bool = False
    own: bool = False

    @property
    def doubt(self) -> Doubt:
        """The model's doubt, ``(count, 1)`` each."""
        return SURE if self.normals is None else doubts(self.normals)

    @property
    def what(self) -> str:
        """What one version is called, in the plural."""
        return "members" if self.normals is None else "draws"

    def words(self, departure_s: float) -> str:
        """Source of the odds of one departure."""
        if self.normals is None:
            return f"{self.count} members"
        return draws_words(self.count, self.run_s, self.run_given, departure_s, own=self.own)


def versions_of(
    forecast: Forecast, departure_s: float, draws: int, model: ErrorModel | None = None
) -> Versions | None:
    """Members where the forecast has them, else so many draws; None for no draws.

    ``departure_s`` is the earliest departure: without a run in the files no later hour is
    taken for it.
    """
    if forecast.n_members > 1:
        return Versions(forecast, forecast.n_members)
    if draws <= 0:
        return None
    run_s, given = run_hour(forecast, departure_s)
    drawn = DrawnForecast(forecast, model or ErrorModel(), run_s, draws)
    return Versions(drawn, draws, drawn.doubts, run_s, given, own=model is not None)
