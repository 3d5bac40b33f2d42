"""Units as files write them, and the range in which a value is believable.

Everything is turned into our units here: m, s, rad (directions from north,
clockwise), m/s, Hz. A unit that is not in the table is refused, never guessed.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from passage.units import DEG_RAD, KNOT_M_S


@dataclass(frozen=True)
class Range:
    """Limits of a believable value in our units, with the unit a message shows."""

    low: float
    high: float
    unit: str
    per_unit: float = 1.0


#: Outside these a value is refused. Heights down to -0.01 m are packing noise of
#: calm sea and count as 0; the highest significant height measured is near 20 m. Wind of
#: 9,999 cm/s is a fill value.
RANGES: dict[str, Range] = {
    "height": Range(-0.01, 40.0, "m"),
    "period": Range(0.0, 60.0, "s"),
    "frequency": Range(0.0, 5.0, "Hz"),
    "direction": Range(-2 * math.pi - 1e-3, 4 * math.pi + 1e-3, "deg", DEG_RAD),
    # A circular width sqrt(2 (1 - R)) cannot exceed sqrt(2) rad, 81 deg.
    "spread": Range(0.0, 1.45, "deg", DEG_RAD),
    "wind": Range(-90.0, 90.0, "m/s"),
    "current": Range(-10.0, 10.0, "m/s"),
    "depth": Range(-12000.0, 12000.0, "m"),
    "spectrum": Range(-1e-6, 1e5, "m2 s/rad2"),
}

_LENGTH = {"m": 1.0, "metre": 1.0, "metres": 1.0, "meter": 1.0, "meters": 1.0,
           "cm": 0.01, "mm": 0.001, "km": 1000.0, "ft": 0.3048, "foot": 0.3048,
           "feet": 0.3048}  # fmt: skip
_TIME = {"s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0}
_FREQUENCY = {"hz": 1.0, "s-1": 1.0, "1/s": 1.0, "s^-1": 1.0, "s**-1": 1.0}
_ANGLE = {
    **dict.fromkeys(
        ("deg", "degs", "degree", "degrees", "degreetrue", "degreestrue", "degree_true",
         "degrees_true", "degreet", "degrees_t", "degt", "°", "degree_t"),
        DEG_RAD,
    ),
    **dict.fromkeys(("rad", "radian", "radians"), 1.0),
}  # fmt: skip
_SPEED = {
    **dict.fromkeys(
        ("m/s", "ms-1", "ms**-1", "ms^-1", "m.s-1", "metre/second", "metersecond-1",
         "metrespersecond", "meterspersecond", "meter/second", "meters/second",
         "metersecond**-1", "m/sec"),
        1.0,
    ),
    **dict.fromkeys(("knot", "knots", "kt", "kts", "kn"), KNOT_M_S),
    "cm/s": 0.01, "cms-1": 0.01, "km/h": 1.0 / 3.6, "kmh-1": 1.0 / 3.6,
}  # fmt: skip
_TABLES = {
    "height": _LENGTH, "below_surface": _LENGTH, "elevation": _LENGTH, "period": _TIME,
    "frequency": _FREQUENCY, "direction": _ANGLE, "spread": _ANGLE, "eastward": _SPEED,
    "northward": _SPEED, "speed": _SPEED,
}  # fmt: skip
_EXPECTED = {
    "height": "m", "below_surface": "m", "elevation": "m", "period": "s",
    "frequency": "s-1", "direction": "degree", "spread": "degree",
    "eastward": "m s-1", "northward": "m s-1", "speed": "m s-1",
    "spectrum": "m2 s rad-1",
}  # fmt: skip


def expected_unit(quantity: str) -> str:
    """A unit that would be accepted, for messages."""
    return _EXPECTED[quantity]


def factor_to_ours(quantity: str, unit: str) -> float | None:
    """Factor from a file's unit to ours, or None when the unit is not known."""
    if quantity == "spectrum":
        return _spectrum_factor(unit)
    return _TABLES[quantity].get(re.sub(r"\s+", "", unit.strip().lower()))


def is_radians(unit: str) -> bool:
    """Whether an angle's unit is radians."""
    return _ANGLE.get(re.sub(r"\s+", "", unit.strip().lower())) == 1.0


def _spectrum_factor(unit: str) -> float | None:
    """Factor from density per (Hz, angle unit) to per (rad/s, rad)."""
    text = re.sub(r"[\s*^.]+", "", unit.strip().lower())
    text = text.replace("log10(", "").replace(")", "")
    text = text.replace("meters", "m").replace("metre", "m").replace("meter", "m")
    per_hz = 1.0 / (2.0 * math.pi)
    radian = r"m2(s|/hz|hz-1)(/?rad(ian)?s?(-1)?)"
    degree = r"m2(s|/hz|hz-1)(/?(deg|degrees?)(-1)?)"
    if re.fullmatch(radian, text):
        return per_hz
    if re.fullmatch(degree, text):
        return per_hz / DEG_RAD
    return None


def range_of(system: str, quantity: str) -> Range:
    """Limits for a meaning."""
    if system in ("wind", "current") and quantity != "direction":
        return RANGES[system]
    if system == "depth":
        return RANGES["depth"]
    return RANGES[quantity]
