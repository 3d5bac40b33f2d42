"""How ``model`` declares a key of the vessel file: a dataclass field with more about it.

Each kind of declaration takes one line about the key, its ``unit`` where the end of the name
does not say it, and limits in pydantic's words.
"""

from __future__ import annotations

from dataclasses import MISSING, dataclass, field
from typing import Any


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A value the file did not give, and the method that gave it.

    ``low`` and ``high`` are the ends of its band where it widens roll or fuel.
    """

    key: str
    value: float | str
    unit: str
    method: str
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Key:
    """The declaration of a key; ``may_miss``: how it is found where the file leaves it out."""

    about: str
    may_miss: str
    unit: str | None
    limits: dict[str, float]


def _declared(
    about: str, may_miss: str, unit: str | None, default: Any, limits: dict[str, float]
) -> Any:
    return field(default=default, metadata={"key": Key(about, may_miss, unit, limits)})


def key(about: str, *, unit: str | None = None, default: Any = MISSING, **limits: float) -> Any:
    """Needed, or with a default that is in the file too."""
    return _declared(about, "", unit, default, limits)


def optional(about: str, *, unit: str | None = None, **limits: float) -> Any:
    """None where it is not given."""
    return _declared(about, "", unit, None, limits)


def filled(about: str, *, unit: str | None = None, **limits: float) -> Any:
    """Filled in by ``complete`` where it is missing: later code finds a number."""
    return _declared(about, "filled", unit, MISSING, limits)


def estimated(about: str, *, unit: str | None = None, **limits: float) -> Any:
    """Estimated by ``builder`` where it is missing; until then None."""
    return _declared(about, "estimated", unit, MISSING, limits)
