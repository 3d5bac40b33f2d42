"""Long work cut into blocks, so that an interruption loses no finished block.

A run has a folder with a manifest, which describes what is computed, and one file for
each finished block. A block file has a checksum of its content and the fingerprint of the
manifest. It is written under another name and then moved, so it is complete; a damaged
one is recognised by its checksum and computed again. A run killed at any moment therefore
continues where it stopped and ends the same to the last bit, with one process, several,
or a dask cluster.

Only the leading process writes; workers return arrays. That keeps the order of writes
simple and works without a shared disk, and losing a worker costs only its unfinished
block.
"""

from __future__ import annotations

import errno
import hashlib
import importlib
import io
import json
import multiprocessing
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import OutputError, PassageError
from passage.files import write_bytes
from passage.planning.season.lock import only_run
from passage.planning.season.workers import end_with_leader

Arrays = dict[str, npt.NDArray[Any]]
Work = Callable[[Any], Arrays]

MANIFEST = "manifest.json"
_MAGIC = b"passage block 1\n"
#: How often a block is tried again after its worker was lost.
MAX_LOSSES = 3


@dataclass(frozen=True)
class Block:
    """One piece of work: its number and the argument of the work function."""

    number: int
    job: Any


@dataclass
class RunReport:
    """Result of a run: blocks found done, done now, and bad ones with their reason."""

    kept: int = 0
    done: int = 0
    redone: tuple[int, ...] = ()
    bad: dict[int, str] = field(default_factory=dict)
    workers_lost: int = 0


def fingerprint(description: dict[str, Any]) -> str:
    """A short digest of a run's description; any change of input or option changes it."""
    text = json.dumps(description, sort_keys=True, ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()[:32]


def open_run(folder: Path, description: dict[str, Any]) -> str:
    """Make the run's folder, or check that it belongs to the same run; return the fingerprint.

    Raises
    ------
    OutputError
        The folder belongs to another run, or cannot be made or written.
    """
    mark = fingerprint(description)
    manifest = folder / MANIFEST
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "blocks").mkdir(exist_ok=True)
        if manifest.exists():
            try:
                known = json.loads(manifest.read_text(encoding="utf-8"))["fingerprint"]
            except (ValueError, KeyError, TypeError):
                raise OutputError(
                    f"{manifest}: is damaged, so whose blocks these are is not known. "
                    "Give another folder, or remove this one to start again."
                ) from None
            if known != mark:
                raise OutputError(
                    f"{folder}: holds a run with other inputs or options. "
                    "Give another folder, or remove this one to start again."
                )
            return mark
        if any((folder / "blocks").iterdir()):
            raise OutputError(f"{folder}: has blocks but no {MANIFEST}. Give another folder.")
        text = json.dumps({"fingerprint": mark, **description}, indent=1)
        write_bytes(manifest, text.encode(), force=True)
    except OSError as err:
        raise OutputError(f"{folder}: {_disk_words(err)}.") from err
    return mark


def block_path(folder: Path, number: int) -> Path:
    """Path of a block's file."""
    return folder / "blocks" / f"{number:06d}.blk"


def write_block(folder: Path, number: int, mark: str, arrays: Arrays) -> None:
    """Write one block with its checksum, in one move."""
    buffer = io.BytesIO()
    np.savez(buffer, allow_pickle=False, **arrays)
    content = buffer.getvalue()
    digest = hashlib.sha256(mark.encode() + content).hexdigest().encode()
    whole = _MAGIC + mark.encode() + b"\n" + digest + b"\n" + content
    try:
        write_bytes(block_path(folder, number), whole, force=True)
    except OutputError as err:
        cause = err.__cause__
        why = _disk_words(cause) if isinstance(cause, OSError) else str(err).rstrip(".")
        raise OutputError(
            f"{folder}: block {number} could not be written: {why}. "
            "The blocks written so far are safe; give the same command again to go on."
        ) from err


def read_block(folder: Path, number: int, mark: str) -> Arrays | None:
    """A block's arrays, or None where it is missing, damaged or of another run."""
    try:
        content = block_path(folder, number).read_bytes()
    except FileNotFoundError:
        return None
    head = len(_MAGIC) + len(mark) + 1 + 64 + 1
    start = content[:head]
    if not start.startswith(_MAGIC + mark.encode() + b"\n") or len(start) != head:
        return None
    body = content[head:]
    digest = start[len(_MAGIC) + len(mark) + 1 : -1]
    if hashlib.sha256(mark.encode() + body).hexdigest().encode() != digest:
        return None
    with np.load(io.BytesIO(body), allow_pickle=False) as arrays:
        return {name: arrays[name] for name in arrays.files}


def run_blocks(
    folder: Path,
    mark: str,
    blocks: Sequence[Block],
    work: Work,
    *,
    first: Sequence[Block] = (),
    processes: int = 1,
    pool: ProcessPoolExecutor | None = None,
    scheduler: str | None = None,
    progress: Callable[[int, int], None] | None = None,
    say: Callable[[str], None] = lambda text: None,
) -> RunReport:
    """Compute all blocks that are not yet done, and report the result.

    ``work(job)`` must be a pure function that can be imported by name. A block whose work
    raises a `PassageError` is listed as bad with its message, and the others go on; any
    other error is a bug and ends the run (finished blocks stay). ``progress(done, total)``
    is called after every block; ``say`` gets a message for each damaged block.

    ``first`` are blocks that the others read. They are computed before any other begins,
    and only if another is still to do. They are not counted; the others must do without
    one that fails. Their numbers must differ from those of the others. ``pool`` comes from
    :func:`begin_workers`.

    Raises
    ------
    OutputError
        Another run is using the folder, or a block cannot be written.
    """
    with only_run(folder) as alone:
        if alone:
            _sweep_parts(folder / "blocks")
        return _run(folder, mark, blocks, work, first, processes, pool, scheduler, progress, say)


def _run(
    folder: Path,
    mark: str,
    blocks: Sequence[Block],
    work: Work,
    first: Sequence[Block],
    processes: int,
    pool: ProcessPoolExecutor | None,
    scheduler: str | None,
    progress: Callable[[int, int], None] | None,
    say: Callable[[str], None],
) -> RunReport:
    report = RunReport()
    helping = {block.number for block in first}
    todo: list[Block] = []
    redone: list[int] = []
    for block in blocks:
        if read_block(folder, block.number, mark) is not None:
            report.kept += 1
            continue
        if block_path(folder, block.number).exists():
            redone.append(block.number)
        todo.append(block)
    report.redone = tuple(redone)
    for number in redone:
        say(f"Block {number} in {folder} is damaged: it is computed again.")
    if todo:
        missing = [b for b in first if read_block(folder, b.number, mark) is None]
        todo = [*missing, *todo]
    if progress:
        progress(report.kept, len(blocks))

    def finish(block: Block, outcome: Arrays | str) -> None:
        if block.number in helping:
            if not isinstance(outcome, str):
                write_block(folder, block.number, mark, outcome)
            return
        if isinstance(outcome, str):
            report.bad[block.number] = outcome
        else:
            write_block(folder, block.number, mark, outcome)
            report.done += 1
        if progress:
            progress(report.kept + report.done + len(report.bad), len(blocks))

    runner: Iterable[tuple[Block, Arrays | str]]
    if scheduler is not None:
        runner = _on_cluster(todo, work, scheduler, helping)
    elif processes > 1 and len(todo) > 1:
        runner = _in_processes(todo, work, processes, report, helping, pool)
    else:
        runner = ((block, guarded(work, block.job)) for block in todo)
    for block, outcome in runner:
        finish(block, outcome)
    return report


def _start_tracker_quietly() -> None:
    """Start Python's resource tracker without its warning after a stopped run."""
    from multiprocessing import resource_tracker

    name, quiet = "PYTHONWARNINGS", "ignore::UserWarning:multiprocessing.resource_tracker"
    before = os.environ.get(name)
    os.environ[name] = quiet if not before else f"{before},{quiet}"
    try:
        resource_tracker.ensure_running()
    finally:
        if before is None:
            del os.environ[name]
        else:
            os.environ[name] = before


def begin_workers(processes: int, module: str) -> ProcessPoolExecutor:
    """Start worker processes, which import a module while the caller continues."""
    if os.name == "posix":
        _start_tracker_quietly()
    # "spawn": a forked child inherits open NetCDF/HDF5 handles and threads, and may hang.
    pool = ProcessPoolExecutor(
        processes,
        mp_context=multiprocessing.get_context("spawn"),
        initializer=end_with_leader,
        initargs=(os.getpid(),),
    )
    for _ in range(processes):
        pool.submit(_import, module)
    return pool


def _import(module: str) -> None:
    importlib.import_module(module)


def guarded(work: Work, job: Any) -> Arrays | str:
    """The work's arrays, or the message of a `PassageError` (exceptions may not pickle)."""
    try:
        return work(job)
    except PassageError as err:
        return str(err)


def _may_begin(block: Block, flying: Iterable[Block], helping: set[int]) -> bool:
    """Whether a block may begin: unless it is a first block, none of those is running."""
    return block.number in helping or not any(b.number in helping for b in flying)


def _in_processes(
    todo: list[Block],
    work: Work,
    processes: int,
    report: RunReport,
    helping: set[int],
    begun: ProcessPoolExecutor | None = None,
) -> Iterator[tuple[Block, Arrays | str]]:
    waiting = list(reversed(todo))
    losses: dict[int, int] = {}
    while waiting:
        workers, begun = begun or begin_workers(processes, work.__module__), None
        with workers as pool:
            flying: dict[Future[Arrays | str], Block] = {}
            try:
                while waiting or flying:
                    while (
                        waiting
                        and len(flying) < 2 * processes
                        and _may_begin(waiting[-1], flying.values(), helping)
                    ):
                        # Removed only once submitted: a broken pool refuses.
                        flying[pool.submit(guarded, work, waiting[-1].job)] = waiting[-1]
                        waiting.pop()
                    ready, _ = wait(flying, return_when=FIRST_COMPLETED)
                    for future in ready:
                        outcome = future.result()
                        yield flying.pop(future), outcome
            except BrokenProcessPool:
                report.workers_lost += 1
                for block in flying.values():
                    losses[block.number] = losses.get(block.number, 0) + 1
                    if losses[block.number] > MAX_LOSSES * processes:
                        yield (
                            block,
                            "the worker died every time it was tried (out of memory?)",
                        )
                    else:
                        waiting.append(block)
            except GeneratorExit:
                pool.shutdown(wait=False, cancel_futures=True)
                raise


def _on_cluster(
    todo: list[Block], work: Work, scheduler: str, helping: set[int]
) -> Iterator[tuple[Block, Arrays | str]]:
    try:
        from distributed import Client, as_completed
    except ImportError as err:
        raise PassageError(
            "--scheduler needs dask's distributed package. Install it with: "
            "pip install 'passage[season]'"
        ) from err
    try:
        client = Client(scheduler, timeout="20s")
    except (OSError, TimeoutError, ValueError) as err:
        raise PassageError(f"--scheduler {scheduler}: no dask scheduler answers there.") from err
    with client:
        # A few blocks per worker at once: enough to keep them busy, few enough for the
        # results to fit in memory until they are written.
        waiting = list(reversed(todo))
        flying: dict[Any, Block] = {}
        completed = as_completed()
        limit = max(4, 3 * len(client.scheduler_info()["workers"]))
        while waiting or flying:
            while (
                waiting
                and len(flying) < limit
                and _may_begin(waiting[-1], flying.values(), helping)
            ):
                block = waiting.pop()
                future = client.submit(guarded, work, block.job, pure=False, retries=MAX_LOSSES)
                flying[future.key] = block
                completed.add(future)
            future = next(completed)
            yield flying.pop(future.key), future.result()
            future.release()


def _sweep_parts(blocks: Path) -> None:
    """Remove files left half written by killed runs; no other run is using the folder."""
    for part in blocks.glob(".*.part*"):
        part.unlink(missing_ok=True)


def _disk_words(err: OSError) -> str:
    if err.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full"
    if err.errno in (errno.EACCES, errno.EROFS, errno.EPERM):
        return "no permission to write there"
    return err.strerror or str(err)
