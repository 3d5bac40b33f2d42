"""Hours given by two runs of one producer: the newest run has them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from passage.inputs.forecast.piece import Piece, Recognised
from passage.inputs.forecast.times import Times
from passage.units import utc_text


def newest_runs(files: list[Recognised]) -> list[str]:
    """Take the hours that a newer run gives as well out of an older one's pieces.

    Only where producer, grid, members and quantity are the same and both runs are known:
    anything else is left for the joining to refuse. What the older run has before the
    newer one begins stays. Changes ``pieces`` of the files; returns words about it.
    """
    notes: dict[str, None] = {}
    for found in files:
        kept: list[Piece] = []
        for piece in found.pieces:
            newer = [
                (other, two)
                for other in files
                for two in other.pieces
                if other is not found and _newer(found, piece, other, two)
            ]
            if not newer or piece.times is None:
                kept.append(piece)
                continue
            other, two = min(newer, key=lambda pair: _first(pair[1]))
            time_s = piece.times.time_s
            left = int(np.searchsorted(time_s, _first(two)))
            notes[
                f"{other.file.path.name} (run {_run(two)}) is used from {utc_text(_first(two))} "
                f"on, {found.file.path.name} (run {_run(piece)}) "
                + ("for the hours before." if left else "is not.")
            ] = None
            if left:
                times = Times(time_s[:left], piece.times.dims, piece.times.run_s)
                kept.append(replace(piece, times=times))
        found.pieces[:] = kept
    return list(notes)


def _first(piece: Piece) -> float:
    assert piece.times is not None
    return float(piece.times.time_s[0])


def _run(piece: Piece) -> str:
    run = piece.times.run_s if piece.times is not None else None
    return "unknown" if run is None else utc_text(run)


def _newer(found: Recognised, one: Piece, other: Recognised, two: Piece) -> bool:
    """Whether ``two`` gives hours of ``one`` from a newer run of the same producer."""
    if one.meaning != two.meaning or one.times is None or two.times is None:
        return False
    if one.times.run_s is None or two.times.run_s is None:
        return False
    if two.times.run_s <= one.times.run_s or found.producer != other.producer:
        return False
    if one.n_members != two.n_members or not one.grid.same_as(two.grid):
        return False
    # A single time has no hours that a cut could leave.
    return bool(two.times.time_s[0] <= one.times.time_s[-1])
