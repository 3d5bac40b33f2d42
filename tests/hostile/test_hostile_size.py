"""Work is counted before it starts and refused with the number; workers are bounded."""

from __future__ import annotations

import multiprocessing
import os
import resource
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from case import COMPARE, INPUTS, SEASON, SUGGEST, Bench, Case, check
from fuzz_driver import environment

from passage.planning.season import workers

ROUTE = ("compare", "{route}", *INPUTS)
WINDOW = ("--from", "2026-03-14T00:00Z", "--to", "2036-03-14T00:00Z")
CENTURIES = ("--from", "1800-01-01", "--to", "2199-12-31", "--every", "0.25", "-o", "{out}/s")


def long_route(bench: Bench) -> None:
    points = "\n".join(f"P{i},{-60 + 120 * (i % 2)},{i},rhumb,6" for i in range(12))
    bench.files["route"].write_text(f"name,lat,lon,leg,speed_kn\n{points}\n")


TOO_MUCH = [
    Case("departures of compare", (*ROUTE, *WINDOW, "--every", "0.05", "--minutes", "120"), 2,
         ("too many departures",)),
    Case("points of compare", (*ROUTE, *WINDOW, "--every", "1", "--minutes", "1"), 2,
         ("points, more than 1000000",)),
    Case("season", ("season", "{route}", *INPUTS, *CENTURIES), 2,
         ("departures, more than 2000000",)),
    Case("season --dry-run", ("season", "{route}", *INPUTS, *CENTURIES, "--dry-run"), 2,
         ("departures, more than 2000000",)),
    Case("speeds of season", ("season", "{route}", *INPUTS, "--from", "1980-01-01", "--to",
         "2020-12-31", "--every", "0.25", "-o", "{out}/s", "--speed", "9", "--speed", "12"), 2,
         ("passages, more than 2000000",)),
    Case("a track without end", (*COMPARE, "--minutes", "1"), 3, ("segments",), long_route),
    Case("a grid of millions", (*SUGGEST[:-2], "--cell", "0.5", "--corridor", "2000"), 3,
         ("cells",)),
]  # fmt: skip


@pytest.mark.parametrize("case", TOO_MUCH, ids=str)
def test_too_much_is_refused_before_it_takes_memory(tmp_path, case: Case) -> None:
    bench = Bench(tmp_path / "bench")
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    began = time.process_time()
    check(case, bench)
    assert time.process_time() - began < 10.0
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 300_000  # kB


def test_workers_are_bounded_by_cores_and_memory(monkeypatch) -> None:
    monkeypatch.setattr(workers, "cores", lambda: 8)
    monkeypatch.setattr(workers, "free_mb", lambda: 100_000.0)
    assert workers.bearable(4, 200.0) == (4, "")
    count, why = workers.bearable(256, 200.0)
    assert count == 8
    assert "8 cores" in why
    assert "Using 8" in why
    monkeypatch.setattr(workers, "free_mb", lambda: 2000.0)
    count, why = workers.bearable(4, 200.0)
    # 0.8 x 2000 MB for workers of 420 + 1.5 x 200 MB.
    assert count == 2
    assert "GB of memory are free" in why
    monkeypatch.setattr(workers, "free_mb", lambda: 10.0)
    assert workers.bearable(4, 200.0)[0] == 1
    monkeypatch.setattr(workers, "free_mb", lambda: None)
    assert workers.bearable(3, 200.0) == (3, "")


def test_fewer_workers_are_reported(tmp_path) -> None:
    words = (*SEASON, "--processes", "256")
    case = Case("256", words, 0, ("--processes 256 is more than this machine can take",),
                writes=("season",))  # fmt: skip
    check(case, Bench(tmp_path / "bench"))


def test_a_dry_run_counts_the_workers_that_would_run(tmp_path, monkeypatch) -> None:
    """A block for each departure: memory and time are those of two workers, not of 64."""
    monkeypatch.setattr(workers, "cores", lambda: 2)
    monkeypatch.setattr(workers, "free_mb", lambda: 100_000.0)
    monkeypatch.setattr("passage.planning.season.work.block_departures", lambda *_: 1)
    bench = Bench(tmp_path / "bench")
    said = {}
    for asked in ("2", "64"):
        words = (*SEASON, "--dry-run", "--processes", asked)
        said[asked] = check(Case(asked, words, 0, ("with 2 processes",)), bench).stdout
    # The time is measured on departures on trial, and differs from run to run.
    lines = {
        asked: [line for line in text.splitlines() if not line.startswith("time with")]
        for asked, text in said.items()
    }
    assert lines["64"][: len(lines["2"])] == lines["2"]
    assert "--processes 64 is more than this machine can take" in said["64"]
    monkeypatch.setattr("passage.planning.season.work.block_departures", lambda *_: 1000)
    words = (*SEASON, "--dry-run", "--processes", "2")
    check(Case("one block", words, 0, ("with 1 process:", "1 would have a block")), bench)


LEADER = """
import sys, time
from pathlib import Path
import os_of_worker
from passage.planning.season.blocks import begin_workers
if __name__ == "__main__":
    pool = begin_workers(2, "json")
    for pid in {f.result() for f in [pool.submit(os_of_worker.pid) for _ in range(8)]}:
        print(pid, flush=True)
    print("ready", flush=True)
    time.sleep(60)
"""


def alive(pid: int) -> bool:
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state not in "ZX"


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="looks into /proc")
def test_workers_end_when_the_main_process_is_killed(tmp_path) -> None:
    assert multiprocessing.get_start_method(allow_none=True) in (None, "fork", "spawn")
    (tmp_path / "os_of_worker.py").write_text(
        "import os, time\ndef pid():\n    time.sleep(0.2)\n    return os.getpid()\n"
    )
    (tmp_path / "leader.py").write_text(LEADER)
    env = environment()
    env["PYTHONPATH"] = f"{tmp_path}{os.pathsep}{env['PYTHONPATH']}"
    child = subprocess.Popen(
        [sys.executable, str(tmp_path / "leader.py")], stdout=subprocess.PIPE, env=env, text=True
    )
    assert child.stdout is not None
    pids = []
    for line in child.stdout:
        if line.strip() == "ready":
            break
        pids.append(int(line))
    assert pids
    assert all(alive(pid) for pid in pids)
    child.send_signal(signal.SIGKILL)
    child.wait()
    child.stdout.close()
    end = time.monotonic() + 10.0
    while any(alive(pid) for pid in pids) and time.monotonic() < end:
        time.sleep(0.05)
    left = [pid for pid in pids if alive(pid)]
    for pid in left:
        os.kill(pid, signal.SIGKILL)
    assert not left
