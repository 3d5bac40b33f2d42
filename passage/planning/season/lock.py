"""One run at a time in a season's folder, by a lock that the system releases if it dies."""

from __future__ import annotations

import errno
import os
import platform
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from passage.errors import OutputError

#: Name of the locked file in the folder; it stays, unlocked, after the run.
LOCK = ".lock"
#: Position of the lock in the file, behind its text: locked bytes cannot be read on
#: Windows. [bytes]
_PLACE = 1_000_000
_TAKEN = (errno.EACCES, errno.EAGAIN, errno.EDEADLK)


@contextmanager
def only_run(folder: Path) -> Iterator[bool]:
    """Lock the folder for one run; yields whether it could be locked.

    Raises
    ------
    OutputError
        Another run is using the folder.
    """
    path = folder / LOCK
    try:
        handle = path.open("a+b")
    except OSError:
        # A folder that cannot be written is reported where blocks are written.
        yield False
        return
    with handle:
        try:
            held = _lock(handle)
        except OSError as err:
            if err.errno not in _TAKEN:
                # Some shared disks have no locks.
                yield False
                return
            handle.seek(0)
            who = handle.read(200).decode("utf-8", "replace").strip()
            raise OutputError(
                f"{folder}: another run is at work in it{f' ({who})' if who else ''}. "
                "Wait for its end, or give another folder."
            ) from err
        handle.truncate(0)
        handle.write(f"process {os.getpid()} on {platform.node()}\n".encode())
        handle.flush()
        try:
            yield held
        finally:
            handle.truncate(0)
            _unlock(handle)


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: IO[bytes]) -> bool:
        handle.seek(_PLACE)
        msvcrt.locking(handle.fileno(), msvcrt.LK_NBLCK, 1)
        return True

    def _unlock(handle: IO[bytes]) -> None:
        handle.seek(_PLACE)
        msvcrt.locking(handle.fileno(), msvcrt.LK_UNLCK, 1)

else:
    import fcntl

    def _lock(handle: IO[bytes]) -> bool:
        fcntl.flock(handle.fileno(), fcntl.LOCK_EX | fcntl.LOCK_NB)
        return True

    def _unlock(handle: IO[bytes]) -> None:
        fcntl.flock(handle.fileno(), fcntl.LOCK_UN)
