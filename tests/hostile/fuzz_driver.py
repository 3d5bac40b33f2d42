"""Run mutants in a child process, so that a crash or a hang is seen, counted and survived.

The child names each mutant before it touches it. When it dies, or is silent for
``HANG_S``, the mutant it named last is to blame and a new child goes on with the next.
"""

from __future__ import annotations

import json
import os
import queue
import subprocess
import sys
import threading
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
#: A mutant that takes longer hangs, by computing time where that is known: on a busy
#: machine the clock says little. On the clock it may take six times as long [s].
HANG_S = 10.0
#: Imports and compiled functions may take this long before the first mutant [s].
START_S = 240.0


@dataclass
class Tally:
    """What became of the mutants of one kind."""

    kind: str
    counts: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    crashes: list[str] = field(default_factory=list)
    hangs: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    slowest: str = ""
    #: Called with what the child says of each mutant, and of one that ended or hung it.
    record: Callable[[dict[str, Any]], None] = lambda said: None

    @property
    def total(self) -> int:
        return sum(self.counts.values()) + len(self.crashes) + len(self.hangs)

    def __str__(self) -> str:
        parts = ", ".join(f"{n} {word}" for word, n in sorted(self.counts.items()))
        return (
            f"{self.kind}: {self.total} mutants: {parts}; {len(self.crashes)} crashes, "
            f"{len(self.hangs)} hangs, slowest {self.slowest_s:.2f} s ({self.slowest})"
        )


def environment() -> dict[str, str]:
    """The child's: one thread, and the package of this checkout when it is here."""
    path = os.pathsep.join(
        p for p in (str(HERE.parents[1]), str(HERE.parent), os.environ.get("PYTHONPATH", "")) if p
    )
    return os.environ | {
        "PYTHONPATH": path, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1",
        "PYTHONIOENCODING": "utf-8",
    }  # fmt: skip


def hammer(
    kind: str,
    count: int,
    folder: Path,
    seed: str = "passage",
    *,
    first: int = 0,
    record: Callable[[dict[str, Any]], None] = lambda said: None,
) -> Tally:
    """Mutants ``first`` to ``count`` of a kind, each made and judged in a child process."""
    tally = Tally(kind, record=record)
    at = first
    while at < count:
        at = _run_child(kind, seed, at, count, folder, tally)
        if len(tally.crashes) + len(tally.hangs) + len(tally.failures) > 25:
            break  # enough to work on
    return tally


def _run_child(kind: str, seed: str, first: int, count: int, folder: Path, tally: Tally) -> int:
    """One child until its end; the index of the next mutant."""
    folder.mkdir(parents=True, exist_ok=True)
    noise = folder.parent / f"{folder.name}.stderr"
    command = [
        sys.executable, "-X", "faulthandler", str(HERE / "fuzz_child.py"),
        kind, seed, str(first), str(count), str(folder),
    ]  # fmt: skip
    with noise.open("wb") as errors:
        child = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=errors, env=environment(), text=True
        )
    assert child.stdout is not None
    lines: queue.Queue[str | None] = queue.Queue()

    def pump() -> None:
        for line in child.stdout:  # type: ignore[union-attr]
            lines.put(line)
        lines.put(None)

    thread = threading.Thread(target=pump, daemon=True)
    thread.start()
    try:
        return _follow(child, lines, kind, seed, first, noise, tally)
    finally:
        child.kill()
        child.wait()
        thread.join()
        child.stdout.close()


def _follow(
    child: subprocess.Popen[str],
    lines: queue.Queue[str | None],
    kind: str,
    seed: str,
    first: int,
    noise: Path,
    tally: Tally,
) -> int:
    """Count what a child says until it ends; the index of the next mutant."""
    open_mutant, done, patience = -1, first, START_S
    waited = used_s = 0.0
    while True:
        try:
            line = lines.get(timeout=patience)
        except queue.Empty:
            waited += patience
            busy = _cpu_s(child.pid) - used_s
            if open_mutant >= 0 and busy < HANG_S and waited < 6 * HANG_S:
                continue
            if open_mutant < 0:
                raise AssertionError(f"{kind}: the child never started") from None
            tally.hangs.append(f"{kind} {seed} {open_mutant}")
            tally.record({"what": "hang", "i": open_mutant, "label": "", "text": ""})
            return open_mutant + 1
        if line is None:
            break
        patience = HANG_S
        said = json.loads(line)
        if said["what"] == "ready":
            tally.record(said)
            continue
        if said["what"] == "begin":
            open_mutant, waited, used_s = said["i"], 0.0, _cpu_s(child.pid)
            continue
        tally.counts[said["what"]] += 1
        tally.record(said)
        if said["s"] > tally.slowest_s:
            tally.slowest_s, tally.slowest = said["s"], f"{kind} {seed} {said['i']}"
        if said["what"] == "fail":
            tally.failures.append(f"{kind} {seed} {said['i']} ({said['label']}): {said['text']}")
        done, open_mutant = said["i"] + 1, -1
    code = child.wait()
    if open_mutant >= 0:
        tail = noise.read_text(errors="replace")[-1500:]
        tally.crashes.append(f"{kind} {seed} {open_mutant}: ended with {code}: {tail}")
        tally.record({"what": "crash", "i": open_mutant, "label": str(code), "text": tail})
        return open_mutant + 1
    if code != 0:
        raise AssertionError(f"{kind}: {noise.read_text(errors='replace')[-3000:]}")
    return done


def _cpu_s(pid: int) -> float:
    """Computing time of a process, or 0 where it cannot be known. [s]"""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def assert_sound(tally: Tally) -> None:
    """No traceback, no crash, no hang, no wrong answer."""
    print(tally)
    assert not tally.failures, f"{len(tally.failures)} failures:\n" + "\n".join(tally.failures[:8])
    assert not tally.crashes, f"{len(tally.crashes)} crashes:\n" + "\n".join(tally.crashes[:8])
    assert not tally.hangs, f"{len(tally.hangs)} hangs:\n" + "\n".join(tally.hangs[:8])
