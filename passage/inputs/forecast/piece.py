"""What recognising a file yields: pieces, problems, what is not used."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

from passage.errors import Problem
from passage.inputs.forecast.axes import Grid
from passage.inputs.forecast.names import Meaning
from passage.inputs.forecast.opener import OpenFile
from passage.inputs.forecast.times import Times


@dataclass(frozen=True, eq=False)
class Piece:
    """One recognised variable of one file (or one partition of it)."""

    meaning: Meaning
    file: str
    variable: str
    unit: str
    factor: float
    dataset: Any
    lat_dim: str
    lon_dim: str
    grid: Grid
    times: Times | None
    fixed: dict[str, int] = field(default_factory=dict)
    member_dim: str = ""
    n_members: int = 1
    #: Numbers of the members as the file gives them, in its order; empty where it gives none.
    member_labels: tuple[float, ...] = ()
    frequency_dim: str = ""
    direction_dim: str = ""
    log10: bool = False
    how: str = ""
    #: Values outside are missing, as the file states; in the file's unit.
    valid: tuple[float, float] = (-math.inf, math.inf)

    def member_index(self, rank: int) -> int:
        """Place in the file of a member, counted by rising number."""
        labels = self.member_labels
        return sorted(range(len(labels)), key=labels.__getitem__)[rank] if labels else rank


@dataclass(eq=False)
class Recognised:
    """Everything found in one file."""

    file: OpenFile
    pieces: list[Piece] = field(default_factory=list)
    unused: list[tuple[str, str]] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    #: Whether any problem is about a convention that must not be guessed.
    unknown_convention: bool = False
    grids: list[Grid] = field(default_factory=list)
    times: list[Times] = field(default_factory=list)
    producer: str = ""
    run_s: float | None = None

    def problem(self, what: str, fix: str = "", place: str = "") -> None:
        """Keep one thing wrong with this file."""
        found = Problem(file=self.file.name, what=what, fix=fix, place=place)
        if found not in self.problems:
            self.problems.append(found)
