"""Files that keep their data elsewhere, stores with a way out: refused before being read."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import forecast_maker as maker
import h5py
import numpy as np
import pytest
from case import PLAN, Bench, Case, check
from fuzz_driver import environment

from passage.inputs.outside import why_not_alone, why_store_not_plain

SAMPLES = Path(__file__).resolve().parents[2] / "sample_forecasts"


def others(bench: Bench) -> Path:
    """A file beside the forecast with twice its heights, and the raw values of it."""
    other = bench.inputs / "other.nc"
    maker.write_forecast(other, maker.sea(4.3, 8.0, 270.0))
    (bench.inputs / "raw.bin").write_bytes(np.full(5 * 5 * 5, 4.3, "f4").tobytes())
    return other


def external_link(bench: Bench) -> None:
    other = others(bench)
    with h5py.File(bench.files["sea"], "a") as file:
        del file["hs"]
        file["hs"] = h5py.ExternalLink(str(other), "/hs")


def hidden_link(bench: Bench) -> None:
    """In a group of its own, among many other links."""
    others(bench)
    with h5py.File(bench.files["sea"], "a") as file:
        for i in range(40):
            file[f"deep/er/x{i}"] = i
        file["deep/er/other"] = h5py.ExternalLink("other.nc", "/")


def external_storage(bench: Bench) -> None:
    others(bench)
    put_dataset(bench, external=[("raw.bin", 0, 500)])


def missing_storage(bench: Bench) -> None:
    put_dataset(bench, external=[("/nowhere/raw.bin", 0, 500)])


def put_dataset(bench: Bench, **how: object) -> None:
    with h5py.File(bench.files["sea"], "a") as file:
        attributes = {k: v for k, v in file["hs"].attrs.items() if k in ("units", "standard_name")}
        del file["hs"]
        made = file.create_dataset("hs", (5, 5, 5), "f4", **how)
        made.attrs.update(attributes)


def virtual(bench: Bench) -> None:
    others(bench)
    with h5py.File(bench.files["sea"], "a") as file:
        del file["hs"]
        layout = h5py.VirtualLayout((5, 5, 5), "f4")
        layout[:] = h5py.VirtualSource("other.nc", "hs", (5, 5, 5))
        file.create_virtual_dataset("hs", layout)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (external_link, "'hs' is a link to another file"),
        (hidden_link, "'deep/er/other' is a link to another file"),
        (external_storage, "'hs' keeps its values in another file (raw.bin)"),
        (missing_storage, "another file (/nowhere/raw.bin)"),
        (virtual, "'hs' is put together from other files (other.nc)"),
    ],
)
@pytest.mark.parametrize("command", ["plan", "check"])
def test_data_in_other_files_are_refused(tmp_path, spoil, says, command) -> None:
    words = PLAN if command == "plan" else ("check", "{sea}")
    bench = Bench(tmp_path / "bench")
    case = Case(spoil.__name__, words, 4, ("sea.nc", says), spoil)
    if command == "check":
        # It shows the reason on the screen too.
        spoil(bench)
        from case import run_here

        ended = run_here(bench.words(words))
        assert ended.code == 4
        assert says in ended.stderr
        return
    check(case, bench)


def test_the_same_without_forking(tmp_path, monkeypatch) -> None:
    monkeypatch.setattr("passage.inputs.probe.threading.active_count", lambda: 2)
    check(
        Case("no fork", PLAN, 4, ("is a link to another file",), external_link),
        Bench(tmp_path / "bench"),
    )


def test_links_inside_the_file_are_fine(tmp_path) -> None:
    path = maker.write_forecast(tmp_path / "sea.nc", maker.sea())
    with h5py.File(path, "a") as file:
        file["same"] = h5py.SoftLink("/hs")
        file["again"] = file["hs"]
    assert why_not_alone(path) == ""
    for sample in SAMPLES.glob("*.nc"):
        if sample.read_bytes()[:4] == b"\x89HDF":
            assert why_not_alone(sample) == ""


def zarr_store(bench: Bench) -> Path:
    xarray = pytest.importorskip("xarray")
    pytest.importorskip("zarr", reason="the season extra is not installed")
    store = bench.inputs / "sea.zarr"
    with xarray.open_dataset(bench.files["sea"], decode_times=False) as sea:
        sea.load().to_zarr(store, zarr_format=2)
    bench.files["sea"] = store
    return store


def chunk_of(store: Path) -> Path:
    return next(p for p in sorted((store / "hs").iterdir()) if not p.name.startswith("."))


def pipe(chunk: Path, bench: Bench) -> None:
    chunk.unlink()
    os.mkfifo(chunk)


def link_out(chunk: Path, bench: Bench) -> None:
    elsewhere = bench.folder / "elsewhere"
    shutil.move(chunk, elsewhere)
    chunk.symlink_to(elsewhere)


def link_to_device(chunk: Path, bench: Bench) -> None:
    chunk.unlink()
    chunk.symlink_to("/dev/zero")


def broken_link(chunk: Path, bench: Bench) -> None:
    chunk.unlink()
    chunk.symlink_to(chunk.parent / "nothing")


def folder_out(chunk: Path, bench: Bench) -> None:
    elsewhere = bench.folder / "elsewhere"
    shutil.move(chunk.parent, elsewhere)
    chunk.parent.symlink_to(elsewhere)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [(pipe, "holds a pipe"), (link_out, "link that leads out"), (link_to_device, "leads out"),
     (broken_link, "broken link"), (folder_out, "leads out")],
)  # fmt: skip
def test_stores_with_links_outside_are_refused(tmp_path, spoil, says) -> None:
    bench = Bench(tmp_path / "bench")
    store = zarr_store(bench)
    spoil(chunk_of(store), bench)
    # The listing of inputs would wait for the pipe itself.
    check(Case(spoil.__name__, PLAN, 4, ("sea.zarr", says)), bench)


def test_a_store_of_plain_files_is_read(tmp_path) -> None:
    bench = Bench(tmp_path / "bench")
    store = zarr_store(bench)
    assert why_store_not_plain(store) == ""
    # A link to a file inside the store stays inside.
    chunk = chunk_of(store)
    copy = chunk.with_name("kept")
    shutil.move(chunk, copy)
    chunk.symlink_to(copy.name)
    check(Case("sound", PLAN, 0), bench)


@pytest.mark.parametrize("part", ["vessel", "route", "sea"])
def test_pipes_and_devices_as_inputs(tmp_path, part) -> None:
    bench = Bench(tmp_path / "bench")
    made = bench.inputs / "pipe"
    os.mkfifo(made)
    for path in (made, Path("/dev/zero")):
        bench.files[part] = path
        check(Case("pipe", PLAN, 4 if part == "sea" else 3, ("a pipe or a device",)), bench)


@pytest.mark.parametrize("option", ["--map", "--responses"])
def test_pipes_as_other_inputs(tmp_path, option) -> None:
    bench = Bench(tmp_path / "bench")
    os.mkfifo(bench.inputs / "pipe")
    bench.files["pipe"] = bench.inputs / "pipe"
    code = 3 if option == "--responses" else 4
    check(Case("pipe", (*PLAN, option, "{pipe}"), code, ("a pipe or a device",)), bench)


def test_a_pipe_of_closed_waters(tmp_path) -> None:
    from case import SUGGEST

    bench = Bench(tmp_path / "bench")
    os.mkfifo(bench.inputs / "pipe")
    bench.files["pipe"] = bench.inputs / "pipe"
    check(Case("pipe", (*SUGGEST, "--no-go", "{pipe}"), 3, ("a pipe or a device",)), bench)


def test_a_hindcast_whose_axes_have_other_names_than_its_dimensions(tmp_path) -> None:
    def rename(bench: Bench) -> None:
        import netCDF4

        with netCDF4.Dataset(bench.files["sea"], "a") as nc:
            nc.renameDimension("longitude", "x")

    case = Case("renamed", ("hindcast", "{sea}", "-o", "{out}/h.nc"), 4, ("'x'",), rename)
    check(case, Bench(tmp_path / "bench"))


TRIED = """
import os, signal, sys, threading
from pathlib import Path
from passage.cli.progress import Progress
from passage.inputs import probe
probe.why_not_alone = lambda path: os.kill(os.getpid(), signal.SIGSEGV)
with Progress("reading"):
    assert probe.HARMLESS in [thread.name for thread in threading.enumerate()]
    print(probe.reason_not_to_open(Path(sys.argv[1])))
"""


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="files are tried on Linux only")
def test_a_file_is_tried_in_a_child_while_progress_is_shown(tmp_path) -> None:
    """The thread that shows it must not cost the trial: a file that kills the reader."""
    path = maker.write_forecast(tmp_path / "sea.nc")
    done = subprocess.run(
        [sys.executable, "-c", TRIED, str(path)], capture_output=True, text=True, check=False,
        env=environment() | {"PASSAGE_PROGRESS": "on"}, timeout=60,
    )  # fmt: skip
    assert done.stdout.strip() == "its structure makes the reader fail (SIGSEGV)", done.stderr


def test_without_a_trial_library_errors_are_left_to_the_reader(tmp_path, monkeypatch) -> None:
    from passage.inputs import probe

    def broken(path: Path) -> str:
        raise SystemError("returned a result with an exception set")

    monkeypatch.setattr(probe, "why_not_alone", broken)
    monkeypatch.setattr(probe.sys, "platform", "elsewhere")
    assert probe.reason_not_to_open(tmp_path / "sea.nc") == ""
    monkeypatch.setattr(probe, "why_not_alone", lambda path: "is a link to another file")
    with pytest.raises(probe.LeadsOutside, match="another file"):
        probe.reason_not_to_open(tmp_path / "sea.nc")
