"""Rows of every departure as NetCDF, or as Parquet where pyarrow is installed."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np

from passage import __version__
from passage.files import write_with
from passage.planning.season.departures import COLUMNS, LEG_PREFIXES, STATUS
from passage.planning.season.season import SeasonResult
from passage.planning.voyage.limits import LIMIT_KEYS, LIMIT_WORDS

#: Rows written at a time.
_ROWS = 200_000


def have_parquet() -> bool:
    """Whether pyarrow is installed."""
    return importlib.util.find_spec("pyarrow") is not None


def write_departures(result: SeasonResult, folder: Path) -> list[Path]:
    """Write ``departures.nc`` and, with pyarrow, ``departures.parquet``; replace old ones."""
    written = [folder / "departures.nc"]
    write_with(written[0], lambda path: write_netcdf(result, path), force=True)
    if have_parquet():
        written.append(folder / "departures.parquet")
        write_with(written[1], lambda path: write_parquet(result, path), force=True)
    return written


def write_netcdf(result: SeasonResult, path: Path) -> None:
    """Columns over (passage, departure)."""
    import netCDF4

    passages, departures = result.numbers["status"].shape
    with netCDF4.Dataset(path, "w", format="NETCDF4") as data:
        data.Conventions = "CF-1.11"
        data.title = f"{result.provenance['vessel']}: departures over a hindcast"
        data.history = f"passage {__version__}"
        data.comment = "Past departures, not a forecast. Decision support only."
        data.createDimension("passage", passages)
        data.createDimension("departure", departures)
        time = data.createVariable("time", "f8", ("departure",))
        time.units = "seconds since 1970-01-01T00:00:00Z"
        time.standard_name = "time"
        time.calendar = "standard"
        time.long_name = "time of departure"
        time[:] = result.departures_s
        route = data.createVariable("route", str, ("passage",))
        route.long_name = "name of the route"
        speed = data.createVariable("speed_kn", "f8", ("passage",))
        speed.long_name = "speed where the route gives none"
        speed.units = "knot"
        for i, label in enumerate(result.labels):
            route[i] = label["route"]
            speed[i] = label["speed_kn"]
        for column in COLUMNS:
            out = data.createVariable(
                column.name, "f4", ("passage", "departure"), fill_value=np.nan, zlib=True,
                complevel=1, shuffle=True,
            )  # fmt: skip
            out.units = column.unit
            out.long_name = column.meaning
            out[:] = result.numbers[column.name]
        status = data.createVariable("status", "i1", ("passage", "departure"), zlib=True)
        status.long_name = "why a departure has no numbers"
        status.flag_values = np.arange(-1, len(STATUS), dtype="i1")
        status.flag_meanings = " ".join(("block_missing", *STATUS))
        status[:] = result.numbers["status"]
        within = data.createVariable("within_limits", "i1", ("passage", "departure"), zlib=True)
        within.long_name = "whether every leg is within the owner's limits"
        within.flag_values = np.array([-1, 0, 1], dtype="i1")
        within.flag_meanings = "not_known no yes"
        within[:] = result.numbers["within_limits"]
        closed = data.createVariable("limits_broken", "i1", ("passage", "departure"), zlib=True)
        closed.long_name = "limits exceeded by a departure, one bit each; -1: not judged"
        closed.flag_masks = (1 << np.arange(len(LIMIT_KEYS))).astype("i1")
        closed.flag_meanings = " ".join(key for _, key in LIMIT_KEYS)
        closed[:] = result.numbers["limits_broken"]
        for name, words in _legs_over(result).items():
            leg = data.createVariable(name, "i2", ("passage", "departure"), zlib=True)
            leg.long_name = words
            leg[:] = result.numbers[name]


def _legs_over(result: SeasonResult) -> dict[str, str]:
    """Columns with the leg on which a limit is exceeded, and their meanings."""
    return {
        name: f"leg, counted from 1, on which {LIMIT_WORDS[name.removeprefix(prefix)]} exceeds "
        f"its limit most {where}; 0: not exceeded; -1: not judged"
        for prefix, where in zip(LEG_PREFIXES, ("under way", "at rest"), strict=True)
        for name in result.numbers
        if name.startswith(prefix)
    }


def write_parquet(result: SeasonResult, path: Path) -> None:
    """One row for each passage and departure."""
    import pyarrow as pa
    import pyarrow.parquet as pq

    words = np.array(["block_missing", *STATUS])
    schema = pa.schema(
        [
            ("route", pa.dictionary(pa.int16(), pa.string())),
            ("speed_kn", pa.float64()),
            ("departure_utc", pa.timestamp("s", tz="UTC")),
            ("status", pa.dictionary(pa.int8(), pa.string())),
            ("within_limits", pa.int8()),
            ("limits_broken", pa.int8()),
            *((name, pa.int16()) for name in _legs_over(result)),
            *((column.name, pa.float32()) for column in COLUMNS),
        ]
    )
    count = result.departures_s.size
    with pq.ParquetWriter(path, schema) as writer:
        for p, label in enumerate(result.labels):
            for start in range(0, count, _ROWS):
                part = slice(start, min(start + _ROWS, count))
                n = part.stop - part.start
                code = result.numbers["status"][p, part].astype(np.int8) + 1
                arrays = [
                    pa.DictionaryArray.from_arrays(
                        pa.array(np.zeros(n, np.int16)), pa.array([label["route"]])
                    ),
                    pa.array(np.full(n, label["speed_kn"])),
                    pa.array(
                        result.departures_s[part].astype("int64"), pa.timestamp("s", tz="UTC")
                    ),
                    pa.DictionaryArray.from_arrays(pa.array(code), pa.array(words)),
                    pa.array(result.numbers["within_limits"][p, part]),
                    pa.array(result.numbers["limits_broken"][p, part]),
                    *(pa.array(result.numbers[name][p, part]) for name in _legs_over(result)),
                    *(
                        pa.array(result.numbers[column.name][p, part], from_pandas=True)
                        for column in COLUMNS
                    ),
                ]
                writer.write_table(pa.Table.from_arrays(arrays, schema=schema))
