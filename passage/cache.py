"""Slow results that never change, kept in the user's cache folder.

The key of an item is a digest of its inputs, the version of the package, the source text of
``passage/physics`` and the version of numpy. A problem with the folder (not writable, a
damaged file, a full disk) costs only the time to compute the item again. The environment
variable ``PASSAGE_CACHE`` names another folder, or disables the cache with ``off``.
"""

from __future__ import annotations

import contextlib
import dataclasses
import hashlib
import os
import sys
import tempfile
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage import __version__
from passage.sources import physics_digest

Arrays = dict[str, npt.NDArray[Any]]

#: Environment variable that names another folder or, with a value of ``OFF``, disables the cache.
VARIABLE = "PASSAGE_CACHE"
OFF = ("off", "none", "no", "0")
#: Largest total size; beyond it, items unused for longest are deleted first. [bytes]
MOST_BYTES = 512 * 1024**2
#: Version of the file format.
FORM = 1
#: A temporary file older than this was left by a killed run. [s]
_ABANDONED_S = 3600.0


def folder() -> Path | None:
    """Folder of the cache; None where the cache is disabled."""
    chosen = os.environ.get(VARIABLE, "").strip()
    if chosen.lower() in OFF:
        return None
    if chosen:
        return Path(chosen)
    try:
        home = Path.home()
    except RuntimeError:  # no home folder, as in some containers
        return None
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or home / "AppData/Local") / "passage/cache"
    if sys.platform == "darwin":
        return home / "Library/Caches/passage"
    return Path(os.environ.get("XDG_CACHE_HOME") or home / ".cache") / "passage"


def content(value: Any) -> str:
    """Digest of a value: a dataclass, array, number, text, or a container of these.

    Raises
    ------
    TypeError
        For a value of any other type, such as a function.
    """
    digest = hashlib.blake2b(digest_size=16)
    _add(digest, value)
    return digest.hexdigest()


def _add(digest: Any, value: Any) -> None:
    """Add a value with its type and length, so that different values give different bytes."""
    if isinstance(value, np.ndarray):
        if value.dtype.hasobject:
            raise TypeError("an array of objects has no content to go by")
        digest.update(f"array {value.dtype.str} {value.shape};".encode())
        digest.update(np.ascontiguousarray(value).tobytes())
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        kind = type(value)
        fields = dataclasses.fields(value)
        digest.update(f"{kind.__module__}.{kind.__qualname__} {len(fields)};".encode())
        for one in fields:
            _add(digest, one.name)
            _add(digest, getattr(value, one.name))
    elif isinstance(value, Mapping):
        digest.update(f"mapping {len(value)};".encode())
        for key in sorted(value, key=str):
            _add(digest, key)
            _add(digest, value[key])
    elif isinstance(value, (tuple, list)):
        digest.update(f"sequence {len(value)};".encode())
        for one in value:
            _add(digest, one)
    elif isinstance(value, np.generic):
        _add(digest, value.item())
    elif value is None or isinstance(value, (bool, int, float, complex, str, bytes)):
        # repr of a float gives all its digits.
        text = repr(value)
        digest.update(f"{type(value).__name__} {len(text)} {text};".encode("utf-8", "replace"))
    else:
        raise TypeError(f"{type(value).__name__} has no content to go by")


def kept(kind: str, inputs: Any, make: Callable[[], Arrays]) -> Arrays:
    """Arrays computed from ``inputs``, from the cache if an earlier run saved them.

    Parameters
    ----------
    kind : str
        Start of the file's name, such as "roll-table".
    inputs : Any
        Everything that determines the result, of the types that :func:`content` accepts.
    make : callable
        Computes the arrays. Its code must be in ``passage/physics``, whose source text is
        part of the key; code elsewhere must add a version number of its own to ``inputs``.
    """
    key = item_key(kind, inputs)
    found = load(key)
    if found is None:
        found = make()
        save(key, found)
    return found


def item_key(kind: str, inputs: Any) -> str:
    """Key of an item: its kind, and a digest of its inputs and of the code that computes it."""
    made_by = (__version__, physics_digest(), np.__version__, sys.byteorder, FORM)
    return f"{kind}-{content((kind, inputs, made_by))}"


def load(key: str) -> Arrays | None:
    """Arrays of an item; None if it is not in the cache or its file is damaged."""
    place = folder()
    if place is None:
        return None
    path = place / f"{key}.npz"
    try:
        with path.open("rb") as handle, np.load(handle, allow_pickle=False) as file:
            arrays = {name: file[name] for name in file.files}
    except FileNotFoundError:
        return None
    except Exception:  # a damaged file may raise anything; the item is computed again
        with contextlib.suppress(OSError):
            path.unlink()
        return None
    with contextlib.suppress(OSError):
        os.utime(path)  # date of last use, by which _trim deletes
    return arrays


def save(key: str, arrays: Mapping[str, npt.NDArray[Any]]) -> None:
    """Save an item atomically; a folder that cannot be written is not an error."""
    place = folder()
    if place is None:
        return
    size = sum(values.nbytes for values in arrays.values())
    if size > MOST_BYTES // 4:
        return
    temporary = None
    try:
        place.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=".", suffix=".part", dir=place)
        with os.fdopen(handle, "wb") as out:
            np.savez(out, **dict(arrays))  # type: ignore[arg-type]
        Path(temporary).replace(place / f"{key}.npz")
        _trim(place)
    except (OSError, ValueError):
        if temporary is not None:
            with contextlib.suppress(OSError):
                Path(temporary).unlink(missing_ok=True)


def _trim(place: Path) -> None:
    """Delete the items unused for longest beyond ``MOST_BYTES``, and abandoned files."""
    items = []
    for path in place.iterdir():
        with contextlib.suppress(OSError):
            found = path.stat()
            if path.suffix == ".npz":
                items.append((found.st_mtime, found.st_size, path))
            elif path.suffix == ".part" and time.time() - found.st_mtime > _ABANDONED_S:
                path.unlink()
    spare = MOST_BYTES
    for _, size, path in sorted(items, reverse=True):
        spare -= size
        if spare < 0:
            with contextlib.suppress(OSError):
                path.unlink()
