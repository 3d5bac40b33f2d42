"""Offsets of the fins for several lists at the same points, and which of them to solve."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.planning.voyage.rolling import Choices, fin_offset
from passage.planning.voyage.yacht import Yacht

Array = npt.NDArray[np.float64]
Codes = npt.NDArray[np.int8]


def offsets(
    yacht: Yacht, stw: Array, static: Array, codes: Codes, choices: Sequence[Choices]
) -> tuple[Array, Array]:
    """Offset ``(points, pairs)`` and the heel that it should hold ``(points,)``. [rad]"""
    size = static.shape[0] // len(choices)
    found, asked = [], []
    for k, choice in enumerate(choices):
        rows = slice(k * size, (k + 1) * size)
        shape = static[rows].shape
        offset, heel = fin_offset(yacht, stw, static[rows], codes[rows], choice)
        pairs = offset.shape[-1]
        found.append(np.broadcast_to(offset, (*shape, pairs)).reshape(-1, pairs))
        asked.append(np.broadcast_to(heel, shape).reshape(-1))
    if len(choices) == 1:
        return found[0], asked[0]
    return np.concatenate(found), np.concatenate(asked)


def distinct(offset: Array, tiles: int) -> tuple[Any, npt.NDArray[np.intp] | None]:
    """Points to solve, and for each point the place of its solution among them (None: its own).

    The points are ``tiles`` times the same ones, each time with another list. Without an offset
    roll does not depend on the list: one solution serves several lists.
    """
    count = offset.shape[0]
    if tiles == 1:
        return slice(count), None
    free = ~np.any(offset != 0.0, axis=-1).reshape(tiles, -1)
    first = np.argmax(free, axis=0)
    number = np.arange(count).reshape(tiles, -1)
    source = np.where(free, number[first, np.arange(first.size)], number).reshape(-1)
    at = np.flatnonzero(source == number.reshape(-1))
    place = np.empty(count, np.intp)
    place[at] = np.arange(at.size)
    return at, place[source]
