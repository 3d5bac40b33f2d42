"""Rows of published or independently worked values, kept as data in tests/reference.

A file starts with comment lines that say source, edition, equation or page, and how
many digits are printed. Numbers stay as they are printed, so half a unit of the last
printed digit is the tolerance of a row unless its file says otherwise.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

import pytest

FOLDER = Path(__file__).parent / "reference"


@dataclass(frozen=True)
class Printed:
    """A number as printed: its value and half a unit in its last place."""

    text: str

    @property
    def value(self) -> float:
        """The number."""
        return float(self.text)

    @property
    def half_unit(self) -> float:
        """Half a unit in the last printed place."""
        mantissa, _, exponent = self.text.lower().partition("e")
        decimals = len(mantissa.partition(".")[2])
        return 0.5 * 10.0 ** (int(exponent or 0) - decimals)

    def holds(self, found: float, units: float = 1.0) -> bool:
        """Whether a number found rounds to the printed one, or lies ``units`` half units off.

        A part in a million of the half unit is let through: the note's own rounding of
        an exact half.
        """
        return abs(found - self.value) <= self.half_unit * units * (1.0 + 1e-6)


def header(name: str) -> list[str]:
    """Comment lines of a file."""
    lines = (FOLDER / name).read_text(encoding="utf-8").splitlines()
    return [line[1:].strip() for line in lines if line.startswith("#")]


def rows(name: str) -> list[dict[str, str]]:
    """Rows of a file as words, in its order."""
    lines = (FOLDER / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if line and not line.startswith("#")))


def cases(name: str, *columns: str):
    """Rows as parameters of a test: the named columns, words as they are."""
    found = rows(name)
    assert found, f"{name} has no rows"
    return [
        pytest.param(*(row[c] for c in columns), id="-".join(row[c] for c in columns if row[c]))
        for row in found
    ]
