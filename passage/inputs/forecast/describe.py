"""What was recognised in forecast files, in words for ``passage check``."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passage.inputs.forecast.axes import Grid
from passage.inputs.forecast.conditions import Floats
from passage.inputs.forecast.piece import Piece, Recognised
from passage.inputs.forecast.times import Times
from passage.units import utc_text

_LABEL = 10


def describe_file(found: Recognised) -> list[str]:
    """Lines on one file: grid, hours, run, members, variables, what is not used."""
    path = found.file.path
    size = "" if path.is_dir() else f", {_size_text(path.stat().st_size)}"
    lines = [f"{path.name}  ({found.file.format}{size})"]
    if found.producer:
        lines.append(_line("producer", found.producer))
    for grid in _distinct_grids(found.grids):
        lines.append(_line("grid", grid_text(grid)))
    for text in dict.fromkeys(times_text(t) for t in found.times):
        lines.append(_line("hours", text))
    if not found.times and found.grids:
        lines.append(_line("hours", "none: the same at all times"))
    run = utc_text(found.run_s) if found.run_s is not None else "not stated"
    lines.append(_line("run", run))
    members = max((p.n_members for p in found.pieces), default=1)
    if members > 1:
        lines.append(_line("members", str(members)))
    if found.pieces:
        lines += _table(found.pieces)
    else:
        lines.append(_line("nothing", "no variable of this file is recognised"))
    for name, reason in found.unused:
        lines.append(_line("not used", f"{name}: {reason}"))
    for note in found.notes:
        lines.append(_line("note", note))
    for problem in found.problems:
        fix = f" {problem.fix}" if problem.fix else ""
        lines.append(_line("PROBLEM", f"{problem.what}.{fix}"))
    return lines


def _line(label: str, text: str) -> str:
    return f"  {label:<{_LABEL}}{text}"


def _size_text(n: int) -> str:
    return f"{n / 1e6:.1f} MB" if n >= 1e6 else f"{max(n / 1e3, 0.1):.1f} kB"


def _distinct_grids(grids: Sequence[Grid]) -> list[Grid]:
    kept: list[Grid] = []
    for grid in grids:
        if not any(grid.same_as(other) for other in kept):
            kept.append(grid)
    return kept


def grid_text(grid: Grid) -> str:
    """Extent and step of a grid."""
    lat, lon = grid.lat_deg, grid.lon_deg
    rounds = ", all the way round" if grid.wraps else ""
    return (
        f"{lat.size} x {lon.size} points, {_position(lat[0], 'NS')} to "
        f"{_position(lat[-1], 'NS')} by {_step(lat)}, {_position(lon[0], 'EW')} to "
        f"{_position(lon[-1], 'EW')} by {_step(lon)} deg{rounds}"
    )


def _position(value: float, sides: str) -> str:
    if sides == "EW":
        value = (value + 180.0) % 360.0 - 180.0
    side = sides[0] if value >= 0 else sides[1]
    return f"{abs(value):.2f} {side}"


def _step(axis: Floats) -> str:
    step = np.diff(axis)
    if np.ptp(step) < 1e-3 * step.mean():
        return f"{step.mean():.4g}"
    return f"{step.min():.3g} to {step.max():.3g}"


def times_text(times: Times) -> str:
    """First and last hour and the steps between."""
    t = times.time_s
    if t.size == 1:
        return f"{utc_text(t[0])} only (a single time step)"
    step = np.diff(t) / 3600.0
    if np.ptp(step) < 1e-6:
        steps = f"{t.size} steps of {step[0]:g} h"
    else:
        steps = f"{t.size} steps of {step.min():g} to {step.max():g} h"
    return f"{utc_text(t[0])} to {utc_text(t[-1])}, {steps}"


def _table(pieces: Sequence[Piece]) -> list[str]:
    head = ("our name", "in the file", "unit", "what it is", "known by")
    rows = [head]
    for piece in sorted(pieces, key=lambda p: (p.meaning.group, p.meaning.name)):
        log = " (log10)" if piece.log10 else ""
        rows.append(
            (piece.meaning.name, piece.variable, piece.unit + log, piece.meaning.words,
             piece.how)
        )  # fmt: skip
    widths = [max(len(row[i]) for row in rows) for i in range(len(head))]
    return [
        "    " + "  ".join(f"{c:<{w}}" for c, w in zip(row, widths, strict=True)).rstrip()
        for row in rows
    ]
