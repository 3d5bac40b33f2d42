"""The same departures with several vessels: mean differences by month."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import PassageError
from passage.planning.season.calendar import CALM, months_of
from passage.planning.season.departures import UNKNOWN, WITHIN
from passage.planning.season.season import SeasonResult
from passage.planning.season.spells import few, mean_interval, spell_hours, spells_of

#: What is compared: a column of ``departures.py``, or the share within limits (in points).
COMPARED: tuple[str, ...] = (
    "within_limits_percent", "fuel_l", CALM, "worst_leg_motion_sickness_percent",
    "fin_travel_deg",
)  # fmt: skip


@dataclass(frozen=True)
class Difference:
    """Means of both vessels over the same departures, second less first, and its interval.

    ``few``: of too few departures or spells.
    """

    first: float
    second: float
    change: float
    interval: tuple[float, float] | None
    few: bool = False


@dataclass(frozen=True)
class MonthPair:
    """One month (0: all) of one passage: a vessel compared with the first."""

    vessel: int
    passage: int
    month: int
    departures: int
    spells: int
    differences: dict[str, Difference | None]

    @property
    def few(self) -> bool:
        """Whether there are too few departures or spells."""
        return few(self.departures, self.spells)


def side_by_side(results: Sequence[SeasonResult]) -> list[MonthPair]:
    """Every vessel compared with the first, passage by passage and month by month.

    Only departures known for both count, so that the weather makes no difference; the
    interval comes from drawing spells again.

    Raises
    ------
    PassageError
        The seasons are not of the same departures and routes.
    """
    first = results[0]
    pairs = []
    for v, other in enumerate(results[1:], start=1):
        if not np.array_equal(first.departures_s, other.departures_s) or len(first.labels) != len(
            other.labels
        ):
            raise PassageError("These seasons are not of the same departures and routes.")
        month = months_of(first.departures_s)
        for p in range(len(first.labels)):
            spell = spells_of(
                first.departures_s,
                spell_hours(first.numbers[CALM][p], first.departures_s, month),
            )
            both = (first.numbers["status"][p] == 0) & (other.numbers["status"][p] == 0)
            for m in range(13):
                pick = both if m == 0 else both & (month == m)
                if not pick.any():
                    continue
                pairs.append(
                    MonthPair(
                        vessel=v,
                        passage=p,
                        month=m,
                        departures=int(pick.sum()),
                        spells=int(np.unique(spell[pick]).size),
                        differences={
                            name: _difference(name, first, other, p, pick, spell)
                            for name in COMPARED
                        },
                    )
                )
    return pairs


def _values(name: str, result: SeasonResult, p: int) -> npt.NDArray[np.float64]:
    if name != "within_limits_percent":
        return np.asarray(result.numbers[name][p], dtype=float)
    state: npt.NDArray[Any] = result.numbers["within_limits"][p]
    return np.where(state == UNKNOWN, np.nan, np.where(state == WITHIN, 100.0, 0.0))


def _difference(
    name: str,
    first: SeasonResult,
    other: SeasonResult,
    p: int,
    pick: npt.NDArray[np.bool_],
    spell: npt.NDArray[np.int64],
) -> Difference | None:
    one, two = _values(name, first, p), _values(name, other, p)
    known = pick & np.isfinite(one) & np.isfinite(two)
    if not known.any():
        return None
    change = two[known] - one[known]
    return Difference(
        first=float(one[known].mean()),
        second=float(two[known].mean()),
        change=float(change.mean()),
        interval=mean_interval(change, spell[known]),
        few=few(change.size, np.unique(spell[known]).size),
    )
