"""Compiling loops over arrays: one set of compiler flags for each kind of loop."""

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
    """Load numba's array functions without loading ``scipy.linalg``.

    numba only checks that ``scipy.linalg`` is there, for products of matrices, and checks
    again when it compiles one. Our loops have none, and loading scipy takes 0.1 s.
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
    """Compile a loop over arrays, once per machine; runs without Python's lock. [any unit]"""
    return _compiled(function, {"contract"})


def compile_part(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a part of a loop inline, where a call with arrays would cost too much. [any unit]"""
    compiled: Callable[..., Any] = njit(inline="always", error_model="numpy")(function)
    return compiled


def compile_sum(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile a long sum whose terms may be added in any order. [any unit]

    Not for functions that test for NaN or infinity: with these flags the compiler removes
    such tests.
    """
    return _compiled(function, {"reassoc", "contract", "arcp", "nsz"})


def _compiled(function: Callable[..., Any], flags: set[str]) -> Callable[..., Any]:
    options: dict[str, Any] = {"nogil": True, "fastmath": flags, "error_model": "numpy"}
    compiled: Any = njit(cache=True, **options)(function)
    # numba's cache looks only at the date of the function's own file; inlined parts and
    # constants from other files matter as well.
    kept: Any = getattr(getattr(compiled, "_cache", None), "_cache_file", None)
    if hasattr(kept, "_source_stamp"):
        kept._source_stamp = (kept._source_stamp, _digest(function))
    else:
        # An unknown kind of cache: compile each time rather than run stale code.
        compiled = njit(**options)(function)
    result: Callable[..., Any] = compiled
    return result


def _digest(function: Callable[..., Any]) -> str:
    package = sys.modules[function.__module__.split(".")[0]]
    folder = next(iter(getattr(package, "__path__", [])), "")
    return digest_with_imports(function.__code__.co_filename, folder)
