"""An error model from a user's own numbers, ``[forecast_error]`` in the defaults file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from typing import Any

from passage.errors import PassageError, did_you_mean
from passage.planning.odds.error_model import ErrorModel

#: Largest plausible numbers; a larger one has a wrong unit.
_MOST = {
    "lead_h": 1000.0,
    "height_share": 1.0,
    "period_s": 5.0,
    "direction_deg": 90.0,
    "wind_m_s": 15.0,
    "current_m_s": 2.0,
    "correlation_h": 1000.0,
    "correlation_km": 10_000.0,
}
#: Units for messages.
_UNITS = {
    "lead_h": "h", "height_share": "of the height", "period_s": "s", "direction_deg": "deg",
    "wind_m_s": "m/s", "current_m_s": "m/s", "correlation_h": "h", "correlation_km": "km",
}  # fmt: skip


def own_model(table: Mapping[str, Any] | None, where: str = "forecast_error") -> ErrorModel | None:
    """The usual model with the numbers given in place of its own; None where none are given.

    A single number for a key that depends on age holds at every age. With a ``lead_h`` of
    another length, every key that depends on age must be given too.

    Raises
    ------
    PassageError
        All that is wrong, each line beginning with ``where``.
    """
    if table is None:
        return None
    usual = ErrorModel()
    by_age = [one.name for one in fields(usual) if isinstance(getattr(usual, one.name), tuple)]
    known = [one.name for one in fields(usual)]
    problems: list[str] = []
    given: dict[str, Any] = {}
    for key, value in table.items():
        if key not in known:
            hint = did_you_mean(str(key), known) or f"Known are {', '.join(known)}."
            problems.append(f"{key}: is not a number of the error model. {hint}")
            continue
        values = value if isinstance(value, (list, tuple)) else [value]
        if key not in by_age and isinstance(value, (list, tuple)):
            problems.append(f"{key}: must be one number, not a list.")
        elif not values or not all(
            isinstance(one, (int, float)) and not isinstance(one, bool) for one in values
        ):
            problems.append(f"{key} = {_short(value)}: must be {_kind(key in by_age)}.")
        elif key in _MOST and max(abs(one) for one in values) > _MOST[key]:
            problems.append(
                f"{key} = {_short(value)}: is over {_MOST[key]:g} {_UNITS[key]}. Check the unit."
            )
        else:
            given[key] = tuple(float(one) for one in values) if key in by_age else float(value)
    ages = len(given.get("lead_h", usual.lead_h))
    missing = [name for name in by_age if name not in given]
    if "lead_h" in given and missing and ages != len(usual.lead_h):
        problems.append(f"lead_h: with other ages {', '.join(missing)} must be given as well.")
    for name in by_age:
        if name != "lead_h" and len(given.get(name, ())) == 1:
            given[name] = given[name] * ages
    if not problems:
        problems = [f"{text}." for text in replace(usual, **given).problems()]
    if problems:
        raise PassageError("\n".join(f"{where}: {text}" for text in problems))
    return replace(usual, **given)


def _kind(by_age: bool) -> str:
    return "a number, or a list of one for each of lead_h" if by_age else "a number"


def _short(value: Any) -> str:
    text = ascii(value)
    return text if len(text) <= 40 else f"{text[:40]}..."
