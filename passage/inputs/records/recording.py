"""Logs of a whole passage, from one-second recordings to a line an hour.

Read a block of lines at a time into plain arrays, so that a million lines pass. A
recording has ``roll_deg``, the angle at the moment (+ to starboard); a log of averages
has ``roll_rms_deg`` and ``heel_deg``. Every problem of the first block that has any is
reported at once. Empty cells are missing values.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

import numpy as np
import numpy.typing as npt

from passage.errors import LogError, Problem
from passage.inputs.records.log import (
    FIN_WORDS,
    NUMBER_COLUMNS,
    known_columns,
    open_log,
    parse_log_time,
    refuse,
    too_many_cells,
    word_code,
)
from passage.inputs.route.positions import parse_latitude, parse_longitude
from passage.inputs.route.text import parse_number

Array = npt.NDArray[np.float64]

#: More lines than this is several months at a second. [lines]
MAX_ROWS = 5_000_000
_BLOCK = 20_000
#: Number columns beyond those of `NUMBER_COLUMNS`: unit, least, most, least refused.
MORE_COLUMNS: dict[str, tuple[str, float, float, bool]] = {
    "hours": ("h", 0.0, 48.0, True),
    "generator_l_per_h": ("l/h", 0.0, 100_000.0, False),
    "roll_deg": ("deg", -90.0, 90.0, False),
    "heel_deg": ("deg", -45.0, 45.0, False),
    "fin_angle_deg": ("deg", -90.0, 90.0, False),
    "fin_angle_rms_deg": ("deg", 0.0, 90.0, False),
}
NUMBERS = NUMBER_COLUMNS | MORE_COLUMNS
#: Columns of a log that say what the sea was: a review takes it from --sea instead.
UNUSED = (
    "sea",
    "significant_height_m",
    "peak_period_s",
    "wave_from_deg",
    "wind_speed_kn",
    "wind_from_deg",
)
COLUMNS = ("time", "lat", "lon", "fins", "sea", *NUMBERS)
_VAGUE = {
    "speed": "Write speed_through_water_kn or speed_over_ground_kn.",
    "speed_kn": "Write speed_through_water_kn or speed_over_ground_kn.",
    "fuel": "Write fuel_l_per_h, main engines without generators.",
    "roll": "Write roll_deg for the instantaneous angle, roll_rms_deg for an average.",
    "heel": "Write heel_deg, the mean angle, + to starboard.",
    "fin": "Write fin_angle_deg for the instantaneous angle, fin_angle_rms_deg for an average.",
}
_SEPARATORS = ",;\t"
_PLAIN = frozenset("0123456789.+-")
_PLAIN_TIME = re.compile(
    r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,3})?)?Z"
)


@dataclass(frozen=True, eq=False)
class Recording:
    """Lines of a log in order of time, arrays (n,), NaN where a cell is empty.

    ``values`` has the number columns that the file has, in the units of their names;
    ``lat_deg``, ``lon_deg`` are all NaN where it has none; ``fins`` is 1 active, 0
    centred, NaN unknown. ``line`` is the line in the file.
    """

    file: str
    time_s: Array
    lat_deg: Array
    lon_deg: Array
    fins: Array
    values: dict[str, Array]
    line: npt.NDArray[np.int64]
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        """Number of lines."""
        return int(self.time_s.size)

    def column(self, name: str) -> Array:
        """A number column; all NaN where the file has none."""
        return self.values.get(name, np.full(self.time_s.size, np.nan))


def read_recording(path: Path | str) -> Recording:
    """Read a log of a passage.

    Raises
    ------
    LogError
        With the problems of the file (the first twenty), each with its line.
    """
    path = Path(path)
    try:
        with open_log(path, newline="") as lines:
            return _read(lines, str(path))
    except csv.Error as err:
        raise LogError(f"{path}: is not a table: {err}. Look for an open quotation mark.") from err


def _read(lines: Iterator[str], file: str) -> Recording:
    problems: list[Problem] = []
    first, number = "", 0
    for number, first in enumerate(lines, 1):  # noqa: B007 - the header's number
        if first.strip() and not first.lstrip().startswith("#"):
            break
    else:
        raise LogError(f"{file}: is empty. Give a header line and a line for each time.")
    separator = max(_SEPARATORS, key=first.count)
    header = next(csv.reader([first], delimiter=separator))
    columns = _columns(header, file, number, problems)
    refuse(problems)
    reader = csv.reader(lines, delimiter=separator)
    parts: dict[str, list[Array]] = {name: [] for name in columns if name not in UNUSED}
    numbers: list[npt.NDArray[np.int64]] = []
    total = 0
    while block := list(islice(reader, _BLOCK)):
        at = number + np.arange(1, len(block) + 1)
        number += len(block)
        keep = [bool(row) and any(row) and not row[0].lstrip().startswith("#") for row in block]
        rows = [row for row, ok in zip(block, keep, strict=True) if ok]
        at = at[np.array(keep, dtype=bool)]
        total += len(rows)
        if total > MAX_ROWS:
            raise LogError(
                f"{file}: has more than {MAX_ROWS:,} lines. Average over a few seconds, or give "
                "one passage only."
            )
        _widths(rows, at, len(header), file, problems)
        refuse(problems)
        for name in parts:
            cells = [row[columns[name]].strip() for row in rows]
            parts[name].append(_parsed(name, cells, at, file, problems))
        numbers.append(at)
        refuse(problems)
    if not total:
        raise LogError(f"{file}: has a header but no lines. Add a line for each time.")
    return _assemble(parts, np.concatenate(numbers), columns, file)


def _columns(header: list[str], file: str, line: int, problems: list[Problem]) -> dict[str, int]:
    def complain(what: str, fix: str) -> None:
        problems.append(Problem(file=file, place=str(line), what=what, fix=fix))

    columns = known_columns(header, COLUMNS, _VAGUE, "docs/review.md", complain)
    if "time" not in columns:
        complain("the header lacks time", "Give it in UTC, as 2026-03-02T08:30Z.")
    if ("lat" in columns) != ("lon" in columns):
        complain("the header has one of lat and lon", "Give both or neither.")
    return columns


def _widths(
    rows: list[list[str]],
    at: npt.NDArray[np.int64],
    width: int,
    file: str,
    problems: list[Problem],
) -> None:
    for row, line in zip(rows, at, strict=True):
        if len(row) > width:
            problems.append(too_many_cells(file, line, len(row), width))
        elif len(row) < width:
            row.extend([""] * (width - len(row)))


def _parsed(
    name: str, cells: list[str], at: npt.NDArray[np.int64], file: str, problems: list[Problem]
) -> Array:
    """A column of a block: all at once where all are plain, else cell by cell for the words."""
    try:
        quick = _quick(name, cells)
    except ValueError:
        quick = None
    if quick is not None:
        return quick
    out = np.full(len(cells), np.nan)
    for i, cell in enumerate(cells):
        if not cell and name != "time":
            continue
        try:
            out[i] = _one(name, cell)
        except ValueError as err:
            problems.append(Problem(file=file, place=str(at[i]), what=str(err)))
    return out


def _quick(name: str, cells: list[str]) -> Array | None:
    """The column if every cell is plain, else None."""
    if name == "time":
        # The library would take 2026Z and a second zone for times as well.
        if not all(_PLAIN_TIME.fullmatch(cell) for cell in cells):
            return None
        stamps = np.array([cell[:-1] for cell in cells], dtype="datetime64[ms]")
        if not cells or np.any(np.isnat(stamps)):
            return None
        for end in (np.argmin(stamps), np.argmax(stamps)):
            parse_log_time(cells[int(end)])  # out of range: the slow way says so
        return np.asarray(stamps.astype(np.int64) / 1000.0)
    if name == "fins":
        codes = {"": np.nan, **{word: float(code) for code, word in enumerate(FIN_WORDS)}}
        return np.array([codes[c] for c in cells]) if set(cells) <= codes.keys() else None
    if not _PLAIN.issuperset("".join(cells)):
        return None  # 1_000 and digits of other scripts are numbers to Python only
    values = np.array([cell or "nan" for cell in cells]).astype(np.float64)
    if name in ("lat", "lon"):
        low, high = (-90.0, 90.0) if name == "lat" else (-180.0, 180.0)
        open_low = False
    else:
        _, low, high, open_low = NUMBERS[name]
    wrong = (values < low) | (values > high) | (open_low & (values == low))
    # A cell with nan or inf is not a number; the slow way reports it.
    empty = np.array([not cell for cell in cells], dtype=bool)
    return None if np.any(wrong | (np.isnan(values) & ~empty)) else values


def _one(name: str, cell: str) -> float:
    if name == "time":
        return parse_log_time(cell)
    if name == "lat":
        return parse_latitude(cell)
    if name == "lon":
        return parse_longitude(cell)
    if name == "fins":
        return word_code(cell, name, FIN_WORDS)
    unit, low, high, open_low = NUMBERS[name]
    return parse_number(cell, name, unit, low=low, high=high, open_low=open_low)


def _assemble(
    parts: dict[str, list[Array]],
    line: npt.NDArray[np.int64],
    columns: dict[str, int],
    file: str,
) -> Recording:
    whole = {name: np.concatenate(blocks) for name, blocks in parts.items()}
    time = whole.pop("time")
    notes = []
    if np.any(np.diff(time) < 0.0):
        notes.append("the lines were not in order of time and have been sorted")
        order = np.argsort(time, kind="stable")
        time, line = time[order], line[order]
        whole = {name: column[order] for name, column in whole.items()}
    new = np.r_[True, np.diff(time) > 0.0]
    if not np.all(new):
        notes.append(
            f"{int(np.sum(~new))} lines repeat a time (the first in line {line[~new][0]}); the "
            "first of each is taken"
        )
        time, line = time[new], line[new]
        whole = {name: column[new] for name, column in whole.items()}
    if unused := [name for name in columns if name in UNUSED]:
        notes.append(
            f"{', '.join(unused)} are not used: give the sea as it was with --sea"
            if len(unused) > 1
            else f"{unused[0]} is not used: give the sea as it was with --sea"
        )
    nothing = np.full(time.size, np.nan)
    lat, lon, fins = (whole.pop(name, nothing) for name in ("lat", "lon", "fins"))
    return Recording(file, time, lat, lon, fins, whole, line, tuple(notes))
