"""Rewriting a hindcast changes the layout and nothing else."""

from pathlib import Path

import numpy as np
import pytest

from passage.errors import ForecastError, OutputError
from passage.inputs.forecast import Area
from passage.inputs.hindcast.hindcast import (
    cells_of,
    corners_of,
    file_chunks,
    open_hindcast,
    read_cells,
)
from passage.inputs.hindcast.prepare import prepare_hindcast

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
WAVES, WIND = SAMPLES / "biscay_waves.nc", SAMPLES / "biscay_wind.nc"
LAT, LON = np.array([44.0, 45.1, 46.9]), np.array([-8.0, -7.3, -5.1])


def fields(paths):
    with open_hindcast(paths) as opened:
        found = {}
        for name, group in opened.groups.items():
            cells = cells_of(group, [corners_of(group, LAT, LON)])
            found[name] = read_cells(group, cells, (0, group.time_s.size))
            found[f"{name} time"] = group.time_s
        return found, {n: file_chunks(g) for n, g in opened.groups.items()}


@pytest.mark.parametrize("suffix", [".nc", ".zarr"])
@pytest.mark.parametrize("file", [WAVES, WIND], ids=["south first", "north first"])
def test_values_are_the_same(tmp_path, suffix, file):
    files = [WAVES] if file is WAVES else [WAVES, WIND]
    made = tmp_path / f"made{suffix}"
    prepare_hindcast([WAVES], made)
    others = [made] if file is WAVES else [made, WIND]
    before, _ = fields(files)
    after, chunks = fields(others)
    assert before.keys() == after.keys()
    for name, values in before.items():
        np.testing.assert_array_equal(after[name], values)
    assert chunks["waves"][1:] == (4, 4)


def test_area_keeps_the_box_and_a_cell_around(tmp_path):
    made = tmp_path / "box.nc"
    prepare_hindcast([WAVES], made, area=Area(43.5, 47.5, -9.0, -4.5))
    before, _ = fields([WAVES])
    after, _ = fields([made])
    np.testing.assert_array_equal(after["waves"], before["waves"])
    with open_hindcast([made]) as opened:
        grid = opened.groups["waves"].grid
        assert grid.lat_deg[0] == 43.25
        assert grid.lat_deg[-1] == 47.75
    with pytest.raises(ForecastError, match="nothing in the area"):
        prepare_hindcast([WAVES], tmp_path / "none.nc", area=Area(10.0, 11.0, 0.0, 1.0))


def test_existing_output_is_kept(tmp_path):
    for name in ("kept.nc", "kept.zarr"):
        made = tmp_path / name
        prepare_hindcast([WAVES], made)
        with pytest.raises(OutputError, match="exists already"):
            prepare_hindcast([WAVES], made)
        prepare_hindcast([WAVES], made, force=True)
    other = tmp_path / "folder.zarr"
    other.mkdir()
    (other / "precious.txt").write_text("mine")
    with pytest.raises(OutputError, match="is not a Zarr store"):
        prepare_hindcast([WAVES], other, force=True)
    assert (other / "precious.txt").read_text() == "mine"
