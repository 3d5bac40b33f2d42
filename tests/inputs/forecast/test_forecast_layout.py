"""The formats' own bookkeeping: whole files pass, cut or damaged ones do not."""

from __future__ import annotations

import netCDF4
import numpy as np
import pytest

from passage.errors import ForecastError
from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.layout import LayoutError, check_grib, check_netcdf3
from passage.inputs.forecast.opener import open_file

FORMS = ["NETCDF3_CLASSIC", "NETCDF3_64BIT_OFFSET", "NETCDF3_64BIT_DATA"]


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("n_variables", [1, 2, 3])
@pytest.mark.parametrize("unlimited", [False, True])
@pytest.mark.parametrize("n", [1, 3, 4])
def test_whole_files_pass_and_a_missing_value_is_found(
    tmp_path, form, n_variables, unlimited, n
) -> None:
    path = tmp_path / "a.nc"
    with netCDF4.Dataset(path, "w", format=form) as nc:
        nc.createDimension("time", None if unlimited else 5)
        nc.createDimension("x", n)
        for i in range(n_variables):
            nc.createVariable(f"v{i}", "i2", ("time", "x"))[:] = np.ones((5, n), "i2")
            nc[f"v{i}"].units = "m"
    check_netcdf3(path)
    data = path.read_bytes()
    # Up to 3 bytes at the end may be padding; the fourth from the end is data.
    path.write_bytes(data[:-4])
    with pytest.raises(LayoutError, match="promises"):
        check_netcdf3(path)


@pytest.mark.parametrize("at", [8, 12, 16])
def test_a_damaged_header_is_refused_at_once(make_forecast, at) -> None:
    path = make_forecast(form="NETCDF3_CLASSIC")
    data = bytearray(path.read_bytes())
    data[at : at + 4] = b"\x7f\xff\xff\xff"
    path.write_bytes(bytes(data))
    with pytest.raises(ForecastError, match="cut short or damaged"):
        open_forecast(path)


def message(*sections: tuple[int, int], end: bytes = b"7777", edition: int = 2) -> bytes:
    body = b"".join(
        size.to_bytes(4, "big") + bytes([number]) + b"\0" * (size - 5) for number, size in sections
    )
    length = 16 + len(body) + 4
    return b"GRIB\0\0\0" + bytes([edition]) + length.to_bytes(8, "big") + body + end


GOOD = [(1, 21), (3, 72), (4, 34), (5, 21), (6, 6), (7, 40)]


def test_grib_messages_are_counted(tmp_path) -> None:
    path = tmp_path / "a.grib2"
    repeated = [*GOOD, *GOOD[2:]]
    path.write_bytes(message(*GOOD) + b"\0" * 50 + message(*repeated))
    assert check_grib(path) == 2


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (message(*GOOD)[:-10], "needs 214 bytes"),
        (message(*GOOD, end=b"7770"), "no end mark"),
        (message(*GOOD[:3], *GOOD[4:]), "damaged"),
        (message(*GOOD[:-1]), "damaged"),
        (message(*GOOD, edition=7), "edition 7"),
        (message(*GOOD).replace((72).to_bytes(4, "big"), (900).to_bytes(4, "big")),
         "damaged"),
    ],
)  # fmt: skip
def test_grib_that_does_not_add_up(tmp_path, content, word) -> None:
    path = tmp_path / "a.grib2"
    path.write_bytes(content)
    with pytest.raises(LayoutError, match=word):
        check_grib(path)
    with pytest.raises(ForecastError, match="cut short or damaged"):
        open_file(path)
