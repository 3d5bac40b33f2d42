"""A comparison as NetCDF: totals over combinations, leg values over combinations and legs."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from passage import __version__
from passage.planning.compare.choice import WHY
from passage.planning.compare.compare import Comparison
from passage.report.text.compare_columns import total_columns
from passage.variables import BY_NAME, COVERAGE

_EPOCH = "seconds since 1970-01-01T00:00:00Z"


def write_compare_netcdf(found: Comparison, path: Path) -> None:
    """Write to ``path``; routes with fewer legs are padded with missing values."""
    import netCDF4

    most = max(len(route.legs) for route in found.routes)
    total = len(found)
    with netCDF4.Dataset(path, "w", format="NETCDF4") as data:
        data.Conventions = "CF-1.11"
        data.title = f"{found.vessel.name}: comparison of passages"
        data.history = f"passage {__version__}"
        data.comment = "Decision support only; the master decides. Not for navigation."
        data.createDimension("combination", total)
        data.createDimension("leg", most)

        def put(name: str, values: Any, dims: tuple[str, ...], **attributes: str) -> None:
            values = np.asarray(values)
            if values.dtype.kind == "f":
                out = data.createVariable(name, "f8", dims, fill_value=np.nan, zlib=True)
            else:
                out = data.createVariable(name, values.dtype, dims, zlib=True)
            for key, value in attributes.items():
                if value:
                    setattr(out, key, value)
            out[...] = values

        one = ("combination",)
        put("combination", np.arange(1, total + 1, dtype="i4"), one,
            long_name="number of the combination, as --choose takes it")  # fmt: skip
        put("departure", found.departure_s, one, units=_EPOCH, long_name="time of leaving")
        put("eta", found.totals["eta_s"], one, units=_EPOCH, long_name="time of arrival")
        for name, words in (
            ("route", [found.routes[found.cell_of(i).route].name for i in range(total)]),
            ("fins", [found.cell_of(i).fins for i in range(total)]),
            ("speed_words", [found.cell_of(i).speed_text for i in range(total)]),
        ):
            out = data.createVariable(name, str, one)
            out[:] = np.array(words, dtype=object)
        speed = [found.cell_of(i).speed_kn for i in range(total)]
        put("speed_kn", np.array([np.nan if s is None else s for s in speed]), one, units="knot",
            long_name="speed for the whole passage; missing: the legs' own")  # fmt: skip
        for column in total_columns(found):
            put(column.key, found.totals[column.key], one,
                units=column.unit, long_name=column.meaning)  # fmt: skip
        put("open", (found.closed == 0).astype("i1"), one, long_name="1: may be chosen")
        put("on_front", found.front.astype("i1"), one,
            long_name="1: best trade-off between fuel and comfort")  # fmt: skip
        put("why_closed", found.closed.astype("i4"), one, long_name="why it is closed, as bits")
        data["why_closed"].flag_masks = np.array(list(WHY), dtype="i4")
        data["why_closed"].flag_meanings = " ".join(w.replace(" ", "_") for w in WHY.values())
        names = sorted({name for cell in found.cells for name in cell.legs} & set(BY_NAME))
        for name in names:
            values = np.full((total, most), np.nan)
            for number, cell in enumerate(found.cells):
                rows = np.flatnonzero(found.cell == number)
                part = cell.legs.get(name)
                if part is not None:
                    values[rows, : part.shape[1]] = part
            variable = BY_NAME[name]
            put(f"leg_{name}", values, ("combination", "leg"),
                units=variable.unit, long_name=variable.meaning,
                standard_name=variable.standard_name or "")  # fmt: skip
        codes = np.full((total, most), -1, dtype="i1")
        for number, cell in enumerate(found.cells):
            codes[np.flatnonzero(found.cell == number), : cell.coverage.shape[1]] = cell.coverage
        put("leg_coverage", codes, ("combination", "leg"), long_name="what the forecast gives")
        data["leg_coverage"].flag_values = np.arange(-1, len(COVERAGE), dtype="i1")
        data["leg_coverage"].flag_meanings = " ".join(("no_such_leg", *COVERAGE))
