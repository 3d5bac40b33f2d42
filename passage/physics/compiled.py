"""How loops over arrays are compiled: one set of flags for each kind of loop."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from numba import njit


def compile_loop(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a loop over arrays, once per machine, outside Python's lock."""
    return _compiled(function, {"contract"})


def compile_part(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a part of a loop into the loop itself: a call with arrays costs too much there."""
    compiled: Callable[..., Any] = njit(inline="always", error_model="numpy")(function)
    return compiled


def compile_sum(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a long sum whose terms may be added in any order.

    Not for functions that test for NaN or infinity: with these flags the
    compiler takes such tests away.
    """
    return _compiled(function, {"reassoc", "contract", "arcp", "nsz"})


def _compiled(function: Callable[..., Any], flags: set[str]) -> Callable[..., Any]:
    compiled: Callable[..., Any] = njit(
        cache=True, nogil=True, fastmath=flags, error_model="numpy"
    )(function)
    return compiled
