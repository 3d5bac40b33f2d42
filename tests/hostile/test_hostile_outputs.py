"""Outputs: never one of the inputs, refused before the work where they cannot be, never half."""

from __future__ import annotations

import os
import resource
import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import forecast_maker as maker
import pytest
from case import COMPARE, HEEL, PLAN, SEASON, SUGGEST, Bench, Case, check, run_here
from fuzz_base import strict_json
from fuzz_driver import environment

NAMED = (*PLAN, "--force", "-o")
WAY = ("--write-route", "{out}/way.gpx")
HINDCAST = ("hindcast", "{sea}", "-o")


def beside(name: str, to: str, link: str = "soft"):
    """A second name of an input beside it."""

    def make(bench: Bench) -> None:
        bench.files[name] = bench.inputs / name
        if link == "soft":
            bench.files[name].symlink_to(bench.files[to])
        else:
            os.link(bench.files[to], bench.files[name])

    return make


def a_log(bench: Bench) -> None:
    bench.files["log"] = bench.inputs / "log.csv"
    bench.files["log"].write_text("time,speed_over_ground_kn\n2026-03-02T08:30Z,11\n")


def a_store(bench: Bench) -> None:
    bench.files["store"] = bench.inputs / "past.zarr"
    bench.files["store"].mkdir()
    maker.write_forecast(bench.files["store"] / "sea.nc", maker.sea())
    bench.files["sea"] = bench.files["store"] / "sea.nc"


ONTO = [
    Case("forecast", (*NAMED, "{sea}"), 2, ("-o is the file given as --forecast",)),
    Case("vessel", (*NAMED, "{vessel}"), 2, ("-o is the file given as --vessel",)),
    Case("route", (*NAMED, "{route}"), 2, ("-o is the file given as ROUTE",)),
    Case("by another way", (*NAMED, "{out}/../inputs/sea.nc"), 2, ("given as --forecast",)),
    Case("soft link", (*NAMED, "{link}"), 2, ("given as --forecast",),
         beside("link", "sea")),
    Case("hard link", (*NAMED, "{link}"), 2, ("given as --forecast",),
         beside("link", "sea", "hard")),
    Case("as NetCDF", (*NAMED, "{sea}", "--format", "netcdf"), 2, ("given as --forecast",)),
    Case("the route of compare", (*COMPARE, "--force", "--write-route", "{route}"), 2,
         ("--write-route is the file given as ROUTES",)),
    Case("two outputs", (*COMPARE, "-o", "{out}/x.csv", "--write-route", "{out}/x.csv"), 2,
         ("is written already by",)),
    Case("heel", (*HEEL, "--force", "-o", "{vessel}"), 2, ("given as --vessel",)),
    Case("suggest", (*SUGGEST, "--force", "-o", "{route}"), 2, ("given as ROUTE",)),
    Case("calibrate", ("calibrate", "{log}", "--vessel", "{vessel}", "--force", "-o", "{vessel}"),
         2, ("given as --vessel",), a_log),
    Case("decay", ("decay", "{log}", "--vessel", "{vessel}", "--force", "-o", "{vessel}"),
         2, ("given as --vessel",), a_log),
    Case("hindcast", (*HINDCAST, "{sea}", "--force"), 2, ("is the file given as FILES",)),
    Case("a store that holds the input", (*HINDCAST, "{store}", "--force"), 2,
         ("a folder that holds",), a_store),
    Case("season in the folder of its inputs", (*SEASON[:-1], "{out}/../inputs"), 2,
         ("a folder that holds",)),
]  # fmt: skip


def part_kept(path: str):
    def close(bench: Bench) -> None:
        bench.files["kept"] = bench.out / path
        bench.files["kept"].write_text("kept")

    return close


#: Refused before the work: the vessel file is never read, so that its fault does not show.
EARLY = [
    Case("exists", (*COMPARE, "--write-route", "{kept}"), 2, ("kept.gpx", "--force"),
         part_kept("kept.gpx"), ("kept.gpx",)),
    Case("no folder", (*COMPARE, "--write-route", "{out}/none/way.gpx"), 2, ("does not exist",)),
    Case("a folder", (*PLAN, "-o", "{out}"), 2, ("is a folder",)),
    Case("a device", (*NAMED, "/dev/full"), 2, ("not a plain file",)),
    Case("a long name", (*PLAN, "-o", "{out}/" + "x" * 240), 2, ("too long",)),
    Case("a file as folder", (*SEASON[:-1], "{kept}"), 2, ("is a file",), part_kept("k"), ("k",)),
    Case("no dash", (*COMPARE, "--write-route", "-"), 2, ("standard output",)),
    Case("NetCDF to the screen", (*PLAN, "--format", "netcdf", "-o", "-"), 2, ("needs a file",)),
    Case("open what is not there", (*PLAN, "--format", "html", "-o", "-", "--open"), 2,
         ("--open needs a file",)),
    Case("season to the screen", (*SEASON[:-1], "-"), 2, ("standard output",)),
]  # fmt: skip


@pytest.mark.parametrize("case", ONTO, ids=str)
def test_no_output_onto_an_input(tmp_path, case: Case) -> None:
    check(case, Bench(tmp_path / "bench"))


@pytest.mark.parametrize("case", EARLY, ids=str)
def test_refused_before_the_work(tmp_path, case: Case) -> None:
    bench = Bench(tmp_path / "bench")
    bench.files["vessel"].write_text("this is no vessel\n")
    check(case, bench)


def test_a_folder_without_permission(tmp_path) -> None:
    if os.geteuid() == 0:
        pytest.skip("root may write anywhere")
    bench = Bench(tmp_path / "bench")
    bench.out.chmod(0o555)
    check(Case("closed", (*COMPARE, *WAY), 2, ("permission denied",)), bench)


@pytest.mark.parametrize("form", ["table", "json", "csv", "html"])
def test_a_dash_is_standard_output(tmp_path, form) -> None:
    bench = Bench(tmp_path / "bench")
    words = (*PLAN, "--format", form)
    dash = check(Case("dash", (*words, "-o", "-"), 0), bench)
    assert not Path("-").exists()
    if form == "html":
        assert dash.stdout.rstrip().endswith("</html>")
        return
    plain = check(Case("plain", words, 0), bench)
    if form == "json":
        one, other = strict_json(dash.stdout), strict_json(plain.stdout)
        assert one["legs"] == other["legs"]
    else:
        assert dash.stdout == plain.stdout


PROGRAM = "from passage.cli.main import main; main()"


@pytest.mark.parametrize("streams", [">&-", ">&- 2>&-", "<&- >&- 2>&-"])
def test_a_closed_standard_output(tmp_path, streams) -> None:
    bench = Bench(tmp_path / "bench")
    out = bench.out / "plan.json"
    for words, code in ((PLAN, 2), ((*PLAN, "--format", "json", "-o", str(out)), 0)):
        line = ["sh", "-c", f'exec "$@" {streams}', "sh", sys.executable, "-c", PROGRAM]
        done = subprocess.run([*line, *bench.words(words)], capture_output=True, text=True,
                              env=environment(), timeout=120, check=False)  # fmt: skip
        assert done.returncode == code, done.stderr
        assert "Traceback" not in done.stderr
        if code and streams == ">&-":
            assert "standard output is closed" in done.stderr
    assert strict_json(out.read_text())["legs"]


@contextmanager
def small_disk(size: int):
    """No file may grow beyond a size, as on a disk that fills."""
    old, how = resource.getrlimit(resource.RLIMIT_FSIZE), signal.getsignal(signal.SIGXFSZ)
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, old[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, old)
        signal.signal(signal.SIGXFSZ, how)


@pytest.mark.parametrize(
    ("words", "size"),
    [((*PLAN, "--format", "netcdf", "-o", "{out}/p.nc"), 20_000),
     ((*PLAN, "--format", "html", "-o", "{out}/p.html"), 20_000),
     ((*COMPARE, "--format", "netcdf", "-o", "{out}/c.nc"), 20_000),
     ((*HINDCAST, "{out}/h.nc"), 5_000)],
)  # fmt: skip
def test_a_disk_that_fills(tmp_path, words, size) -> None:
    bench = Bench(tmp_path / "bench")
    with small_disk(size):
        ended = run_here(bench.words(words))
    assert ended.code == 2, ended.stderr
    assert "could not be written" in ended.stderr
    assert "Traceback" not in ended.stderr
    assert list(bench.out.iterdir()) == []


@pytest.mark.parametrize("form", ["json", "netcdf"])
def test_an_output_name_with_invalid_bytes(tmp_path, form) -> None:
    bench = Bench(tmp_path / "bench")
    bench.files["odd"] = bench.out / os.fsdecode(b"caf\xe9")
    ended = run_here(bench.words((*PLAN, "--format", form, "-o", "{odd}")))
    assert "Traceback" not in ended.stderr
    if form == "json":
        assert ended.code == 0
        assert strict_json(bench.files["odd"].read_text())["legs"]
    else:
        assert ended.code == 2
        assert "not UTF-8" in ended.stderr
        assert list(bench.out.iterdir()) == []


def test_outputs_are_refused_before_inputs_are_read(tmp_path) -> None:
    """An output that cannot be costs no reading of the forecast."""
    bench = Bench(tmp_path / "bench")
    run_here(bench.words(PLAN))
    began = time.perf_counter()
    ended = run_here(bench.words((*PLAN, "-o", "{out}/none/plan.txt")))
    assert ended.code == 2
    assert time.perf_counter() - began < 1.0
