"""How long a similar command took last time, kept in the cache folder; only a hint."""

from __future__ import annotations

import contextlib
import json
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

#: The file, and how many commands it remembers.
NAME, MOST = "paces.json", 100
#: Options that change how long the work takes; the departure does not.
_TELLING = ("route", "routes", "log", "draws", "odds", "output_format", "by_leg", "weighting")


def pace_key(command: str, params: Mapping[str, Any]) -> str:
    """Text that two similar commands share: routes, draws and form of the answer."""
    parts = [command]
    for name in _TELLING:
        value = params.get(name)
        for one in value if isinstance(value, tuple | list) else (value,):
            if one not in (None, False):
                parts.append(one.name if isinstance(one, Path) else str(one))
    return " ".join(parts)


def _file() -> Path | None:
    from passage.cache import folder

    place = folder()
    return None if place is None else place / NAME


def _read(path: Path) -> dict[str, float]:
    """What is remembered; nothing where the file is damaged or not there."""
    try:
        found = json.loads(path.read_text("utf-8"))
        return {str(key): float(value) for key, value in found.items() if float(value) > 0.0}
    except (OSError, ValueError, TypeError, AttributeError):
        return {}


def last_s(key: str) -> float | None:
    """Time that the last run of this key took; None where there is none. [s]"""
    path = _file()
    return None if path is None else _read(path).get(key)


def keep(key: str, seconds: float) -> None:
    """Remember a run; a folder that cannot be written is no error. [s]"""
    path = _file()
    if path is None:
        return
    runs = _read(path)
    runs.pop(key, None)
    runs[key] = round(seconds, 2)
    text = json.dumps(dict(list(runs.items())[-MOST:]), indent=0)
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=".", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
        Path(temporary).replace(path)
