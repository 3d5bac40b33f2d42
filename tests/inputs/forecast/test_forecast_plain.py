"""Ordinary NetCDF files read directly: the same values as xarray gives, or left to it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import netCDF4
import numpy as np
import pytest
import xarray as xr

from passage.inputs.forecast.opener import open_file, quiet
from passage.inputs.forecast.plain import PlainDataset, open_plain

#: Type in the file and the attributes that say how it is kept.
ORDINARY: dict[str, tuple[str, dict[str, Any]]] = {
    "single": ("f4", {}),
    "double_filled": ("f8", {"_FillValue": np.float64(3.0)}),
    "filled_nan": ("f4", {"_FillValue": np.float32(np.nan)}),
    "filled_in_double": ("f4", {"missing_value": np.float64(0.1)}),
    "two_fills": ("f4", {"_FillValue": np.float32(2.0), "missing_value": np.float32(3.0)}),
    "whole": ("i4", {}),
    "whole_filled": ("i4", {"_FillValue": np.int32(3)}),
    "short_filled": ("i2", {"_FillValue": np.int16(3)}),
    "bytes": ("u1", {"_FillValue": np.uint8(3)}),
    "packed": ("i2", {"scale_factor": 0.01, "add_offset": 5.0, "_FillValue": np.int16(3)}),
    "packed_single": ("i2", {"scale_factor": np.float32(0.01), "_FillValue": np.int16(3)}),
    "packed_bare": ("i2", {"scale_factor": 0.01, "add_offset": 5.0}),
    "packed_long": ("i4", {"scale_factor": np.float32(0.01), "add_offset": np.float32(5.0)}),
    "offset_only": ("i2", {"add_offset": np.float32(5.0)}),
    "scaled_floats": ("f4", {"scale_factor": 0.01, "_FillValue": np.float32(3.0)}),
    "scaled_nan": ("f4", {"scale_factor": 0.01, "_FillValue": np.float32(np.nan)}),
}
UNUSUAL: dict[str, tuple[str, dict[str, Any]]] = {
    "unsigned": ("i1", {"_Unsigned": "true"}),
    "filled_by_text": ("f4", {"missing_value": "none"}),
    "scaled_by_text": ("i2", {"scale_factor": "0.01"}),
    "scaled_by_whole": ("i2", {"scale_factor": np.int16(2)}),
    "nan_for_whole": ("i2", {"missing_value": np.float32(np.nan)}),
    "big_endian": (">f4", {}),
    "words": ("S1", {}),
    "several_fills": ("f4", {"missing_value": np.array([1.0, 2.0], np.float32)}),
}


def _write(path: Path, kept: dict[str, tuple[str, dict[str, Any]]]) -> Path:
    rng = np.random.default_rng(5)
    with netCDF4.Dataset(path, "w") as out:
        out.title = "made up"
        out.createDimension("lat", 3)
        out.createDimension("lon", 4)
        mapping = out.createVariable("crs", "S1")
        mapping.grid_mapping_name = "latitude_longitude"
        for name, (kind, attrs) in kept.items():
            attrs = dict(attrs)
            fill = attrs.pop("_FillValue", None)
            endian = "big" if kind[0] == ">" else "native"
            variable = out.createVariable(
                name, kind, ("lat", "lon"), fill_value=fill, endian=endian
            )
            variable.set_auto_maskandscale(False)
            variable.set_auto_chartostring(False)
            variable.setncatts(attrs | {"units": "m", "valid_min": np.float32(0.0)})
            variable[:] = rng.integers(1, 5, (3, 4)).astype(kind)
    return path


@pytest.fixture(scope="module")
def ordinary(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return _write(tmp_path_factory.mktemp("plain") / "ordinary.nc", ORDINARY)


def test_as_xarray_reads_it(ordinary: Path) -> None:
    dataset = open_plain(ordinary)
    assert dataset is not None
    with quiet(), xr.open_dataset(ordinary, decode_coords=False) as other:
        assert dict(dataset.sizes) == dict(other.sizes)
        assert dataset.attrs == other.attrs
        assert list(dataset.variables) == list(other.variables)
        for name, (kind, _) in ORDINARY.items():
            one, two = dataset.variables[name], other.variables[name]
            assert (one.dims, one.shape, one.dtype) == (two.dims, two.shape, two.dtype), name
            assert one.attrs == two.attrs, name
            assert one.values.dtype == two.values.dtype, name
            np.testing.assert_array_equal(one.values, two.values, err_msg=name)
            for key in ("dtype", "scale_factor", "add_offset", "missing_value", "chunksizes"):
                assert one.encoding.get(key) == two.encoding.get(key), (name, key)
            assert np.dtype(kind) == one.encoding["dtype"]
    dataset.close()


def test_a_part_in_another_order(ordinary: Path) -> None:
    dataset = open_plain(ordinary)
    assert dataset is not None
    variable = dataset.variables["packed"]
    whole = variable.values
    np.testing.assert_array_equal(
        variable.isel({"lat": slice(1, 3)}).transpose("lon", "lat").values, whole[1:3].T
    )
    np.testing.assert_array_equal(variable.isel({"lat": 2}).transpose("lon").values, whole[2])
    assert variable.size == 12
    assert variable.sizes == {"lat": 3, "lon": 4}
    dataset.close()
    dataset.close()


@pytest.mark.parametrize("name", UNUSUAL)
def test_unusual_files_are_left_to_xarray(name: str, tmp_path: Path) -> None:
    path = _write(tmp_path / "unusual.nc", {name: UNUSUAL[name]})
    assert open_plain(path) is None
    opened = open_file(path)
    assert not isinstance(opened.datasets[0], PlainDataset)
    opened.close()


def test_many_files_are_left_to_xarray(ordinary: Path) -> None:
    few, many = open_file(ordinary), open_file(ordinary, many=True)
    assert isinstance(few.datasets[0], PlainDataset)
    assert not isinstance(many.datasets[0], PlainDataset)
    few.close()
    many.close()
