"""Records made from numbers, for the tests of what is learnt from them; invented data."""

from __future__ import annotations

from collections.abc import Sequence

from passage.inputs.records.record_file import WHOLE, Entry, Record, new_entry

DAY_S = 86400.0


def entry(
    day: float,
    *,
    fuel: float = 1.0,
    roll: float = 1.0,
    vessel: str = "Brambling",
    hours: float = 24.0,
    numbers: tuple[str, str] = ("f", "r"),
    cleaned: str | None = None,
    legs: Sequence[dict] = (),
    ages: Sequence[dict] = (),
    **more: float | str | None,
) -> Entry:
    """A passage whose logged fuel and roll are so many times what was computed for it."""
    begin = 1.7e9 + DAY_S * day
    whole = {
        "part": WHOLE,
        "hours": hours,
        "fuel_numbers": numbers[0],
        "roll_numbers": numbers[1],
        "hull_cleaned": cleaned,
        **_sides(fuel, roll),
        **more,
    }
    rows = [whole, *legs, *ages]
    return new_entry(begin, begin + 3600.0 * hours, vessel, rows)


def leg(number: int, *, fuel: float = 1.0, roll: float = 1.0, **more: float) -> dict:
    """A row of a leg."""
    return {"part": f"leg {number}", "hours": 6.0, **_sides(fuel, roll), **more}


def _sides(fuel: float, roll: float) -> dict:
    # The forecast took 100 l and 0.2 deg of the miss: none of it is the model's.
    return {
        "fuel_planned_l": 900.0,
        "fuel_logged_l": 1000.0 * fuel,
        "fuel_forecast_l": 100.0,
        "fuel_otherwise_l": 0.0,
        "fuel_model_l": 1000.0 * (fuel - 1.0),
        "roll_planned_deg": 1.8,
        "roll_logged_deg": 2.0 * roll,
        "roll_forecast_deg": 0.2,
        "roll_otherwise_deg": 0.0,
        "roll_model_deg": 2.0 * (roll - 1.0),
    }


def record(entries: Sequence[Entry], file: str = "record.csv") -> Record:
    """A record of passages."""
    made = Record(file)
    for one in entries:
        made, _ = made.with_entry(one)
    return made
