"""Atomic writing: a reader sees the old file or the new one, never half of one."""

from __future__ import annotations

import glob
import os
import shutil
import stat
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from passage.errors import OutputError


@contextmanager
def atomic_path(target: Path, *, force: bool = False) -> Iterator[Path]:
    """Give a temporary path beside ``target``; move it there if the block raises nothing.

    Raises
    ------
    OutputError
        The target exists and ``force`` is not given, the folder is missing or not
        writable, or the disk is full. Only a kill that cannot be caught leaves anything
        behind: a hidden ``.part`` file.
    """
    target = _checked(Path(target), force=force)
    folder = target.parent
    try:
        handle, name = tempfile.mkstemp(
            prefix=f".{target.stem}.", suffix=f".part{target.suffix}", dir=folder
        )
    except OSError as err:
        raise OutputError(f"{target}: cannot write in {folder}: {err.strerror}.") from err
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        # Opened for writing: some systems do not flush through a read-only handle.
        with temporary.open("r+b") as written:
            os.fsync(written.fileno())
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
        if target.exists() and not force:
            raise OutputError(f"{target}: exists already. Give --force to replace it.")
        temporary.replace(target)
    except OSError as err:
        raise OutputError(f"{target}: could not be written: {err.strerror}.") from err
    finally:
        temporary.unlink(missing_ok=True)


def check_target(target: Path, *, force: bool) -> None:
    """Check a target before the work starts, for the errors that writing it would raise.

    Raises
    ------
    OutputError
        The target exists or is not a plain file, or its folder is missing or not writable.
    """
    target = _checked(target, force=force)
    if not os.access(target.parent, os.W_OK | os.X_OK):
        raise OutputError(f"{target}: cannot write in {target.parent}: permission denied.")


def _checked(target: Path, *, force: bool) -> Path:
    """Path to write to, with links resolved; raises OutputError if it cannot be written."""
    try:
        if target.is_dir():
            raise OutputError(f"{target}: is a folder. Give the name of a file.")
        if target.exists() and not target.is_file():
            # Moving a file over a device or a pipe would replace it for good.
            raise OutputError(f"{target}: is not a plain file. Give the name of a file.")
        if target.is_symlink():
            target = target.resolve()
        if target.exists() and not force:
            raise OutputError(f"{target}: exists already. Give --force to replace it.")
        if len(os.fsencode(target.name)) > 200:
            # Leaves room for the prefix and suffix of the temporary name.
            raise OutputError(f"{target}: the name is too long. Give a shorter one.")
        if not target.parent.is_dir():
            raise OutputError(f"{target}: folder {target.parent} does not exist. Make it first.")
    except OSError as err:
        raise OutputError(f"{target}: cannot be written: {err.strerror}.") from err
    except ValueError as err:
        raise OutputError(f"{target}: is not a name that a file can have.") from err
    except RuntimeError as err:
        raise OutputError(f"{target}: is a link that leads to itself.") from err
    return target


def why_not_plain(path: Path) -> str:
    """Why a path is not a plain file to read from; empty if it is one.

    Reading a pipe or a device may never end. A path that is missing, unreadable or a folder
    also gives an empty text: the reader reports those better.
    """
    try:
        mode = path.stat().st_mode
    except (OSError, ValueError):
        return ""
    if stat.S_ISREG(mode) or stat.S_ISDIR(mode):
        return ""
    return "is a pipe or a device, not a plain file"


def _write_unnamed(target: Path, data: bytes, *, force: bool) -> bool:
    """Write a file that gets its name only when complete, so that a kill leaves nothing.

    Returns
    -------
    bool
        False where the system has no unnamed files; nothing is written then.
    """
    flag = getattr(os, "O_TMPFILE", 0)
    if not flag:
        return False
    try:
        names = os.open("/proc/self/fd", os.O_RDONLY)
    except OSError:
        return False
    try:
        handle = os.open(target.parent, flag | os.O_WRONLY, 0o666)
    except OSError:
        os.close(names)
        return False
    try:
        with os.fdopen(handle, "wb", closefd=False) as out:
            out.write(data)
            out.flush()
            os.fsync(handle)
        try:
            os.link(str(handle), target, src_dir_fd=names)
        except FileExistsError:
            if not force:
                raise OutputError(
                    f"{target}: exists already. Give --force to replace it."
                ) from None
            hidden = target.with_name(f".{target.stem}.{os.getpid()}.part{target.suffix}")
            hidden.unlink(missing_ok=True)
            os.link(str(handle), hidden, src_dir_fd=names)
            hidden.replace(target)
    except OSError as err:
        raise OutputError(f"{target}: could not be written: {err.strerror}.") from err
    finally:
        os.close(handle)
        os.close(names)
    return True


def write_text(target: Path, text: str, *, force: bool = False) -> None:
    """Write text atomically as UTF-8; what UTF-8 cannot encode becomes ``?``."""
    write_bytes(target, text.encode("utf-8", "replace"), force=force)


def write_bytes(target: Path, data: bytes, *, force: bool = False) -> None:
    """Write bytes atomically."""
    target = _checked(Path(target), force=force)
    if _write_unnamed(target, data, force=force):
        return
    with atomic_path(target, force=force) as temporary:
        temporary.write_bytes(data)


def write_with(target: Path, writer: Callable[[Path], None], *, force: bool = False) -> None:
    """Let ``writer`` fill a temporary path, then move it into place.

    Raises
    ------
    OutputError
        As `atomic_path`; also for errors of the NetCDF library, such as a full disk, and for
        a name that it cannot open.
    """
    with atomic_path(target, force=force) as temporary:
        try:
            str(temporary).encode("utf-8")
        except UnicodeEncodeError:
            raise OutputError(
                f"{target}: the name is not UTF-8, and the NetCDF library cannot open it. "
                "Give another name."
            ) from None
        try:
            writer(temporary)
        except RuntimeError as err:
            if "NetCDF" not in str(err) and "HDF" not in str(err):
                raise
            raise OutputError(
                f"{target}: could not be written ({str(err).splitlines()[0][:80]}). "
                f"{_room(target.parent)}"
            ) from err


def _room(folder: Path) -> str:
    """Free space on the disk, for a library that gives no reason for its failure."""
    try:
        free = shutil.disk_usage(folder).free
    except OSError:
        return "Is the disk full?"
    return f"The disk has {free / 1e6:.1f} MB left."


#: Files that mark a folder as a Zarr store, which counts as one forecast.
_STORE = (".zgroup", ".zmetadata", "zarr.json", ".zattrs")


def is_store(path: Path) -> bool:
    """Whether a folder is a Zarr store."""
    return any((path / name).exists() for name in _STORE)


def named_part(path: Path) -> tuple[Path, str]:
    """File and name of ``FILE#NAME``; an empty name if none is given.

    A file whose own name contains ``#`` takes precedence.
    """
    text = str(path)
    at = text.find("#")
    while at >= 0 and not path.exists():
        if Path(text[:at]).is_file():
            return Path(text[:at]), " ".join(text[at + 1 :].split())
        at = text.find("#", at + 1)
    return path, ""


def is_collection(path: Path) -> bool:
    """Whether a name means several files: a folder that is not a store, or a pattern."""
    try:
        if path.is_dir():
            return not is_store(path)
        return glob.has_magic(str(path)) and not path.exists()
    except (OSError, ValueError):
        return False


def members(path: Path) -> list[Path]:
    """Files in a folder or matching a pattern, sorted by name; empty if it cannot be read."""
    try:
        if path.is_dir():
            return sorted(one for one in path.iterdir() if not one.name.startswith("."))
        # A shell pattern, which may be an absolute path.
        return sorted(Path(name) for name in glob.glob(str(path), recursive=True))  # noqa: PTH207
    except OSError:
        return []
