"""How many worker processes a machine can take, and workers that end with their leader."""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path

#: Memory of one worker without data: libraries, tables, one chunk of points. [MB]
BASE_MB = 420.0
#: Share of the free memory that workers may use.
_SHARE = 0.8
_MB = 1024.0**2


def worker_mb(block_mb: float) -> float:
    """Memory of one worker with the data of a block. [MB]"""
    return BASE_MB + 1.5 * block_mb


def cores() -> int:
    """Number of cores that this process may use."""
    try:
        return len(os.sched_getaffinity(0))
    except AttributeError:  # not on this system
        return os.cpu_count() or 1


def free_mb() -> float | None:
    """Free memory, within the limit of a container; None where not known. [MB]"""
    found = []
    try:
        for line in Path("/proc/meminfo").read_text().splitlines():
            if line.startswith("MemAvailable:"):
                found.append(float(line.split()[1]) / 1024.0)
    except (OSError, ValueError, IndexError):
        pass
    try:
        group = Path("/sys/fs/cgroup")
        limit = (group / "memory.max").read_text().strip()
        if limit.isdigit():
            used = float((group / "memory.current").read_text())
            found.append((float(limit) - used) / _MB)
    except (OSError, ValueError):
        pass
    return max(min(found), 0.0) if found else None


def bearable(processes: int, block_mb: float) -> tuple[int, str]:
    """Number of workers that the machine can take, and why it is less than asked for.

    Parameters
    ----------
    processes : int
        Number asked for, from 1.
    block_mb : float
        Memory that the data of a block may take in each. [MB]
    """
    count, why = processes, ""
    if cores() < count:
        count = cores()
        why = f"it has {count} core{'s' * (count > 1)}"
    free, each = free_mb(), worker_mb(block_mb)
    if free is not None and _SHARE * free < count * each:
        count = max(1, int(_SHARE * free / each))
        why = f"{free / 1024.0:.1f} GB of memory are free, and each takes {each / 1024.0:.1f} GB"
    if not why:
        return processes, ""
    return (
        count,
        f"--processes {processes} is more than this machine can take: {why}. Using {count}.",
    )


def end_with_leader(leader: int) -> None:
    """Called when a worker begins: makes it end when its leader is gone for any reason."""
    if not _kernel_ends_us():
        threading.Thread(target=_watch, args=(leader,), daemon=True).start()
    if os.getppid() != leader:
        os._exit(1)  # gone already


def _kernel_ends_us() -> bool:
    """Ask the kernel (Linux) to end this process with its parent; False where it cannot.

    A watching thread would prevent files from being tried in a child process.
    """
    if not sys.platform.startswith("linux"):
        return False
    import ctypes
    import signal

    set_death_signal = 1  # PR_SET_PDEATHSIG of prctl(2)
    try:
        return ctypes.CDLL(None).prctl(set_death_signal, int(signal.SIGKILL), 0, 0, 0) == 0
    except (OSError, AttributeError):
        return False


def _watch(leader: int) -> None:
    while os.getppid() == leader:
        time.sleep(1.0)
    os._exit(1)
