"""Blocks of long work: kept, checked, resumed, the same whichever way they are run."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from passage.errors import ForecastError, OutputError
from passage.planning.season import blocks


def work(job):
    """Something deterministic that takes no time."""
    if job == 5:
        raise ForecastError("hindcast.nc: block cannot be read.")
    rng = np.random.default_rng(job)
    return {"x": rng.normal(size=50), "n": np.array([job])}


def slow_work(job):
    time.sleep(0.02)
    return work(job + 100)


def dying_work(job):
    """Kill the worker once: the marker file says that it has died already."""
    number, marker = job
    if number == 3 and not os.path.exists(marker):  # noqa: PTH110
        with open(marker, "w"):  # noqa: PTH123
            pass
        os.kill(os.getpid(), signal.SIGKILL)
    return {"x": np.array([float(number)])}


def jobs(n):
    return [blocks.Block(i, i) for i in range(n)]


def contents(folder):
    return {p.name: p.read_bytes() for p in sorted((folder / "blocks").iterdir())}


def test_bad_block_is_listed_and_the_rest_go_on(tmp_path):
    mark = blocks.open_run(tmp_path / "run", {"what": "test"})
    report = blocks.run_blocks(tmp_path / "run", mark, jobs(8), work)
    assert report.done == 7
    assert report.bad == {5: "hindcast.nc: block cannot be read."}
    assert blocks.read_block(tmp_path / "run", 5, mark) is None
    np.testing.assert_array_equal(
        blocks.read_block(tmp_path / "run", 2, mark)["x"], np.random.default_rng(2).normal(size=50)
    )


def test_resume_keeps_good_blocks_and_redoes_damaged_ones(tmp_path):
    folder = tmp_path / "run"
    mark = blocks.open_run(folder, {"what": "test"})
    blocks.run_blocks(folder, mark, jobs(4), work)
    whole = contents(folder)
    damaged = blocks.block_path(folder, 1)
    raw = bytearray(damaged.read_bytes())
    raw[-10] ^= 1
    damaged.write_bytes(bytes(raw))
    blocks.block_path(folder, 2).write_bytes(whole["000002.blk"][:100])
    blocks.block_path(folder, 3).unlink()
    words = []
    again = blocks.run_blocks(
        folder, blocks.open_run(folder, {"what": "test"}), jobs(4), work, say=words.append
    )
    assert len(words) == 2
    assert "Block 1 " in words[0]
    assert "computed again" in words[0]
    assert (again.kept, again.done, again.redone) == (1, 3, (1, 2))
    assert contents(folder) == whole


def test_processes_give_the_same_bytes(tmp_path):
    one, two = tmp_path / "one", tmp_path / "two"
    mark = blocks.open_run(one, {"what": "test"})
    blocks.open_run(two, {"what": "test"})
    blocks.run_blocks(one, mark, jobs(5), work)
    blocks.run_blocks(two, mark, jobs(5), work, processes=2)
    assert contents(one) == contents(two)


def needing_work(job):
    """Read what another block made before, or say that it was not there."""
    folder, mark, number, wanted = job
    if wanted is None:
        return {"x": np.array([7.0])}
    found = blocks.read_block(Path(folder), wanted, mark)
    if found is None:
        raise ForecastError("what this one needs was not made.")
    return {"x": found["x"] + number}


@pytest.mark.parametrize("processes", [1, 2])
def test_shared_tables_are_made_first_and_not_counted(tmp_path, processes):
    folder = tmp_path / "run"
    mark = blocks.open_run(folder, {"what": "test"})
    todo = [blocks.Block(i, (str(folder), mark, i, 100 + i % 2)) for i in range(6)]
    first = [blocks.Block(100 + i, (str(folder), mark, i, None)) for i in range(2)]
    seen = []
    report = blocks.run_blocks(
        folder,
        mark,
        todo,
        needing_work,
        first=first,
        processes=processes,
        progress=lambda done, total: seen.append((done, total)),
    )
    assert (report.done, report.bad, report.kept) == (6, {}, 0)
    assert seen[-1] == (6, 6)
    # All done: what was only needed on the way is not made again.
    blocks.block_path(folder, 100).unlink()
    again = blocks.run_blocks(folder, mark, todo, needing_work, first=first)
    assert (again.done, again.kept) == (0, 6)
    assert not blocks.block_path(folder, 100).exists()


def test_lost_worker_costs_only_time(tmp_path):
    folder = tmp_path / "run"
    mark = blocks.open_run(folder, {"what": "test"})
    todo = [blocks.Block(i, (i, str(tmp_path / "died"))) for i in range(6)]
    report = blocks.run_blocks(folder, mark, todo, dying_work, processes=2)
    assert report.workers_lost >= 1
    assert not report.bad
    values = [blocks.read_block(folder, i, mark)["x"][0] for i in range(6)]
    assert values == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]


def test_other_inputs_in_the_same_folder_are_refused(tmp_path):
    blocks.open_run(tmp_path / "run", {"what": "one"})
    with pytest.raises(OutputError, match="other inputs"):
        blocks.open_run(tmp_path / "run", {"what": "two"})


def test_a_damaged_manifest_is_called_damaged(tmp_path):
    blocks.open_run(tmp_path / "run", {"what": "one"})
    (tmp_path / "run" / blocks.MANIFEST).write_bytes(b"{\xff")
    with pytest.raises(OutputError, match="is damaged"):
        blocks.open_run(tmp_path / "run", {"what": "one"})


def test_full_disk_is_one_clear_message(tmp_path, monkeypatch):
    folder = tmp_path / "run"
    mark = blocks.open_run(folder, {"what": "test"})

    def full(fd):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(blocks.os, "fsync", full)
    with pytest.raises(OutputError, match=r"disk is full.*safe"):
        blocks.run_blocks(folder, mark, jobs(2), work)
    assert list((folder / "blocks").iterdir()) == []


@pytest.mark.slow
def test_kill_at_random_moments_ends_identical(tmp_path):
    """kill -9 at 20 random moments, then finish: the same bytes as an undisturbed run."""
    reference, folder = tmp_path / "reference", tmp_path / "run"
    mark = blocks.open_run(reference, {"what": "test"})
    blocks.run_blocks(reference, mark, jobs(60), slow_work)
    script = (
        "import sys, pathlib; sys.path.insert(0, sys.argv[2]);"
        "import test_blocks as t; from passage.planning.season import blocks as b;"
        "f = pathlib.Path(sys.argv[1]);"
        "b.run_blocks(f, b.open_run(f, {'what': 'test'}), t.jobs(60), t.slow_work)"
    )
    # On a busy machine all may be killed before they begin; the folder is there all the same.
    blocks.open_run(folder, {"what": "test"})
    rng = np.random.default_rng(7)
    here = os.path.dirname(__file__)  # noqa: PTH120
    for _ in range(20):
        run = subprocess.Popen([sys.executable, "-c", script, str(folder), here])
        time.sleep(0.25 + rng.uniform(0, 0.35))
        run.kill()
        run.wait()
    for part in (folder / "blocks").glob("*.part"):
        part.unlink()
    blocks.run_blocks(folder, mark, jobs(60), slow_work)
    left = {k: v for k, v in contents(folder).items() if k.endswith(".blk")}
    assert left == contents(reference)


def test_leftovers_of_killed_runs_are_removed(tmp_path):
    mark = blocks.open_run(tmp_path, {"what": "sweep"})
    inside = tmp_path / "blocks"
    (inside / ".000001.blk.99999.part").write_bytes(b"half")
    # Whatever has this number now, it is at work elsewhere: this run holds the folder.
    (inside / ".000002.blk.1.part").write_bytes(b"half")
    report = blocks.run_blocks(tmp_path, mark, jobs(2), work)
    assert report.done == 2
    assert list(inside.glob(".*.part")) == []


def test_a_second_run_into_the_folder_is_reported(tmp_path):
    mark = blocks.open_run(tmp_path, {"what": "twice"})
    said = []

    def second(job):
        with pytest.raises(OutputError, match=f"is at work in it .process {os.getpid()} on"):
            blocks.run_blocks(tmp_path, mark, jobs(2), work)
        said.append(1)
        return work(job)

    part = tmp_path / "blocks" / ".000001.blk.1.part"
    assert blocks.run_blocks(tmp_path, mark, jobs(1), second).done == 1
    assert said == [1]
    part.write_bytes(b"half")
    assert blocks.run_blocks(tmp_path, mark, jobs(2), work).done == 1
    assert not part.exists()


def test_the_folder_is_free_again_after_a_kill(tmp_path):
    mark = blocks.open_run(tmp_path, {"what": "kill"})
    script = (
        "import sys, time; from pathlib import Path; "
        "from passage.planning.season.lock import only_run; "
        "lock = only_run(Path(sys.argv[1])); lock.__enter__(); print('held', flush=True); "
        "time.sleep(60)"
    )
    run = subprocess.Popen([sys.executable, "-c", script, str(tmp_path)], stdout=subprocess.PIPE)
    assert run.stdout is not None
    assert run.stdout.readline().strip() == b"held"
    with pytest.raises(OutputError, match=f"process {run.pid}"):
        blocks.run_blocks(tmp_path, mark, jobs(2), work)
    run.kill()
    run.communicate()
    assert blocks.run_blocks(tmp_path, mark, jobs(2), work).done == 2


def test_no_signal_is_sent_to_another_process(tmp_path, monkeypatch):
    """On some systems asking whether a process lives, by signal 0, ends it."""

    def kill(*_):
        raise AssertionError("a signal was sent")

    monkeypatch.setattr(os, "kill", kill)
    mark = blocks.open_run(tmp_path, {"what": "signal"})
    (tmp_path / "blocks" / ".000001.blk.1.part").write_bytes(b"half")
    assert blocks.run_blocks(tmp_path, mark, jobs(1), work).done == 1
