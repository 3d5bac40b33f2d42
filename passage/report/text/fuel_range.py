"""The range of a plan's fuel: that of the draws, or the plan's own band where it is wider."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from passage.planning.plan.guesses import ESTIMATED
from passage.planning.plan.result import PlannedPassage
from passage.report.text.verdict import number

_ESTIMATES = "the doubt in her estimated numbers"


@dataclass(frozen=True)
class FuelRange:
    """The range shown beside the fuel, in litres.

    ``low`` to ``high`` encloses both 80 % of the draws and the plan's own band. ``draws``
    is the former, None without draws; ``cause`` names the cause of the plan's band, empty
    where that lies within the draws.
    """

    low: float
    high: float
    draws: tuple[float, float] | None
    cause: str
    versions: str
    apart: bool

    @property
    def under(self) -> str:
        """The line below the figure for fuel."""
        span = f"{number(self.low)} to {number(self.high)}"
        if self.draws is None:
            return f"{span} l"
        return f"{'band' if self.cause else '80 %'}: {span}"

    @property
    def sentence(self) -> str:
        """What each range covers, where the two differ; else empty."""
        if self.draws is None or not self.cause:
            return ""
        low, high = (number(end) for end in self.draws)
        without = " without that" if self.apart else ""
        return (
            f"The band of {number(self.low)} to {number(self.high)} l covers {self.cause}; "
            f"80 % of {self.versions}{without}: {low} to {high} l."
        )


def numbers_estimated(plan: PlannedPassage) -> bool:
    """Whether estimated numbers of the vessel widen the plan's bands."""
    return any(one.code == ESTIMATED for one in plan.cautions)


def versions_word(totals: Mapping[str, Any]) -> str:
    """What the odds are over: members of an ensemble, or draws of the forecast's errors."""
    return "members" if "members" in totals else "draws"


def fuel_range(plan: PlannedPassage) -> FuelRange | None:
    """The range to show beside the fuel; None where there is none.

    Draws leave out the doubt in estimated numbers of the vessel, so the range shown
    encloses both: the wider one is never hidden.
    """
    totals = plan.totals
    draws = _ends(totals.get("fuel_l_p10"), totals.get("fuel_l_p90"))
    band = _ends(totals.get("fuel_low_l"), totals.get("fuel_high_l"))
    versions = versions_word(totals)
    if draws is None:
        return None if band is None else FuelRange(*band, None, "", versions, False)
    if band is None:
        return FuelRange(*draws, draws, "", versions, False)
    low, high = min(draws[0], band[0]), max(draws[1], band[1])
    if (number(low), number(high)) == tuple(number(end) for end in draws):
        return FuelRange(*draws, draws, "", versions, False)
    cause = band_cause(plan)
    apart = cause == _ESTIMATES or "members" in totals
    return FuelRange(low, high, draws, cause, versions, apart)


def band_cause(plan: PlannedPassage) -> str:
    """What the plan's own band of fuel covers, in words."""
    # Her record replaces the formulas' band and the estimates with it.
    record = plan.provenance.get("record") or {}
    if "middle" in record.get("fuel", {}):
        return "the scatter of her past passages"
    return _ESTIMATES if numbers_estimated(plan) else "the doubt in the formulas"


def _ends(low: float | None, high: float | None) -> tuple[float, float] | None:
    return None if low is None or high is None else (float(low), float(high))
