"""Writing results so that a reader sees the old file or the new one, never half."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from passage.errors import OutputError


@contextmanager
def atomic_path(target: Path, *, force: bool = False) -> Iterator[Path]:
    """Give a temporary path beside ``target``; move it there when the block ends well.

    Raises
    ------
    OutputError
        The target exists and ``force`` is not given, the folder is missing or not
        writable, or the disk is full. Nothing is left behind in any case but a
        kill that cannot be caught, which leaves only a hidden ``.part`` file.
    """
    target = Path(target)
    if target.is_dir():
        raise OutputError(f"{target}: is a folder. Give the name of a file.")
    if target.exists() and not target.is_file():
        # Moving a file over a device or a pipe would take its place for good.
        raise OutputError(f"{target}: is not a plain file. Give the name of a file.")
    if target.is_symlink():
        target = target.resolve()
    if target.exists() and not force:
        raise OutputError(f"{target}: exists already. Give --force to replace it.")
    folder = target.parent
    if not folder.is_dir():
        raise OutputError(f"{target}: folder {folder} does not exist. Make it first.")
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
        with temporary.open("rb") as written:
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


def write_text(target: Path, text: str, *, force: bool = False) -> None:
    """Write text atomically as UTF-8."""
    with atomic_path(target, force=force) as temporary:
        temporary.write_text(text, encoding="utf-8")


def write_with(target: Path, writer: Callable[[Path], None], *, force: bool = False) -> None:
    """Let ``writer`` fill a temporary path, then move it into place."""
    with atomic_path(target, force=force) as temporary:
        writer(temporary)
