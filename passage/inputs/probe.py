"""Try a NetCDF-4 file in a forked child first: a damaged one can take the library down.

The HDF5 library trusts the lengths and addresses in a file. Of some thousand damaged
files about one in a thousand made it loop for ever, where Python cannot interrupt it.
The child costs some hundredths of a second; it is bounded in computing time, not in
time on the clock, so a slow drive is no fault.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import warnings
from pathlib import Path

#: Computing time that opening a file and looking at its axes may take [s].
CPU_S = 3
#: Axes up to this many values are read, and chunks up to this size [bytes].
_MAX_VALUES = 200_000
_MAX_CHUNK = 4 * 1024**2


def reason_not_to_open(path: Path) -> str:
    """Why the library must not be given this file, or nothing.

    Only where a process can be forked safely: Linux, one thread. Elsewhere nothing is
    tried and nothing said.
    """
    if not sys.platform.startswith("linux") or threading.active_count() > 1:
        return ""
    # Imported here, so that the child does not spend its time on it.
    import netCDF4  # noqa: F401

    with warnings.catch_warnings():
        # Threads of numerical libraries; the child uses none of them.
        warnings.simplefilter("ignore", DeprecationWarning)
        pid = os.fork()
    if pid == 0:
        _try(path)
    _, status = os.waitpid(pid, 0)
    if not os.WIFSIGNALED(status):
        return ""
    number = os.WTERMSIG(status)
    if number in (signal.SIGXCPU, signal.SIGKILL):
        return "its structure leads the reader in circles"
    return f"its structure makes the reader fail ({signal.Signals(number).name})"


def _try(path: Path) -> None:
    """In the child: open, look at everything small, end without cleaning up."""
    try:
        import resource

        resource.setrlimit(resource.RLIMIT_CPU, (CPU_S, CPU_S + 1))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        _look(path)
    except BaseException:  # the parent meets the same and puts it in words
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
