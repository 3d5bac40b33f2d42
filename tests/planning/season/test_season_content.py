"""What a process keeps between runs goes by what the files say, not by their names."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import netCDF4
import numpy as np
import pytest

from passage.errors import PassageError
from passage.planning.plan.plan import PlanOptions, plan_files
from passage.planning.season.jobs import make_blocks
from passage.planning.season.season import run_season
from passage.planning.season.setup import SeasonFiles, SeasonOptions, open_data, setup
from passage.planning.season.work import table_shapes, work

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
NAMES = ("direct.csv", "brambling.toml", "biscay_waves.nc", "biscay_wind.nc", "biscay_current.nc")
START = np.datetime64("2026-03-13T06:00").astype("datetime64[s]").astype(float)
HEAVIER = ("\ndisplacement_t = 550.0", "\ndisplacement_t = 600.0")
OPTIONS = SeasonOptions(START, START + 86400.0, 24.0)


@pytest.fixture
def files(tmp_path) -> SeasonFiles:
    """Copies of the sample that a test may change."""
    for name in NAMES:
        shutil.copy(SAMPLES / name, tmp_path / name)
    route, vessel, *forecasts = (str(tmp_path / name) for name in NAMES)
    return SeasonFiles((route,), vessel, tuple(forecasts))


def edit(path: str, old: str, new: str) -> None:
    text = Path(path).read_text(encoding="utf-8")
    assert old in text
    Path(path).write_text(text.replace(old, new), encoding="utf-8")


def fuel(files: SeasonFiles, folder: Path) -> np.ndarray:
    return run_season(files, OPTIONS, folder).numbers["fuel_l"]


def in_new_names(files: SeasonFiles, folder: Path) -> SeasonFiles:
    """The same content under names that no run has seen."""
    folder.mkdir()

    def copy(path: str) -> str:
        return str(shutil.copy(path, folder / Path(path).name))

    return SeasonFiles(
        tuple(map(copy, files.routes)), copy(files.vessel), tuple(map(copy, files.forecasts))
    )


def test_an_edited_vessel_gives_new_numbers_in_the_same_process(files, tmp_path) -> None:
    before = fuel(files, tmp_path / "before")
    edit(files.vessel, *HEAVIER)
    after = fuel(files, tmp_path / "after")
    truth = fuel(in_new_names(files, tmp_path / "new"), tmp_path / "truth")
    assert np.nanmin(np.abs(after / before - 1.0)) > 0.005
    np.testing.assert_array_equal(after, truth)


def test_an_edited_route_gives_new_numbers_in_the_same_process(files, tmp_path) -> None:
    fuel(files, tmp_path / "before")
    lines = Path(files.routes[0]).read_text(encoding="utf-8").splitlines()
    Path(files.routes[0]).write_text("\n".join(lines[:-1]) + "\n", encoding="utf-8")
    after = fuel(files, tmp_path / "after")
    truth = fuel(in_new_names(files, tmp_path / "new"), tmp_path / "truth")
    np.testing.assert_array_equal(after, truth)


def test_another_sea_under_the_same_name_is_read(files, tmp_path) -> None:
    fuel(files, tmp_path / "before")
    path = Path(files.forecasts[0])
    other = Path(shutil.copy(path, tmp_path / "other.nc"))
    with netCDF4.Dataset(other, "r+") as data:
        for variable in data.variables.values():
            if "height" in getattr(variable, "standard_name", ""):
                variable.scale_factor = variable.scale_factor / 2
    other.replace(path)
    after = fuel(files, tmp_path / "after")
    truth = fuel(in_new_names(files, tmp_path / "new"), tmp_path / "truth")
    np.testing.assert_array_equal(after, truth)


def test_a_worker_refuses_a_vessel_changed_after_the_run_began(files, tmp_path) -> None:
    made = setup(files, OPTIONS)
    with open_data(made) as sea:
        shapes = table_shapes(made, sea)
    blocks, tables = make_blocks(made, 1, shapes, tmp_path, "mark")
    edit(files.vessel, *HEAVIER)
    for block in (*blocks, *tables):
        with pytest.raises(PassageError, match="changed after the run began"):
            work(block.job)
    edit(files.vessel, *reversed(HEAVIER))
    assert work(replace(blocks[0].job, folder="", tables=()))["fuel_l"].shape == (1, 1)


@pytest.mark.parametrize("method", ["stawave-1", "kreitner"])
def test_the_formula_for_waves_that_was_asked_for_is_used(files, tmp_path, method) -> None:
    """No table holds it: the season computes it as a plan does."""
    made = run_season(files, replace(OPTIONS, wave_method=method), tmp_path / "run")
    truth = plan_files(
        Path(files.routes[0]),
        Path(files.vessel),
        [Path(path) for path in files.forecasts],
        PlanOptions(START, wave_method=method),
    )
    assert made.numbers["fuel_waves_l"][0, 0] == pytest.approx(
        truth.totals["fuel_waves_l"], rel=1e-5
    )
    usual = plan_files(
        Path(files.routes[0]),
        Path(files.vessel),
        [Path(path) for path in files.forecasts],
        PlanOptions(START),
    )
    assert abs(usual.totals["fuel_waves_l"] / truth.totals["fuel_waves_l"] - 1.0) > 0.02
