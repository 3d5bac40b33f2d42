"""Optional compilation: numba where it is installed, numpy everywhere.

Every compiled function here has a numpy twin that gives the same results; set
the environment variable ``PASSAGE_NO_NUMBA=1`` to use the twins only.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import Any

HAVE_NUMBA = False
_njit: Any = None
if os.environ.get("PASSAGE_NO_NUMBA", "") in ("", "0"):
    try:
        from numba import njit as _njit
    except ImportError:
        pass
    else:
        HAVE_NUMBA = True


def compile_loop(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a loop over arrays, once per machine, outside Python's lock.

    Without numba the function is returned unchanged; it would be slow, and its
    callers use their numpy twin instead.
    """
    return _compiled(function, {"contract"})


def compile_part(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a part of a loop into the loop itself: a call with arrays costs too much there."""
    if not HAVE_NUMBA:
        return function
    compiled: Callable[..., Any] = _njit(inline="always", error_model="numpy")(function)
    return compiled


def compile_sum(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a long sum whose terms may be added in any order.

    Not for functions that test for NaN or infinity: with these flags the
    compiler takes such tests away.
    """
    return _compiled(function, {"reassoc", "contract", "arcp", "nsz"})


def _compiled(function: Callable[..., Any], flags: set[str]) -> Callable[..., Any]:
    if not HAVE_NUMBA:
        return function
    compiled: Callable[..., Any] = _njit(
        cache=True, nogil=True, fastmath=flags, error_model="numpy"
    )(function)
    return compiled
