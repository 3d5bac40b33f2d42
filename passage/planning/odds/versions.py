"""Versions of a forecast for counting odds: its members, or draws of the error model."""

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
    """``count`` versions of a forecast; ``sea.sample(..., member)`` samples one of them.

    ``normals`` are the standard normal numbers of the model's doubt, ``(count, DOUBTS)``;
    None for members, to which no doubt is added. ``run_s`` is the time of the run that the
    forecast's age counts from, ``run_given`` whether a file gives it. ``own`` is True where
    the user gave numbers of the error model.
    """

    sea: Any
    count: int
    normals: Array | None = None
    run_s: float = np.nan
    run_given: bool = False
    own: bool = False

    @property
    def doubt(self) -> Doubt:
        """Factors for the doubt in the model, ``(count, 1)`` each."""
        return SURE if self.normals is None else doubts(self.normals)

    @property
    def what(self) -> str:
        """What the versions are called."""
        return "members" if self.normals is None else "draws"

    def words(self, departure_s: float) -> str:
        """Source of the odds of one departure."""
        if self.normals is None:
            return f"{self.count} members"
        return draws_words(self.count, self.run_s, self.run_given, departure_s, own=self.own)


def versions_of(
    forecast: Forecast, departure_s: float, draws: int, model: ErrorModel | None = None
) -> Versions | None:
    """Members where the forecast has them, else ``draws`` draws; None for no draws.

    ``departure_s`` is the earliest departure: where the files name no run, the time taken
    for it is no later than this.
    """
    if forecast.n_members > 1:
        return Versions(forecast, forecast.n_members)
    if draws <= 0:
        return None
    run_s, given = run_hour(forecast, departure_s)
    drawn = DrawnForecast(forecast, model or ErrorModel(), run_s, draws)
    return Versions(drawn, draws, drawn.doubts, run_s, given, own=model is not None)
