"""Try a NetCDF-4 file in a forked child first: a damaged one can crash the library.

The HDF5 library trusts the lengths and addresses in a file. Of some thousand damaged
files about one in a thousand made it loop for ever, where Python cannot interrupt it.
The child costs some hundredths of a second; its computing time is bounded, not the time
on the clock, so a slow drive does no harm. It also checks whether the file keeps data in
other files, before the library could follow them.
"""

from __future__ import annotations

import contextlib
import os
import signal
import sys
import threading
import warnings
from collections.abc import Sequence
from pathlib import Path

from passage.inputs.outside import why_not_alone

#: Computing time that opening a file and looking at its axes may take [s].
CPU_S = 3
#: Longest reason that is handed over, well below what a pipe holds [bytes].
_REASON = 1000
#: Axes up to this many values are read, and chunks up to this size [bytes].
_MAX_VALUES = 200_000
_MAX_CHUNK = 4 * 1024**2


#: Name of the thread that shows the progress of a command: it holds no lock that the child
#: would need, so it does not keep a file from being tried.
HARMLESS = "progress"


class LeadsOutside(Exception):
    """The file keeps data in other files."""


def all_harmless(paths: Sequence[Path]) -> bool:
    """Whether one child could read all these files and found nothing wrong.

    A child for each file takes a good part of a short run. False: each file has to be
    tried alone, to learn which is bad and why.
    """
    try:
        return not _tried(paths)
    except LeadsOutside:
        return False


def reason_not_to_open(path: Path) -> str:
    """Why the library must not be given this file, or nothing.

    In a child only where a process can be forked safely: Linux, one thread. Elsewhere
    only the look at other files is made, in this process.

    Raises
    ------
    LeadsOutside
        It keeps data in other files; says where.
    """
    return _tried([path])


def _tried(paths: Sequence[Path]) -> str:
    others = [t for t in threading.enumerate() if t.name != HARMLESS]
    if not sys.platform.startswith("linux") or len(others) > 1:
        # A structure that cannot be followed may end in any error of the library.
        reason = ""
        for path in paths:
            with contextlib.suppress(Exception):
                reason = why_not_alone(path)
            if reason:
                raise LeadsOutside(reason)
        return ""
    # Imported here, so that the child does not spend its time on it.
    import h5py  # noqa: F401
    import netCDF4  # noqa: F401

    read, write = os.pipe()
    with warnings.catch_warnings():
        # Threads of numerical libraries; the child uses none of them.
        warnings.simplefilter("ignore", DeprecationWarning)
        pid = os.fork()
    if pid == 0:
        _try(paths, write)
    os.close(write)
    _, status = os.waitpid(pid, 0)
    with os.fdopen(read, "rb") as words:
        reason = words.read().decode("utf-8", "replace")
    if reason:
        raise LeadsOutside(reason)
    if not os.WIFSIGNALED(status):
        return ""
    number = os.WTERMSIG(status)
    if number in (signal.SIGXCPU, signal.SIGKILL):
        return "its structure refers to itself"
    return f"its structure makes the reader fail ({signal.Signals(number).name})"


def _try(paths: Sequence[Path], write: int) -> None:
    """In the child: open, read everything small, exit without cleaning up."""
    try:
        import resource

        # Looking at a sound file costs some hundredths of a second.
        most = CPU_S + len(paths) // 4
        resource.setrlimit(resource.RLIMIT_CPU, (most, most + 1))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        for path in paths:
            try:
                reason = why_not_alone(path)
            except Exception:  # damaged: the reader below meets it as well
                reason = ""
            if reason:
                os.write(write, reason.encode("utf-8", "replace")[:_REASON])
                break
            with contextlib.suppress(Exception):  # the parent meets it and puts it in words
                _look(path)
    except BaseException:  # the same
        pass
    finally:
        os._exit(0)


def _look(path: Path) -> None:
    import netCDF4
    import numpy as np

    with netCDF4.Dataset(path) as dataset:
        dataset.set_auto_maskandscale(False)
        for variable in dataset.variables.values():
            for name in variable.ncattrs():
                variable.getncattr(name)
            if variable.ndim <= 1:
                if variable.size <= _MAX_VALUES:
                    variable[...]
                continue
            chunk = variable.chunking()
            if chunk == "contiguous" or (
                isinstance(chunk, list)
                and np.prod(chunk) * np.dtype(variable.dtype).itemsize <= _MAX_CHUNK
            ):
                variable[(0,) * variable.ndim]
