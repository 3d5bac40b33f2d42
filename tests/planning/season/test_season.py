"""A season: the same numbers as a plan, statistics, and runs that lose nothing."""

import json
import os
import pickle
import shutil
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from passage.cli import season_parts
from passage.errors import ForecastError, OutputError, PassageError
from passage.planning.plan.plan import PlanOptions, plan_files
from passage.planning.season import blocks as blocks_module
from passage.planning.season import work as season_work
from passage.planning.season.calendar import months_of
from passage.planning.season.departures import OF_GAPS, STATUS, WITHIN
from passage.planning.season.heel import transfer_price
from passage.planning.season.jobs import make_blocks
from passage.planning.season.season import run_season
from passage.planning.season.setup import (
    SeasonFiles,
    SeasonOptions,
    departure_times,
    open_data,
    setup,
)
from passage.planning.season.stats import waits_h

ROOT = Path(__file__).parents[3]
SAMPLES = ROOT / "sample_forecasts"
FORECASTS = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
FILES = SeasonFiles(
    (str(SAMPLES / "direct.csv"), str(SAMPLES / "eastern.csv")),
    str(SAMPLES / "brambling.toml"),
    tuple(map(str, FORECASTS)),
)
START = np.datetime64("2026-03-12T18:00").astype("datetime64[s]").astype(float)
OPTIONS = SeasonOptions(START, START + 5 * 86400.0, 6.0)


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    folder = tmp_path_factory.mktemp("season")
    return run_season(FILES, OPTIONS, folder / "run")


def test_one_departure_is_the_plan(season):
    """The rows of a covered departure against `passage plan` for the same time."""
    for p, route in enumerate(("direct.csv", "eastern.csv")):
        known = np.flatnonzero(season.numbers["status"][p] == 0)
        assert known.size > 3
        at = int(known[known.size // 2])
        plan = plan_files(
            SAMPLES / route,
            SAMPLES / "brambling.toml",
            FORECASTS,
            PlanOptions(season.departures_s[at]),
        )
        totals, legs = plan.totals, plan.legs

        def ours(name, p=p, at=at):
            return float(season.numbers[name][p, at])

        assert ours("hours") == pytest.approx(totals["hours"], abs=1e-3)
        # Fuel hangs on roll by the fins' drag alone, on waves by the table of resistance.
        assert ours("fuel_l") == pytest.approx(totals["fuel_l"], rel=1e-3)
        for name in ("waves", "wind", "fins_active", "fins_offset"):
            total = totals[f"fuel_{name}_l"]
            # A season holds weight and GM, a plan follows them: that is in the fins' work.
            close = 0.02 if name.startswith("fins") else 0.01
            assert ours(f"fuel_{name}_l") == pytest.approx(total, rel=close, abs=0.5)
        hours = np.array([leg["hours"] for leg in legs])
        for kind in ("centred", "active"):
            each = np.array([leg[f"roll_{kind}_significant_deg"] for leg in legs])
            mean = float(np.sum(each * hours) / hours.sum())
            name = f"roll_{kind}_significant_deg"
            # Tables err by up to 0.6 %; a season holds weight and GM, a plan follows them.
            assert ours(f"mean_{name}") == pytest.approx(mean, rel=0.02)
            assert ours(f"worst_leg_{name}") == pytest.approx(each.max(), rel=0.02)
        for name in (
            "motion_sickness_percent",
            "lateral_acceleration_rms_g",
            "vertical_acceleration_rms_g",
            "significant_height_m",
        ):
            value = totals[f"worst_leg_{name}"]
            # Lateral acceleration follows roll.
            close = 0.02 if name == "lateral_acceleration_rms_g" else 0.005
            assert ours(f"worst_leg_{name}") == pytest.approx(value, rel=close)
        assert ours("fin_hours_active") == pytest.approx(totals["fin_hours_active"], abs=0.4)
        assert ours("fin_travel_deg") == pytest.approx(totals["fin_travel_deg"], rel=0.02)
        within = season.numbers["within_limits"][p, at] == WITHIN
        assert within == (not plan.limits_exceeded)


def test_departures_off_the_data_are_counted_apart(season):
    status = season.numbers["status"]
    words = {STATUS[code] for code in np.unique(status)}
    assert {"ok", "before_forecast", "after_forecast"} <= words
    off = status != 0
    for name, values in season.numbers.items():
        if values.dtype == np.float32 and name not in ("fin_at_limit_percent", *OF_GAPS):
            assert np.isnan(values[off]).all()
            assert np.isfinite(values[~off]).all()
    assert (season.numbers["within_limits"][off] != WITHIN).all()
    for record in season.records:
        assert record["covered"] + record["off_data"] == record["departures"]
        assert record["judged"] <= record["covered"]


def test_records_are_percentiles_of_the_rows(season):
    year = next(r for r in season.records if r["month"] == 0 and r["route"] == "direct")
    fuel = season.numbers["fuel_l"][0]
    fuel = fuel[np.isfinite(fuel)].astype(float)
    np.testing.assert_allclose(year["fuel_l"], np.percentile(fuel, [10, 25, 50, 75, 90]), rtol=1e-7)
    price = season.transfer.litres
    cheaper = season.numbers["fuel_for_list_l"][0]
    cheaper = cheaper[np.isfinite(cheaper)]
    share = 100.0 * np.mean(cheaper < price)
    assert year["fins_cheaper_percent"] == pytest.approx(share, rel=1e-6)


def test_exact_season_agrees_with_tables(season, tmp_path):
    options = replace(OPTIONS, exact=True, every_h=24.0)
    slow = run_season(FILES, options, tmp_path / "exact")
    pick = np.searchsorted(season.departures_s, slow.departures_s)
    np.testing.assert_array_equal(slow.numbers["status"], season.numbers["status"][:, pick])
    for name, tolerance in (("fuel_l", 1e-3), ("mean_roll_active_significant_deg", 0.006)):
        np.testing.assert_allclose(
            season.numbers[name][:, pick], slow.numbers[name], rtol=tolerance, equal_nan=True
        )


def test_total_sea_alone_agrees_with_the_exact_way(tmp_path):
    """Without partitions the peakedness goes with the steepness, from point to point.

    The grid has no sea about the arrival: the last 15 miles are sheltered, as asked.
    """
    import xarray as xr

    with xr.open_dataset(FORECASTS[0]) as whole:
        sea = whole[["hs", "tp", "wave_from"]].load()
        sea.where((sea.latitude > 43.6) | (sea.longitude < -9.0)).to_netcdf(tmp_path / "total.nc")
    files = replace(
        FILES,
        routes=FILES.routes[1:],
        forecasts=(str(tmp_path / "total.nc"), str(FORECASTS[1])),
    )
    options = replace(OPTIONS, every_h=24.0, harbour_nm=15.0)
    fast = run_season(files, options, tmp_path / "fast")
    assert any(note.startswith("harbour: within 15 nm") for note in fast.notes)
    assert fast.provenance["harbour"] == {"within_nm": 15.0, "sea": "sheltered"}
    with pytest.raises(PassageError, match="--exact"):
        run_season(files, replace(options, harbour_sea="nearest"), tmp_path / "none")
    slow = run_season(files, replace(options, exact=True), tmp_path / "slow")
    np.testing.assert_array_equal(fast.numbers["status"], slow.numbers["status"])
    assert (fast.numbers["status"] == 0).any()
    for name, tolerance in (("fuel_l", 1e-3), ("mean_roll_active_significant_deg", 0.006)):
        np.testing.assert_allclose(
            fast.numbers[name], slow.numbers[name], rtol=tolerance, equal_nan=True
        )


def test_no_departure_on_the_data_is_an_error_of_the_forecast(tmp_path):
    options = replace(OPTIONS, from_s=START + 90 * 86400.0, to_s=START + 90 * 86400.0)
    with pytest.raises(ForecastError, match="run past the end of the data") as found:
        run_season(FILES, options, tmp_path / "run")
    assert found.value.exit_code == 4


def test_a_run_that_is_stopped_says_how_to_go_on(tmp_path, monkeypatch, capsys):
    (tmp_path / "blocks").mkdir()
    (tmp_path / "blocks" / "000000.blk").touch()

    def end(code):
        raise SystemExit(code)

    monkeypatch.setattr(season_parts.os, "_exit", end)
    before = signal.getsignal(signal.SIGTERM)
    with pytest.raises(SystemExit) as found, season_parts.explained_when_stopped(tmp_path):
        signal.raise_signal(signal.SIGTERM)
    assert found.value.code == 128 + signal.SIGTERM
    assert signal.getsignal(signal.SIGTERM) is before
    words = capsys.readouterr().err
    assert "1 finished part" in words
    assert "same command again" in words


def test_waits_by_hand():
    hour = 3600.0 * np.array([0.0, 6.0, 12.0, 18.0, 24.0, 30.0])
    wait, open_end = waits_h(hour, [1, 0, 0, 1, 0, -1])
    # Within: no wait. 6 h waits for 18 h; 24 h waits at least until what is not known.
    np.testing.assert_array_equal(wait[:5], [0.0, 12.0, 6.0, 0.0, 6.0])
    assert np.isnan(wait[5])
    assert open_end.tolist() == [False, False, False, False, True, False]
    wait, open_end = waits_h(hour[:2], [0, 0])
    np.testing.assert_array_equal(wait, [6.0, 0.0])
    assert open_end.all()


def test_months_and_departures():
    leap = np.datetime64("2024-02-29T23:00").astype("datetime64[s]").astype(float)
    assert months_of([leap, leap + 7200.0]).tolist() == [2, 3]
    times = departure_times(leap, leap + 86400.0, 6.0)
    assert times.size == 5
    with pytest.raises(PassageError, match="is after --to"):
        departure_times(leap, leap - 1.0, 6.0)


def test_transfer_price_by_hand():
    """Moment of 1.5 deg at 550 t and GM 1 m over 2 x 2.8 m x 0.845; crew 25 min at 45/h."""
    vessel = setup(FILES, OPTIONS).passages[0].vessel
    price = transfer_price(vessel)
    amount = 550.0 * np.tan(np.deg2rad(1.5)) / (5.6 * 0.845)
    crew = 45.0 * 25.0 / 60.0 / 1.10
    pump = amount / 12.0 * 3.0 * vessel.hotel.generator_specific_fuel_g_per_kwh / 845.0
    assert price.litres == pytest.approx(crew + pump, rel=1e-6)
    assert "fuel starboard to fuel port" in price.words
    upright = replace(vessel, loading=replace(vessel.loading, list_deg=0.0))
    assert transfer_price(upright).litres is None


def test_blocks_are_the_same_however_they_run(season, tmp_path):
    made = setup(FILES, OPTIONS)
    with open_data(made) as sea:
        size = season_work.block_departures(made, sea)
    jobs, tables = make_blocks(made, size)
    assert len(jobs) > 8
    assert tables == []  # without a folder there is nowhere to keep them
    again = run_season(FILES, OPTIONS, tmp_path / "two", processes=2)
    for name, values in season.numbers.items():
        assert values.tobytes() == again.numbers[name].tobytes()


def test_tables_of_the_run_serve_another_process(season, tmp_path):
    """What one process integrated gives another the same rows, to the bit, unbuilt."""
    folder = tmp_path / "run"
    run_season(FILES, OPTIONS, folder)
    made = setup(FILES, OPTIONS)
    with open_data(made) as sea:
        size = season_work.block_departures(made, sea)
        shapes = season_work.table_shapes(made, sea)
    mark = json.loads((folder / "manifest.json").read_text())["fingerprint"]
    blocks, first = make_blocks(made, size, shapes, folder, mark)
    assert [b.job.speed_m_s for b in first] == list(made.speeds_m_s)
    kept = blocks_module.read_block(folder, blocks[0].number, mark)
    # A worker that starts now: nothing cached, and integrating is forbidden to it.
    script = (
        "import sys, pickle; from passage.planning.season import work as w\n"
        "from passage.physics.waves.table import SpectralTable as T\n"
        "def no(*_): raise AssertionError('integrated')\n"
        "T._append = no\n"
        "pickle.dump(w.work(pickle.load(sys.stdin.buffer)), sys.stdout.buffer)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        input=pickle.dumps(blocks[0].job),
        stdout=subprocess.PIPE,
        check=True,
    )
    rows = pickle.loads(done.stdout)  # our own child
    assert kept is not None
    assert {n: v.tobytes() for n, v in rows.items()} == {n: v.tobytes() for n, v in kept.items()}


def test_bad_file_is_listed_and_the_rest_goes_on(tmp_path, monkeypatch):
    """A file that breaks in the middle costs its own blocks only."""
    from passage.errors import ForecastError

    real = season_work.read_cells

    def broken(group, cells, hours):
        if group.name == "waves" and hours[0] > 20:
            raise ForecastError("waves.nc: variable 'hs' cannot be read.")
        return real(group, cells, hours)

    monkeypatch.setattr(season_work, "read_cells", broken)
    said = []
    result = run_season(FILES, OPTIONS, tmp_path / "run", say=said.append)
    assert result.report.bad
    assert all("cannot be read" in why for why in result.report.bad.values())
    assert len(said) == len(result.report.bad)
    assert (result.numbers["status"] == 0).any()
    assert (result.numbers["status"] == -1).any()
    monkeypatch.undo()
    # The file is put right: the same command does what is missing.
    mended = run_season(FILES, OPTIONS, tmp_path / "run")
    assert not mended.report.bad
    assert mended.report.done == len(result.report.bad)


def test_other_options_need_another_folder(season, tmp_path):
    run_season(FILES, replace(OPTIONS, every_h=48.0), tmp_path / "run")
    with pytest.raises(OutputError, match="other inputs or options"):
        run_season(FILES, replace(OPTIONS, every_h=24.0), tmp_path / "run")


def arguments(folder, *more):
    return [
        sys.executable,
        "-c",
        "from passage.cli.main import main; main()",
        "season",
        *FILES.routes,
        "--vessel",
        FILES.vessel,
        *(part for path in FILES.forecasts for part in ("--forecast", path)),
        "--from",
        "2026-03-13",
        "--to",
        "2026-03-16",
        "--every",
        "2",
        "-o",
        str(folder),
        *more,
    ]


def environment():
    return {**os.environ, "PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1"}


def run_command(folder, *more):
    return subprocess.run(
        arguments(folder, *more), env=environment(), capture_output=True, text=True, check=False
    )


def test_command_writes_everything_and_dry_run_nothing(tmp_path):
    folder = tmp_path / "run"
    dry = run_command(folder, "--dry-run")
    assert dry.returncode == 0, dry.stderr
    assert "points in" in dry.stdout
    assert "memory:" in dry.stdout
    assert "disk:" in dry.stdout
    assert not folder.exists()
    done = run_command(folder, "--format", "html")
    assert done.returncode == 0, done.stderr
    names = {path.name for path in folder.iterdir()}
    assert {"departures.nc", "statistics.json", "statistics.csv", "season.html"} <= names
    record = json.loads((folder / "statistics.json").read_text())
    assert record["statistics"][0]["departures"] == 48
    page = (folder / "season.html").read_text()
    assert "Past" in page or "past" in page
    table = run_command(folder)
    assert table.returncode == 0
    assert "blocks are already done" in table.stderr
    assert "within %" in table.stdout
    strict = run_command(folder, "--strict")
    assert strict.returncode == 5


def same_result(one, two):
    import netCDF4

    with netCDF4.Dataset(one / "departures.nc") as a, netCDF4.Dataset(two / "departures.nc") as b:
        for name in a.variables:
            first, second = a[name][:], b[name][:]
            if first.dtype.kind in "fi":
                first, second = np.ma.filled(first), np.ma.filled(second)
                assert first.tobytes() == second.tobytes()
    # All but the provenance of the moment is the same.
    assert (one / "statistics.csv").read_bytes() == (two / "statistics.csv").read_bytes()


@pytest.mark.slow
def test_killed_at_twenty_moments_ends_identical(tmp_path):
    whole = tmp_path / "whole"
    start = time.monotonic()
    assert run_command(whole).returncode == 0
    takes = time.monotonic() - start
    rng = np.random.default_rng(11)
    folder = tmp_path / "killed"
    kept = []
    for _ in range(20):
        process = subprocess.Popen(
            arguments(folder),
            env=environment(),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        time.sleep(rng.uniform(0.2, 1.0) * takes)
        process.send_signal(signal.SIGKILL)
        process.wait()
        blocks = folder / "blocks"
        kept.append(len(list(blocks.glob("*.blk"))) if blocks.exists() else 0)
        if kept[-1] >= 16:
            # All there: begin anew, so that every kill falls into a run.
            shutil.rmtree(folder)
    assert max(kept) > 0
    assert run_command(folder).returncode == 0
    same_result(whole, folder)
    left = [path.name for path in (folder / "blocks").iterdir() if path.suffix != ".blk"]
    assert left == []


@pytest.mark.slow
def test_dask_worker_lost_ends_identical(tmp_path):
    distributed = pytest.importorskip("distributed")
    import warnings

    whole = run_season(FILES, replace(OPTIONS, every_h=1.0), tmp_path / "whole")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with distributed.LocalCluster(
            n_workers=2,
            threads_per_worker=1,
            processes=True,
            dashboard_address=None,
            silence_logs=50,
        ) as cluster:
            pids = [worker.process.pid for worker in cluster.workers.values()]
            killed = []

            def progress(done, total):
                if done >= 2 and not killed:
                    os.kill(pids[0], signal.SIGKILL)
                    killed.append(done)

            result = run_season(
                FILES,
                replace(OPTIONS, every_h=1.0),
                tmp_path / "dask",
                scheduler=cluster.scheduler_address,
                progress=progress,
            )
    assert killed
    assert not result.report.bad
    for name, values in whole.numbers.items():
        assert values.tobytes() == result.numbers[name].tobytes()
