"""Only what is needed is read: a large file costs little memory."""

from __future__ import annotations

import subprocess
import sys

import numpy as np
import pytest

SIZE = (40, 721, 1440)  # 40 steps of a 0.25 degree grid round the earth


@pytest.fixture(scope="module")
def large(tmp_path_factory, maker):
    """About 250 MB: three variables in 16 bits, uncompressed, a step in a chunk."""
    path = tmp_path_factory.mktemp("large") / "large.nc"
    lat = np.linspace(90.0, -90.0, SIZE[1])
    lon = np.arange(0.0, 360.0, 0.25)
    import netCDF4

    with netCDF4.Dataset(path, "w") as nc:
        for name, values, unit in (
            ("time", 3.0 * np.arange(SIZE[0]), "hours since 2026-03-14"),
            ("latitude", lat, "degrees_north"),
            ("longitude", lon, "degrees_east"),
        ):
            nc.createDimension(name, values.size)
            nc.createVariable(name, "f8", (name,)).units = unit
            nc[name][:] = values
        for name, unit, base in (("swh", "m", 2.0), ("pp1d", "s", 9.0), ("mwd", "degree", 250.0)):
            variable = nc.createVariable(
                name, "i2", ("time", "latitude", "longitude"), fill_value=-32767
            )
            variable.units = unit
            variable.scale_factor, variable.add_offset = 0.001, base
            variable.set_auto_maskandscale(False)
            for i in range(SIZE[0]):
                variable[i] = np.full(SIZE[1:], i, "i2")
    return path


SCRIPT = """
import resource, sys
import numpy as np
from passage.inputs.forecast import Area, open_forecast
import passage.inputs.forecast.systems
base = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
lat = np.linspace({lat})
lon = np.linspace({lon})
with open_forecast({path!r}{area}) as forecast:
    t = np.linspace(forecast.time_from_s, forecast.time_to_s, lat.size)
    got = forecast.sample(lat, lon, t)
    for i in range(0, lat.size, 50):
        one = forecast.sample(lat[i], lon[i], t[i])
        assert abs(one.height_m[0] - got.height_m[i, 0]) < 1e-6
    want = 2.0 + 0.001 * (t - t[0]) / 10800.0
    assert np.abs(got.height_m[:, 0] - want).max() < 1e-5
    assert (got.coverage == 0).all()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
print(peak - base)
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("lat", "lon", "area"),
    [
        # A passage in Biscay with the corridor given, and not given.
        ("43.5, 48.0, 300", "-8.0, -4.0, 300", ", area=Area(42.5, 49.0, -9.0, -3.0)"),
        ("43.5, 48.0, 300", "-8.0, -4.0, 300", ""),
        # A passage half round the earth across the antimeridian: no box is small.
        ("35.0, -35.0, 300", "120.0, 290.0, 300", ""),
    ],
)
def test_a_large_file_costs_little_memory(large, lat, lon, area) -> None:
    code = SCRIPT.format(lat=lat, lon=lon, area=area, path=str(large))
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    grown_mb = int(run.stdout) / 1024.0
    # The file decoded is 500 MB a copy; a block may take 128 MB, reading it some more.
    assert large.stat().st_size > 240e6
    assert grown_mb < 330.0
