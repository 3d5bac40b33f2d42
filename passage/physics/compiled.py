"""How loops over arrays are compiled: one set of flags for each kind of loop."""

from __future__ import annotations

import importlib
import sys
import threading
from collections.abc import Callable
from types import ModuleType
from typing import Any

from numba import njit

from passage.sources import digest_with_imports

_BLAS = "scipy.linalg.cython_blas"


def _load_without_blas() -> None:
    """Have the compiler's array part loaded without all of ``scipy.linalg``.

    It only asks whether that can be had, for products of matrices, and asks again when a
    loop has one. Ours have none, and scipy takes a tenth of a second.
    """
    others = [t for t in threading.enumerate() if t.name != "progress"]
    if "scipy.linalg" in sys.modules or len(others) > 1:
        return
    sys.modules[_BLAS] = ModuleType(_BLAS)
    try:
        importlib.import_module("numba.np.arraymath")
    finally:
        del sys.modules[_BLAS]


_load_without_blas()


def compile_loop(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a loop over arrays, once per machine, outside Python's lock; arrays in [any unit]."""
    return _compiled(function, {"contract"})


def compile_part(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a part of a loop into the loop itself, where a call with arrays costs too much.

    Arrays in [any unit].
    """
    compiled: Callable[..., Any] = njit(inline="always", error_model="numpy")(function)
    return compiled


def compile_sum(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a long sum whose terms may be added in any order; terms in [any unit].

    Not for functions that test for NaN or infinity: with these flags the
    compiler takes such tests away.
    """
    return _compiled(function, {"reassoc", "contract", "arcp", "nsz"})


def _compiled(function: Callable[..., Any], flags: set[str]) -> Callable[..., Any]:
    options: dict[str, Any] = {"nogil": True, "fastmath": flags, "error_model": "numpy"}
    compiled: Any = njit(cache=True, **options)(function)
    # The compiler keeps its work by the date of the function's own file; parts inlined and
    # constants taken from other files count as well.
    kept: Any = getattr(getattr(compiled, "_cache", None), "_cache_file", None)
    if hasattr(kept, "_source_stamp"):
        kept._source_stamp = (kept._source_stamp, _digest(function))
    else:
        # Another way of keeping than is known here: rather compile than run what is stale.
        compiled = njit(**options)(function)
    result: Callable[..., Any] = compiled
    return result


def _digest(function: Callable[..., Any]) -> str:
    package = sys.modules[function.__module__.split(".")[0]]
    folder = next(iter(getattr(package, "__path__", [])), "")
    return digest_with_imports(function.__code__.co_filename, folder)
