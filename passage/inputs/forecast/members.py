"""Members of an ensemble: which is which by its number, and which one speaks for all.

Members go by the numbers in the files, never by their order there. The first is the control
run, number 0 (common practice of GRIB and NetCDF ensembles); without one, the member in the
middle by its mean wave height. A member with gaps that others do not have is not taken.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from passage.errors import ForecastError, Problem
from passage.inputs.forecast.group import Group
from passage.inputs.forecast.series import Series, Window

#: Fields, and values, that are read at most to compare the members.
_MOST_FIELDS, _MOST_VALUES = 600, 20_000_000


@dataclass(frozen=True)
class Members:
    """Members in the order in which they are sampled, the one that speaks for all first.

    ``labels`` are their numbers in the files (from 1, in the files' order, where they give
    none); ``gaps`` the members, counted in this order, that miss values others have.
    """

    labels: tuple[str, ...]
    why: str
    gaps: tuple[int, ...] = ()

    @property
    def first(self) -> str:
        """``member 0, the control run``."""
        return f"member {self.labels[0]}, {self.why}"

    @property
    def note(self) -> str:
        """Which member single figures are of, and which have gaps."""
        words = f"{len(self.labels)} members; single figures are of {self.first}"
        if not self.gaps:
            return words
        named = ", ".join(self.labels[i] for i in self.gaps)
        whole = len(self.labels) - len(self.gaps)
        which = f"member {named} has" if len(self.gaps) == 1 else f"members {named} have"
        return f"{words}; {which} gaps that the others do not have, {whole} are whole"


def settle_members(groups: Mapping[str, Group]) -> Members | None:
    """Choose the first member and give every group its order; None without an ensemble.

    Raises
    ------
    ForecastError
        Files whose members are not the same.
    """
    every = [s for g in groups.values() for s in g.series.values() if s.n_members > 1]
    if not every:
        return None
    pieces = [piece for series in every for piece in series.pieces]
    # A piece that gives no numbers cannot differ from another by them.
    one = next((piece for piece in pieces if piece.member_labels), pieces[0])
    labels = tuple(sorted(one.member_labels))
    for two in pieces:
        numbers = tuple(sorted(two.member_labels)) or labels
        if two.n_members == one.n_members and numbers == labels:
            continue
        problem = Problem(
            file=two.file,
            what=f"{two.meaning.words} has the members {_shown(two)}, and "
            f"{Path(one.file).name} has {_shown(one)}",
            fix="Members go together by number: give files of the same members.",
        )
        raise ForecastError(str(problem))
    heights, missing = _compared(groups, one.n_members)
    whole = missing <= missing.min()
    control = labels.index(0) if 0 in labels else None
    if control is not None and whole[control]:
        first, why = control, "the control run"
    else:
        # Of the two in the middle of an even number, the higher sea.
        able = [int(i) for i in np.argsort(heights, kind="stable") if whole[i]]
        first, why = able[len(able) // 2], "the middle one by wave height"
        if control is not None:
            why += " (the control run has gaps)"
    order = (first, *(i for i in range(one.n_members) if i != first))
    for group in groups.values():
        group.member_order = order if group.n_members > 1 else ()
    shown = tuple(f"{label:g}" for label in labels) or tuple(
        str(i + 1) for i in range(one.n_members)
    )
    gaps = tuple(rank for rank, i in enumerate(order) if not whole[i])
    return Members(tuple(shown[i] for i in order), why, gaps)


def _shown(piece: Any) -> str:
    labels = sorted(piece.member_labels)
    if not labels:
        return f"1 to {piece.n_members}"
    text = ", ".join(f"{label:g}" for label in labels[:8])
    return text + (", ..." if len(labels) > 8 else "")


def _compared(groups: Mapping[str, Group], count: int) -> tuple[Any, Any]:
    """Mean wave height, in any measure, and number of missing values of each member."""
    energy, missing = np.zeros(count), np.zeros(count)
    for name in ("waves", "spectrum"):
        group = groups.get(name)
        if group is None or group.n_members == 1:
            continue
        for series in group.series.values():
            if series.meaning.quantity not in ("height", "spectrum"):
                continue
            for member in range(count):
                made, gone = _read(series, member, count)
                energy[member] += made
                missing[member] += gone
    return energy, missing


def _read(series: Series, member: int, count: int) -> tuple[float, int]:
    """Mean square (of a spectrum, mean) and missing values at hours over the whole file."""
    # A copy, so that what is read here is not counted among the values of the passage.
    series = replace(series, doubts={}, span=(np.inf, -np.inf), left_out={})
    lat, lon = series.grid.lat_deg.size, series.grid.lon_deg.size
    hours = series.time_s.size
    most = min(_MOST_FIELDS // count, _MOST_VALUES // (count * lat * lon))
    times = np.unique(np.linspace(0, hours - 1, max(1, min(hours, most))).round().astype(int))
    total, known, gone = 0.0, 0, 0
    whole = times.size == hours
    spans = [(0, hours)] if whole else [(int(t), int(t) + 1) for t in times]
    for span in spans:
        try:
            values = series.read(Window(span, (0, lat), (0, lon)), member, [])
        except ForecastError:
            gone += lat * lon  # found again, and named, if the passage needs it
            continue
        there = values[np.isfinite(values)].astype(float)
        total += float(np.sum(there if values.ndim > 3 else there**2))
        known += there.size
        gone += values.size - there.size
    return total / max(known, 1), gone
