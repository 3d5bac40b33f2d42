"""Options of the questions: their types, words and ranges, checked once; no heavy imports.

An option has the name of the planning field that takes it; to add one, add a line to its class here
(a test compares the two) and, where it has words or a range, to the tables.
"""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Iterable, Mapping
from typing import Any, TypedDict

from passage.errors import PassageError, did_you_mean

PathLike = str | os.PathLike[str]
Say = Callable[[str], None]


class ReadingOptions(TypedDict, total=False):
    """How forecast files are read; with files only, not with an open forecast."""

    nearest_sea_cell_km: float | None
    harbour_nm: float | None
    harbour_sea: str
    single_time_h: float
    name_map: PathLike | None


class PlanChoices(ReadingOptions, total=False):
    """Options of ``passage.plan`` besides departure, arrival and speed."""

    hold: str
    fins: str
    heel: str
    ease: bool
    minutes: float
    wave_method: str
    responses: PathLike | None
    weighting: bool
    moves: PathLike | None
    newest_run: bool
    draws: int
    record: PathLike | None
    forecast_error: Mapping[str, Any] | None


class CompareChoices(ReadingOptions, total=False):
    """Options of ``passage.compare`` besides times and speeds."""

    fins: str | Iterable[str]
    comfort: str
    budget: float | None
    daylight: bool
    allow_land: bool
    hold: str
    heel: str
    minutes: float
    wave_method: str
    responses: PathLike | None
    odds: float | None
    draws: int
    newest_run: bool
    forecast_error: Mapping[str, Any] | None


class HeelChoices(ReadingOptions, total=False):
    """Options of ``passage.heel`` besides departure and speed."""

    minutes: float
    heel_l_per_deg_h: float
    roll_l_per_deg_h: float
    fuel_price_per_l: float | None
    crew_cost_per_hour: float | None
    crew_l_per_transfer: float
    ballast: bool
    alongside_hours: float
    smallest_transfer_m3: float
    odds: float | None
    draws: int
    forecast_error: Mapping[str, Any] | None


class SeasonChoices(TypedDict, total=False):
    """Options of ``passage.season`` besides departures, speeds and where it runs."""

    heel: str
    wave_method: str
    minutes: float
    block_mb: float
    exact: bool
    lists_deg: Iterable[float]
    ballast: tuple[float, float, float] | None
    harbour_nm: float | None
    harbour_sea: str


class SuggestChoices(ReadingOptions, total=False):
    """Options of ``passage.suggest`` besides departure, arrival and speed."""

    objective: str
    budget: float | None
    roll_limit_deg: float | None
    corridor_nm: float
    box: tuple[float, float, float, float] | None
    margin_nm: float
    cell_nm: float | None
    longest: float
    fins: str
    heel: str
    wave_method: str
    least_depth_m: float | None
    responses: PathLike | None
    minutes: float
    odds: float | None
    daylight: bool
    by_leg: bool
    draws: int
    forecast_error: Mapping[str, Any] | None


#: Draws of the error model for the odds of a plan, unless another number is asked for.
DRAWS = 64
#: The words that an option takes.
WORDS: dict[str, tuple[str, ...]] = {
    "hold": ("water", "ground", "fuel"),
    "fins": ("active", "centred", "absent"),
    "heel": ("fins", "limit", "leave"),
    "wave_method": ("all-heading", "stawave-1", "kreitner"),
    "comfort": ("roll", "mean-roll", "hours", "sickness", "lateral"),
    "objective": ("fuel", "comfort"),
    "harbour_sea": ("sheltered", "nearest"),
    "system": ("total", "wind_sea", "swell"),
}
#: Lowest and highest value of an option, and its unit; both ends are allowed.
RANGES: dict[str, tuple[float, float, str]] = {
    "speed_kn": (0.1, 60.0, "kn"),
    "speeds_kn": (0.1, 60.0, "kn"),
    "minutes": (1.0, 360.0, "min"),
    "every_h": (0.05, 8784.0, "h"),
    "nearest_sea_cell_km": (0.0, 100.0, "km"),
    "harbour_nm": (0.1, 15.0, "nm"),
    "single_time_h": (0.0, 48.0, "h"),
    "budget": (0.0, 1e6, ""),
    "heel_l_per_deg_h": (0.0, 1e6, "l"),
    "roll_l_per_deg_h": (0.0, 1e6, "l"),
    "fuel_price_per_l": (1e-4, 1e6, ""),
    "crew_cost_per_hour": (0.0, 1e9, ""),
    "alongside_hours": (0.0, 8784.0, "h"),
    "seconds": (1.0, 3600.0, "s"),
    "processes": (1, 256, ""),
    "block_mb": (10.0, 100_000.0, "MB"),
    "roll_limit_deg": (0.1, 90.0, "deg"),
    "corridor_nm": (1.0, 2000.0, "nm"),
    "margin_nm": (0.0, 200.0, "nm"),
    "least_depth_m": (0.1, 11_000.0, "m"),
    "cell_nm": (0.5, 200.0, "nm"),
    "longest": (1.02, 5.0, ""),
    "draws": (0, 4096, ""),
    "odds": (1.0, 99.0, "%"),
    "lists_deg": (-15.0, 15.0, "deg"),
    "ballast": (-1000.0, 1000.0, ""),
    "passages_per_year": (0.1, 10_000.0, ""),
    "ballast_cost": (0.0, 1e9, ""),
    "ballast_years": (0.5, 100.0, "years"),
}


def check(given: Mapping[str, Any], known: Iterable[str]) -> None:
    """Refuse options that are unknown, or have a word or number that is not allowed.

    Raises
    ------
    TypeError
        An unknown option, as for any Python function.
    PassageError
        Every bad value at once.
    """
    names = list(known)
    for name in given:
        if name not in names:
            hint = did_you_mean(name, names) or f"Known: {', '.join(names)}."
            raise TypeError(f"{name} is not an option here. {hint}")
    problems = [problem for name, value in given.items() for problem in _problems(name, value)]
    if problems:
        raise PassageError("\n".join(problems))


def _problems(name: str, value: Any) -> list[str]:
    if value is None:
        return []
    if isinstance(value, (list, tuple, set, frozenset)):
        return [problem for one in value for problem in _problems(name, one)]
    if name in WORDS and value not in WORDS[name]:
        hint = did_you_mean(str(value), WORDS[name])
        words = f"{name} {value!r} is not known. Give one of {', '.join(WORDS[name])}. {hint}"
        return [words.rstrip()]
    if name in RANGES:
        low, high, unit = RANGES[name]
        want = f"Give {low:.10g} to {high:.10g} {unit}".rstrip() + "."
        try:
            number = float(value)
        except (TypeError, ValueError):
            return [f"{name} {value!r} is not a number. {want}"]
        if not math.isfinite(number):
            return [f"{name} {value!r} is not a finite number. {want}"]
        if not low <= number <= high:
            kind = "small" if number < low else "large"
            return [f"{name} {number:.10g} {unit}".rstrip() + f" is too {kind}. {want}"]
    return []
