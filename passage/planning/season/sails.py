"""The passages that one way of living with a list sails, with their litres."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.planning.season.departures import WITHIN
from passage.planning.season.standing import Variant

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Sail:
    """The computed way of each known departure, and its litres over the upright yacht.

    ``litres`` ``(known,)`` have the price of a transfer in them, not what is paid by the year.
    """

    way: npt.NDArray[np.intp]
    departure: npt.NDArray[np.intp]
    litres: Array

    def of(self, values: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """Values ``(ways, departures)`` of the passages sailed, ``(known,)``."""
        return values[self.way, self.departure]


def sail_of(
    way: str,
    rows: Mapping[str, npt.NDArray[Any]],
    known: npt.NDArray[np.bool_],
    at: Mapping[Variant, int],
    list_deg: float,
    moves: Mapping[int, float],
) -> Sail | None:
    """Passages of one way with one list; None where it was not computed or is not possible.

    ``moves`` are the litres of a transfer to the list of each computed way that one can reach.
    Of those the transfer of each departure is the one that keeps the owner's limits, then the
    one of least litres, as a master would size it by his forecast.
    """
    departure = np.flatnonzero(known)
    over = (rows["fuel_l"] - rows["fuel_l"][at[Variant("upright", 0.0)]]).astype(float)
    if way != "transfer":
        i = at.get(Variant(way, list_deg))  # type: ignore[arg-type]
        if i is None:
            return None
        return Sail(np.full(departure.size, i), departure, over[i][known])
    if not moves:
        return None
    which = np.array(list(moves))
    litres = over[which][:, known] + np.array(list(moves.values()))[:, None]
    outside = rows["within_limits"][which][:, known] != WITHIN
    # Any price of breaking a limit that is more than all fuel.
    worth = litres + np.where(outside, 1.0 + np.ptp(litres, axis=0), 0.0)
    best = np.argmin(worth, axis=0)
    return Sail(which[best], departure, np.take_along_axis(litres, best[None], axis=0)[0])


def left_shares(sail: Sail | None, ways: Sequence[Variant]) -> dict[float, float]:
    """Lists [deg] that transfers leave at departure, with the share of departures [%]."""
    if sail is None or not sail.way.size:
        return {}
    which, count = np.unique(sail.way, return_counts=True)
    share = 100.0 * count / sail.way.size
    return dict(sorted((ways[i].list_deg, float(n)) for i, n in zip(which, share, strict=True)))
