"""Data files that refer to other files, and stores with links that lead out of them.

An HDF5 file may name any other file as the place of its data, and the library follows
silently: the numbers are then those of a file nobody gave, or zeros where that file is
missing. A Zarr store is a folder, in which a link may point anywhere and a pipe makes a
reader wait for ever. Neither is followed.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path

#: A store with more files than this is refused.
_MOST_FILES = 2_000_000


def why_not_alone(path: Path) -> str:
    """Where an HDF5 (NetCDF-4) file keeps data in other files, or nothing.

    Only the structure is read: no value, and no other file is opened. A structure that
    cannot be followed gives nothing; the reader finds that for itself.
    """
    import h5py

    found: list[str] = []

    with h5py.File(path, "r", locking=False) as file:

        def look(name: bytes, info: object) -> bool | None:
            where = name.decode("utf-8", "replace")
            kind = info.type  # type: ignore[attr-defined]
            if kind == h5py.h5l.TYPE_HARD:
                reason = _of_object(h5py, file, name)
            elif kind == h5py.h5l.TYPE_SOFT:
                reason = ""
            else:
                reason = "is a link to another file"
            if reason:
                found.append(f"'{where[:60]}' {reason}")
            return True if found else None

        file.id.links.visit(look, info=True)
    return found[0] if found else ""


def _of_object(h5py, file, name: bytes) -> str:  # type: ignore[no-untyped-def]
    made = h5py.h5o.open(file.id, name)
    if not isinstance(made, h5py.h5d.DatasetID):
        return ""
    how = made.get_create_plist()
    if how.get_external_count():
        other = how.get_external(0)[0].decode("utf-8", "replace")
        return f"keeps its values in another file ({other[:80]})"
    if how.get_layout() == h5py.h5d.VIRTUAL:
        other = how.get_virtual_filename(0) if how.get_virtual_count() else ""
        return f"is put together from other files ({other[:80]})"
    return ""


def why_store_not_plain(folder: Path) -> str:
    """What in a Zarr store is not a plain file of its own, or nothing.

    Links are allowed where they stay inside the store.
    """
    home = folder.resolve()
    count = 0
    stack = [folder]
    while stack:
        for entry in os.scandir(stack.pop()):
            count += 1
            if count > _MOST_FILES:
                return f"holds more than {_MOST_FILES} files"
            name = os.path.relpath(entry.path, folder)
            if entry.is_symlink():
                target = Path(entry.path).resolve()
                if home != target and home not in target.parents:
                    return f"holds a link that leads out of it ({name})"
                if home == target or target.is_dir():
                    return f"holds a link to a folder ({name})"
            if entry.is_dir(follow_symlinks=False):
                stack.append(Path(entry.path))
            elif not _is_file(entry):
                return f"holds a pipe, a device or a broken link ({name})"
    return ""


def _is_file(entry: os.DirEntry[str]) -> bool:
    try:
        return stat.S_ISREG(entry.stat().st_mode)
    except OSError:
        return False
