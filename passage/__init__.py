"""Fuel-cost-versus-comfort passage planner for a fin-stabilised motor yacht.

>>> import passage
>>> y = passage.read_vessel("brambling.toml")           # doctest: +SKIP
>>> p = passage.plan("direct.csv", y, ["waves.nc"],
...                  departure="2026-03-14T06:00Z")     # doctest: +SKIP

Each name is imported when it is first used; ``docs/python.md`` has worked examples.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from passage.api.quantities import (
        Comfort,
        FinOffset,
        Roll,
        added_resistance,
        comfort,
        fin_offset,
        roll,
    )
    from passage.api.questions import compare, heel, plan, suggest
    from passage.api.reading import open_forecast, read_route, read_vessel
    from passage.api.results import (
        CompareResult,
        HeelResult,
        PlanResult,
        SeasonResult,
        SuggestResult,
    )
    from passage.api.review_results import RecordResult, ReviewResult
    from passage.api.reviews import record, review
    from passage.api.seasons import season
    from passage.errors import PassageError

__version__ = "0.2.0"

#: Public names by the module that defines them.
_PLACES = {
    "passage.api.reading": ("read_vessel", "read_route", "open_forecast"),
    "passage.api.questions": ("plan", "compare", "heel", "suggest"),
    "passage.api.seasons": ("season",),
    "passage.api.reviews": ("review", "record"),
    "passage.api.review_results": ("ReviewResult", "RecordResult"),
    "passage.api.quantities": (
        "roll", "fin_offset", "added_resistance", "comfort", "Roll", "FinOffset", "Comfort",
    ),
    "passage.api.results": (
        "PlanResult", "CompareResult", "HeelResult", "SeasonResult", "SuggestResult",
    ),
    "passage.errors": ("PassageError",),
}  # fmt: skip
_PLACE_OF = {name: place for place, names in _PLACES.items() for name in names}

__all__ = [
    "Comfort",
    "CompareResult",
    "FinOffset",
    "HeelResult",
    "PassageError",
    "PlanResult",
    "RecordResult",
    "ReviewResult",
    "Roll",
    "SeasonResult",
    "SuggestResult",
    "__version__",
    "added_resistance",
    "comfort",
    "compare",
    "fin_offset",
    "heel",
    "open_forecast",
    "plan",
    "read_route",
    "read_vessel",
    "record",
    "review",
    "roll",
    "season",
    "suggest",
]


def __getattr__(name: str) -> Any:
    """Import a public name from its module, the first time it is used."""
    place = _PLACE_OF.get(name)
    if place is None:
        raise AttributeError(f"module 'passage' has no attribute {name!r}")
    value = getattr(importlib.import_module(place), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """Public names, imported so far or not."""
    return sorted({*globals(), *__all__})
