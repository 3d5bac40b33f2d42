"""Ordinary NetCDF files read without xarray, which with pandas takes a third of a second to load.

What a forecast usually is: numbers, packed or not, with at most one scale, one offset
and fill values. Any other file is left to xarray, which gives the same values for these.
"""

from __future__ import annotations

import contextlib
import math
import sys
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

#: Two threads must not use the NetCDF library at once.
_LOCK = threading.RLock()
_FILLS = ("missing_value", "_FillValue")
_PACKING = ("scale_factor", "add_offset")


@contextmanager
def one_thread() -> Iterator[None]:
    """Only one thread in the NetCDF library, callers through xarray included."""
    theirs = getattr(sys.modules.get("xarray.backends.netCDF4_"), "NETCDF4_PYTHON_LOCK", None)
    with _LOCK, theirs or contextlib.nullcontext():
        yield


@dataclass(frozen=True, eq=False)
class PlainVariable:
    """A variable of a file, read when asked for its values.

    ``dtype`` is that of the values, ``encoding`` says how the file keeps them. ``fills`` are
    the values that mean "none"; they become NaN.
    """

    stored: Any
    dims: tuple[str, ...]
    shape: tuple[int, ...]
    dtype: npt.DTypeLike
    attrs: Mapping[str, Any]
    encoding: Mapping[str, Any]
    fills: tuple[Any, ...] = ()
    key: tuple[Any, ...] = field(default=(Ellipsis,))
    order: tuple[str, ...] | None = None

    @property
    def ndim(self) -> int:
        """Number of dimensions."""
        return len(self.shape)

    @property
    def size(self) -> int:
        """Number of values."""
        return math.prod(self.shape)

    @property
    def sizes(self) -> dict[str, int]:
        """Length of each dimension."""
        return dict(zip(self.dims, self.shape, strict=True))

    def isel(self, key: Mapping[str, int | slice]) -> PlainVariable:
        """Part of it, by position along named dimensions; one number takes the dimension away."""
        return replace(self, key=tuple(key.get(dim, slice(None)) for dim in self.dims))

    def transpose(self, *dims: str) -> PlainVariable:
        """With the dimensions that are left in another order."""
        return replace(self, order=dims)

    @property
    def values(self) -> npt.NDArray[Any]:
        """The values, unpacked, NaN where there are none."""
        with one_thread():
            values = np.asarray(self.stored[self.key])
        # Unpacked in the order and the precision of the convention.
        values = np.array(values, dtype=self.dtype)
        if self.fills:
            values[np.any([values == fill for fill in self.fills], axis=0)] = np.nan
        scale, offset = (self.encoding.get(name) for name in _PACKING)
        if scale is not None:
            values *= scale
        if offset is not None:
            values += offset
        if self.order is not None:
            left = [d for d, k in zip(self.dims, self.key, strict=True) if isinstance(k, slice)]
            values = values.transpose([left.index(d) for d in self.order])
        return values


@dataclass(frozen=True, eq=False)
class PlainDataset:
    """An open file, its variables by name."""

    variables: Mapping[str, PlainVariable]
    attrs: Mapping[str, Any]
    handle: Any

    @property
    def sizes(self) -> dict[str, int]:
        """Length of each dimension that a variable has."""
        return {d: n for v in self.variables.values() for d, n in v.sizes.items()}

    def close(self) -> None:
        """Close the file."""
        with one_thread():
            if self.handle.isopen():
                self.handle.close()


def open_plain(path: Path) -> PlainDataset | None:
    """The file, or None where it holds anything out of the ordinary or does not open."""
    import netCDF4

    handle = None
    with one_thread():
        try:
            handle = netCDF4.Dataset(path)
            handle.set_auto_mask(False)
            handle.set_auto_scale(False)
            handle.set_auto_chartostring(False)
            variables = {n: _variable(n, v) for n, v in handle.variables.items()}
            attrs = {name: handle.getncattr(name) for name in handle.ncattrs()}
        except Exception:  # xarray meets it as well, and the reason is put in words there
            if handle is not None:
                with contextlib.suppress(Exception):
                    handle.close()
            return None
    return PlainDataset(variables, attrs, handle)


class _Unusual(Exception):
    """Nothing that is read here."""


def _variable(name: str, stored: Any) -> PlainVariable:
    """A variable that is numbers, or one character that only carries attributes."""
    dims, dtype = tuple(stored.dimensions), np.dtype(stored.dtype)
    attrs = {key: stored.getncattr(key) for key in stored.ncattrs()}
    bare = dtype.kind == "S" and not dims
    if not (dtype.kind in "iuf" or bare) or not dtype.isnative or isinstance(stored.dtype, type):
        raise _Unusual
    if len(set(dims)) < len(dims) or (name in dims and len(dims) != 1):
        raise _Unusual
    if {"_Unsigned", "dtype", "least_significant_digit"} & attrs.keys():
        raise _Unusual
    encoding: dict[str, Any] = {"dtype": dtype}
    chunks = stored.chunking()
    if isinstance(chunks, list):
        encoding["chunksizes"] = tuple(chunks)
    for key in (*_FILLS, *_PACKING):
        if key not in attrs:
            continue
        given = attrs.pop(key)
        if bare or np.ndim(given) or np.asarray(given).dtype.kind not in "iuf":
            raise _Unusual
        encoding[key] = given
    fills = [encoding[key] for key in _FILLS if key in encoding]
    known = tuple(dict.fromkeys(fill for fill in fills if not np.isnan(fill)))
    if dtype.kind in "iu" and any(np.isnan(fill) for fill in fills):
        raise _Unusual  # no whole number is NaN
    if any(key in encoding for key in _PACKING):
        if known or not fills:  # a file of numbers with NaN for none is as precise as it is
            dtype = _unpacked(dtype, encoding)
    elif known and dtype.kind in "iu":
        dtype = np.dtype(np.float32 if dtype.itemsize <= 2 else np.float64)
    return PlainVariable(stored, dims, tuple(stored.shape), dtype, attrs, encoding, known)


def _unpacked(dtype: Any, encoding: Mapping[str, Any]) -> Any:
    """Precision of packed values once unpacked: that of scale and offset, if they agree."""
    scale, offset = (encoding.get(name) for name in _PACKING)
    kinds = {np.asarray(x).dtype for x in (scale, offset) if x is not None}
    if any(kind not in (np.float32, np.float64) for kind in kinds):
        raise _Unusual
    if scale is not None and offset is not None and len(kinds) == 1:
        whole = dtype.kind in "iu" and dtype.itemsize == 4
        return np.dtype(np.float64) if whole else kinds.pop()
    return np.dtype(np.float64) if offset is not None else kinds.pop()
