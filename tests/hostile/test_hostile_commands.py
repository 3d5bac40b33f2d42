"""Broken files through the real command line: one message, the right code, nothing left."""

from __future__ import annotations

import io
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Sequence
from pathlib import Path

import netCDF4
import numpy as np
import pytest
from case import LEAVE, PLAN, Bench, Case, check
from fuzz_base import ROUTE, strict_json
from fuzz_driver import environment
from fuzz_text import VESSEL_TEXT, log_text

PROGRAM = [sys.executable, "-c", "from passage.cli.main import main; main()"]


def run(*words, env=None, before=()) -> subprocess.CompletedProcess[str]:
    """A program of its own, for what only that can show."""
    return subprocess.run(
        [*before, *PROGRAM, *map(str, words)], capture_output=True, text=True, check=False,
        timeout=120, env=environment() | (env or {}), errors="surrogateescape",
    )  # fmt: skip


@pytest.fixture
def sound(tmp_path, maker):
    """Vessel, route and forecast that go together, in a folder of their own."""
    folder = tmp_path / "sound"
    folder.mkdir()
    (folder / "vessel.toml").write_text(VESSEL_TEXT)
    (folder / "route.csv").write_text(ROUTE)
    maker.write_forecast(folder / "sea.nc", maker.sea() | maker.wind())
    return {"vessel": folder / "vessel.toml", "route": folder / "route.csv",
            "forecast": folder / "sea.nc"}  # fmt: skip


def plan_words(files: dict[str, Path], *more) -> list:
    return ["plan", files["route"], "--vessel", files["vessel"], "--forecast", files["forecast"],
            *LEAVE, *more]  # fmt: skip


def edited(old: str, new: str, text: str = VESSEL_TEXT) -> bytes:
    assert text.count(old) == 1, old
    return text.replace(old, new).encode()


#: Ten broken vessel files: what is in them, and words the message must have.
VESSELS = {
    "empty": (b"", ["empty"]),
    "not TOML": (b"[vessel\nname = 1\n", [":1"]),
    "binary": (b"\x00\x01\x02" * 50, ["not a text file"]),
    "latin-1": ("name = 'Bramblé'\n".encode("latin-1"), [":1", "UTF-8"]),
    "negative draught": (edited("draught_m = 2.8 ", "draught_m = -2.8 "), ["draught_m", "m"]),
    "infinite beam": (edited("beam_waterline_m = 9.0", "beam_waterline_m = inf"),
                      ["beam_waterline_m", "inf"]),
    "no number": (edited("gm_m = 1.00", "gm_m = nan"), ["gm_m"]),
    "decimal comma": (edited("gm_m = 1.00", "gm_m = 1,00"), ["gm_m = 1,00", "1.00"]),
    "wrong key": (edited("draught_m = 2.8 ", "draft_m = 2.8 "), ["draft_m", "draught_m"]),
    "a key twice": (edited("gm_m = 1.00", "gm_m = 1.00\ngm_m = 1.00"), [":"]),
}  # fmt: skip
BOMB = '<?xml version="1.0"?><!DOCTYPE a [<!ENTITY a "xxxxxxxx">' + "".join(
    f'<!ENTITY {b} "{f"&{a};" * 10}">' for a, b in zip("abcdefgh", "bcdefghi", strict=True)
) + "]><gpx>&i;</gpx>"  # fmt: skip
OUTSIDE = '<!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]><gpx><rte>&x;</rte></gpx>'


def zipped(**members: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("_", "/"), content)
    return out.getvalue()


#: Ten broken routes.
ROUTES = {
    "empty": (b"", ["empty"]),
    "95 north": (b"name,lat,lon\nA,95 N,-7\nB,48,-7\n", [":2", "95"]),
    "minutes of 60": (b"name,lat,lon\nA,48 60.0 N,7 00.0 W\nB,48,-7\n", [":2", "60"]),
    "decimal commas": (b"name;lat;lon\nA;48,5;-7,0\nB;49,0;-6,5\n", [":2", "decimal point"]),
    "one point": (b"name,lat,lon\nA,48,-7\n", ["two"]),
    "no columns": (b"this,is,no\nroute,at,all\n", [":1"]),
    "bomb": (BOMB.encode(), ["document type"]),
    "entity from outside": (OUTSIDE.encode(), ["document type"]),
    "zip that climbs": (zipped(**{".._a.rtz": b"<route/>"}), ["outside"]),
    "zip too large": (zipped(**{"a.rtz": b" " * 11_000_000}), ["larger than 10 MB"]),
}


def broken(part: str, ending: str, content: bytes):
    """The file of a part in a folder with a name that asks for trouble."""

    def put(bench: Bench) -> None:
        folder = bench.inputs / "mörk natt, à 3 h"
        folder.mkdir()
        bench.files[part] = folder / f"broken {part}{ending}"
        bench.files[part].write_bytes(content)

    return put


JSON = (*PLAN, "--format", "json", "-o", "{out}/plan.json")
CASES = [
    *(Case(f"vessel, {what}", JSON, 3, ("broken vessel.toml", *words),
           broken("vessel", ".toml", content)) for what, (content, words) in VESSELS.items()),
    *(Case(f"route, {what}", JSON, 3, ("broken route.csv", *words),
           broken("route", ".csv", content)) for what, (content, words) in ROUTES.items()),
]  # fmt: skip


@pytest.mark.parametrize("case", CASES, ids=str)
def test_broken_vessels_and_routes(tmp_path, case: Case) -> None:
    check_refusal(case, tmp_path)


def check_refusal(case: Case, tmp_path: Path) -> None:
    """One message: a line for each thing wrong, nothing repeated, nothing endless."""
    ended = check(case, Bench(tmp_path / "bench"))
    assert ended.stdout == ""
    assert_refused(ended.stderr)


def assert_refused(said: str, words: Sequence[str] = ()) -> None:
    assert "Traceback" not in said
    assert said.startswith("passage: ")
    lines = said.strip().splitlines()
    assert len(lines) == len(set(lines)) <= 21
    for word in words:
        assert word in said, said


def change(path: Path, do) -> bytes:
    with netCDF4.Dataset(path, "a") as nc:
        nc.set_auto_maskandscale(False)
        do(nc)
    return path.read_bytes()


def broken_forecast(what: str, path: Path, maker) -> tuple[bytes, list[str]]:
    """Ten broken forecasts."""
    write = maker.write_forecast
    if what == "empty":
        return b"", ["empty"]
    if what == "web page":
        return b"<!doctype html><p>Session expired", ["web page"]
    if what == "cut":
        return write(path, maker.sea()).read_bytes()[:5000], ["cut short"]
    if what == "95 north":
        return write(path, lat=[47.0, 95.0]).read_bytes(), ["95", "beyond 90"]
    if what == "other century":
        content = write(path, start="1926-03-14T00:00").read_bytes()
        return content, ["1926", "unit is probably wrong"]
    if what == "hour twice":
        return write(path, hours=[0.0, 3.0, 3.0, 6.0]).read_bytes(), ["03:00Z twice"]
    if what == "no unit":
        write(path)
        return change(path, lambda nc: nc["hs"].delncattr("units")), ["'hs'", "no unit"]
    if what == "fill as data":
        write(path)
        return change(path, lambda nc: nc["hs"].__setitem__((1, 2, 2), -999.0)), [
            "'hs'", "-999 m", "49.000, -7.000", "2026-03-14T03:00Z",
        ]  # fmt: skip
    if what == "to or from":
        sea = maker.sea()
        sea["WAVDIR"] = maker.Made(270.0, "degree", attrs={"long_name": "wave direction"})
        del sea["mdir"]
        return write(path, sea).read_bytes(), ["WAVDIR", "from", "to"]
    assert what == "elsewhere"
    return write(path, lat=np.arange(10.0, 12.0, 0.5)).read_bytes(), ["10.00", "covers"]


FORECASTS = ("empty", "web page", "cut", "95 north", "other century", "hour twice", "no unit",
             "fill as data", "to or from", "elsewhere")  # fmt: skip


@pytest.mark.parametrize("what", FORECASTS)
def test_broken_forecasts(tmp_path, maker, what) -> None:
    content, words = broken_forecast(what, tmp_path / "made.nc", maker)
    put = broken("sea", ".nc", content)
    check_refusal(Case(what, JSON, 4, ("broken sea.nc", *words), put), tmp_path)


#: Broken logs and decay records.
LOGS = {
    "empty": (b"", ["empty"]),
    "decimal commas": (log_text().replace(".", ",").encode(), ["decimal"]),
    "speed of nothing": (b"time,speed\n2026-03-02T08:30Z,11\n", ["speed_through_water_kn"]),
    "no zone": (b"time,speed_over_ground_kn\n2026-03-02T08:30,11\n", [":2", "zone"]),
    "other century": (b"time,speed_over_ground_kn\n1926-03-02T08:30Z,11\n", [":2", "1926"]),
}


@pytest.mark.parametrize("what", LOGS)
def test_broken_logs(tmp_path, what) -> None:
    content, words = LOGS[what]
    command = ("calibrate", "{log}", "--vessel", "{vessel}", "-o", "{out}/new.toml")
    put = broken("log", ".csv", content)
    check_refusal(Case(what, command, 3, ("broken log.csv", *words), put), tmp_path)


@pytest.mark.parametrize("part", ["vessel", "route", "sea"])
@pytest.mark.parametrize("name", ["nothing here", "", "x" * 300])
def test_missing_files_folders_and_long_names(tmp_path, part, name) -> None:
    word = {"nothing here": "does not exist", "": "is a folder"}.get(name, "too long")
    if part == "sea" and not name:
        word = "has no forecast file in it"  # a folder of forecasts is allowed

    def put(bench: Bench) -> None:
        empty = bench.inputs / "empty folder"
        empty.mkdir()
        bench.files[part] = empty / name

    # The part of a name that a message keeps: it is cut where it is endless.
    says = (word, name[:40] or "empty folder")
    check_refusal(Case(word, PLAN, 4 if part == "sea" else 3, says, put), tmp_path)


@pytest.mark.slow
@pytest.mark.parametrize("part", ["vessel", "route", "forecast"])
def test_pipes_and_unreadable_files_are_refused(tmp_path, sound, part) -> None:
    code = 4 if part == "forecast" else 3
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    done = run(*plan_words(sound | {part: pipe}))
    assert done.returncode == code
    assert_refused(done.stderr, [pipe.name, "file"])
    sound[part].chmod(0)
    done = run(*plan_words(sound), before=without_privileges())
    assert done.returncode == code
    assert_refused(done.stderr, [sound[part].name, "ermission"])


def without_privileges() -> list[str]:
    """Words before the command after which root may do no more than others."""
    if os.geteuid() != 0:
        return []
    if shutil.which("setpriv") is None:
        pytest.skip("setpriv is not here, and root may read everything")
    return ["setpriv", "--bounding-set=-dac_override,-dac_read_search"]


@pytest.mark.slow
def test_read_only_folders_serve_as_inputs_and_refuse_results(tmp_path, sound) -> None:
    folder = sound["route"].parent
    before = sorted(p.name for p in folder.iterdir())
    folder.chmod(0o555)
    try:
        done = run(*plan_words(sound, "--format", "json"), before=without_privileges())
        assert done.returncode == 0, done.stderr
        strict_json(done.stdout)
        out = folder / "plan.txt"
        done = run(*plan_words(sound, "-o", out), before=without_privileges())
        assert done.returncode == 2
        assert "plan.txt" in done.stderr
        assert "Traceback" not in done.stderr
    finally:
        folder.chmod(0o755)
    assert sorted(p.name for p in folder.iterdir()) == before


@pytest.mark.slow
@pytest.mark.parametrize(
    "name", ["mit Leerzeichen & é.csv", "-route.csv", "日本.csv", b"caf\xe9.csv"]
)
def test_names_with_spaces_foreign_letters_and_invalid_bytes(tmp_path, sound, name) -> None:
    path = tmp_path / os.fsdecode(name)
    shutil.copy(sound["route"], path)
    for form in ("json", "table")[: 2 if isinstance(name, bytes) else 1]:
        words = plan_words(sound | {"route": path}, "--format", form)
        done = run(*words, env={"PYTHONIOENCODING": "ascii", "LC_ALL": "C"})
        assert done.returncode == 0, done.stderr
        assert "Traceback" not in done.stderr
        if form == "json":
            assert strict_json(done.stdout)["legs"]


@pytest.mark.slow
def test_a_reader_that_stops_reading(tmp_path, sound) -> None:
    words = [*PROGRAM, *map(str, plan_words(sound, "--format", "json"))]
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run(
        words, stdout=write, stderr=subprocess.PIPE, env=environment(), timeout=60, check=False
    )
    os.close(write)
    assert b"Traceback" not in done.stderr


@pytest.mark.slow
def test_a_full_disk_is_reported(tmp_path, sound) -> None:
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    with Path("/dev/full").open("wb") as full:
        words = [*PROGRAM, *map(str, plan_words(sound))]
        done = subprocess.run(
            words, stdout=full, stderr=subprocess.PIPE, env=environment(), timeout=60, check=False
        )
    assert done.returncode == 2
    assert b"Traceback" not in done.stderr


@pytest.mark.slow
@pytest.mark.parametrize(("form", "kills"), [("json", 4), ("html", 3), ("netcdf", 3)])
def test_killed_at_any_moment_nothing_partial_is_left(tmp_path, sound, form, kills) -> None:
    out = tmp_path / "out"
    out.mkdir()
    target = out / f"plan.{form}"
    words = [*PROGRAM, *map(str, plan_words(sound, "--format", form, "-o", target))]
    started = time.monotonic()
    subprocess.run(words, env=environment(), check=True, capture_output=True, timeout=60)
    whole_s, whole = time.monotonic() - started, target.read_bytes()
    target.unlink()
    chance = random.Random(form)
    for _ in range(kills):
        child = subprocess.Popen(
            words, env=environment(), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        time.sleep(whole_s * chance.uniform(0.2, 1.05))
        child.send_signal(signal.SIGKILL)
        child.wait()
        left = [p for p in out.iterdir() if not p.name.startswith(".")]
        if form != "netcdf":
            # These have no name until they are whole; NetCDF may leave a hidden part.
            assert list(out.iterdir()) == left
        assert left in ([], [target])
        if left:
            assert abs(target.stat().st_size - len(whole)) < 100
            if form == "json":
                assert strict_json(target.read_text())["legs"]
            if form == "html":
                assert target.read_text().rstrip().endswith("</html>")
            target.unlink()


WRITER = """
import os, sys, time
from pathlib import Path
from passage.files import write_text
def slow(handle):
    print("writing", flush=True)
    time.sleep(60)
os.fsync = slow
write_text(Path(sys.argv[1]), "x" * 100_000, force=True)
"""


@pytest.mark.parametrize("old", [None, "the old one"])
def test_killed_in_the_middle_of_writing(tmp_path, old) -> None:
    """The moment that the test above can only hope to meet, held open by a slow disk."""
    target = tmp_path / "plan.txt"
    if old:
        target.write_text(old)
    child = subprocess.Popen(
        [sys.executable, "-c", WRITER, str(target)], env=environment(), stdout=subprocess.PIPE
    )
    assert child.stdout is not None
    assert child.stdout.readline() == b"writing\n"
    child.send_signal(signal.SIGKILL)
    child.wait()
    child.stdout.close()
    if not hasattr(os, "O_TMPFILE") or not Path("/proc/self/fd").exists():
        pytest.skip("no files without a name here")
    assert [p.name for p in tmp_path.iterdir()] == (["plan.txt"] if old else [])
    if old:
        assert target.read_text() == old


@pytest.mark.slow
def test_no_form_of_the_answer_has_nan_in_it(sound) -> None:
    """Part of the passage beyond the forecast, no fins and no wind: many values missing."""
    words = plan_words(sound, "--format", "json")
    words[words.index("2026-03-14T01:00Z")] = "2026-03-14T09:00Z"
    done = run(*words)
    assert done.returncode == 0, done.stderr
    answer = strict_json(done.stdout)
    assert any(value is None for leg in answer["legs"] for value in leg.values())
    assert json.dumps(answer, allow_nan=False)
