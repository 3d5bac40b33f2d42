"""Passage logs: what she did, averaged over intervals, for calibration.

A table with a header line; each further line is the mean over one interval of
steady running, 20 minutes to a few hours. Every problem of the file is reported at
once. Empty cells are missing values; each fit checks for what it needs.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

import numpy as np
import numpy.typing as npt

from passage.errors import LogError, Problem, did_you_mean, join_problems
from passage.files import why_not_plain
from passage.inputs.bounds import why_not_a_table
from passage.inputs.route.positions import parse_latitude, parse_longitude
from passage.inputs.route.text import parse_number, parse_time
from passage.units import KNOT_M_S, deg_to_rad

Array = npt.NDArray[np.float64]

MAX_BYTES = 50_000_000
MAX_ROWS = 200_000
MAX_PROBLEMS = 20
#: Words of the fins column, in the order of the codes of `PassageLog.fins`.
FIN_WORDS: tuple[str, ...] = ("centred", "active")
#: Words of the sea column, in the order of the codes of `PassageLog.sea`; an empty
#: cell is the first.
SEA_WORDS: tuple[str, ...] = ("mixed", "wind sea", "swell")
#: Code of an empty fins cell.
FINS_UNKNOWN = -1
_SEPARATORS = ",;\t"

#: Number columns: unit, least, most, whether the least itself is refused.
NUMBER_COLUMNS: dict[str, tuple[str, float, float, bool]] = {
    "heading_deg": ("deg", 0.0, 360.0, False),
    "speed_through_water_kn": ("kn", 0.0, 60.0, False),
    "speed_over_ground_kn": ("kn", 0.0, 60.0, False),
    "fuel_l_per_h": ("l/h", 0.0, 100_000.0, False),
    "roll_rms_deg": ("deg", 0.0, 45.0, False),
    "significant_height_m": ("m", 0.0, 25.0, False),
    "peak_period_s": ("s", 1.0, 30.0, False),
    "wave_from_deg": ("deg", 0.0, 360.0, False),
    "wind_speed_kn": ("kn", 0.0, 150.0, False),
    "wind_from_deg": ("deg", 0.0, 360.0, False),
    "displacement_t": ("t", 0.0, 100_000.0, True),
}
COLUMNS: tuple[str, ...] = ("time", "lat", "lon", "fins", "sea", *NUMBER_COLUMNS)
#: Names that could mean several columns.
_VAGUE = {
    "speed": "Write speed_through_water_kn or speed_over_ground_kn.",
    "speed_kn": "Write speed_through_water_kn or speed_over_ground_kn.",
    "fuel": "Write fuel_l_per_h, main engines without generators.",
    "roll": "Write roll_rms_deg, half the significant single amplitude.",
    "roll_deg": "Write roll_rms_deg, half the significant single amplitude.",
    "wave_deg": "Write wave_from_deg, where the waves come from.",
}
_SPEEDS = ("speed_through_water_kn", "speed_over_ground_kn")


@dataclass(frozen=True, eq=False)
class PassageLog:
    """Intervals of a log, arrays of shape (n,); NaN where a cell is empty.

    Angles true, waves and wind *from* [rad]; speeds [m/s]; ``fuel_l_per_h`` of the
    main engines; ``roll_rms_rad`` about the mean heel; ``fins`` codes into
    :data:`FIN_WORDS`, or :data:`FINS_UNKNOWN`; ``sea`` codes into :data:`SEA_WORDS`;
    ``line`` in the file.
    """

    file: str
    time_s: Array
    lat_deg: Array
    lon_deg: Array
    heading_rad: Array
    speed_through_water_m_s: Array
    speed_over_ground_m_s: Array
    fuel_l_per_h: Array
    roll_rms_rad: Array
    significant_height_m: Array
    peak_period_s: Array
    wave_from_rad: Array
    wind_speed_m_s: Array
    wind_from_rad: Array
    displacement_t: Array
    fins: npt.NDArray[np.int8]
    sea: npt.NDArray[np.int8]
    line: npt.NDArray[np.int64]
    notes: tuple[str, ...] = ()

    def __len__(self) -> int:
        """Number of intervals."""
        return int(self.time_s.size)


@contextmanager
def open_log(path: Path, newline: str | None = None) -> Iterator[TextIO]:
    """The lines of a log, as they are; system errors become a sentence.

    Raises
    ------
    LogError
        Not a plain file, not readable, or not text.
    """
    if reason := why_not_plain(path):
        raise LogError(f"{path}: {reason}. Give the name of a log.")
    try:
        with path.open(encoding="utf-8-sig", newline=newline) as lines:
            yield lines
    except FileNotFoundError as err:
        raise LogError(f"{path}: does not exist. Check the name and the folder.") from err
    except OSError as err:
        raise LogError(f"{path}: cannot be read: {err.strerror}.") from err
    except UnicodeDecodeError as err:
        raise LogError(f"{path}: is not text in UTF-8. Save it as CSV, UTF-8.") from err


def read_log(path: Path | str) -> PassageLog:
    """Read a log file.

    Raises
    ------
    LogError
        With every problem of the file (the first twenty), each with its line.
    """
    path = Path(path)
    with open_log(path) as lines:
        if path.stat().st_size > MAX_BYTES:
            raise LogError(f"{path}: is over {MAX_BYTES:,} bytes. Is it a log?")
        text = lines.read()
    if wide := why_not_a_table(text):
        raise LogError(f"{path}: {wide}. Is it a log? A row is an interval.")
    return parse_log(text, file=str(path))


def parse_log(text: str, *, file: str) -> PassageLog:
    """As :func:`read_log`, from the text of the file."""
    problems: list[Problem] = []
    rows = _rows(text, file, problems)
    columns = _columns(rows[0], file, problems) if rows else {}
    if not rows and not problems:
        problems.append(
            Problem(
                file=file,
                what="is empty",
                fix="Give a header line, then one line for each interval.",
            )
        )
    parsed: list[dict[str, float]] = []
    if not problems:
        for line, cells in rows[1:]:
            if len(cells) > len(rows[0][1]):
                problems.append(too_many_cells(file, line, len(cells), len(rows[0][1])))
                continue
            values = {
                key: cells[at].strip() if at < len(cells) else "" for key, at in columns.items()
            }
            parsed.append(_row(values, file, line, problems))
        if not parsed and not problems:
            problems.append(
                Problem(file=file, what="has a header but no intervals", fix="Add a line for each.")
            )
    refuse(problems)
    return _assemble(parsed, file)


def refuse(problems: list[Problem]) -> None:
    """Raise with the first problems and the count of the rest, if there are any."""
    if problems:
        shown = join_problems(problems[:MAX_PROBLEMS])
        more = len(problems) - MAX_PROBLEMS
        raise LogError(shown + (f"\nand {more} more problems" if more > 0 else ""))


def too_many_cells(file: str, line: int, cells: int, header: int) -> Problem:
    """The problem of a line that is longer than the header."""
    return Problem(
        file=file,
        place=str(line),
        what=f"has {cells} cells where the header has {header}",
        fix="A decimal comma splits a number in two: use a decimal point.",
    )


def _rows(text: str, file: str, problems: list[Problem]) -> list[tuple[int, list[str]]]:
    """Lines that hold something, with their numbers in the file."""
    lines = [
        "\n" if line.lstrip().startswith("#") else line for line in io.StringIO(text, newline=None)
    ]
    first = next((line for line in lines if line.strip()), "")
    separator = max(_SEPARATORS, key=first.count)
    reader = csv.reader(lines, delimiter=separator, strict=True)
    rows: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((reader.line_num, cells))
            if len(rows) > MAX_ROWS + 1:
                problems.append(
                    Problem(
                        file=file,
                        what=f"has more than {MAX_ROWS:,} intervals",
                        fix="Average over longer intervals.",
                    )
                )
                break
    except csv.Error as err:
        problems.append(
            Problem(
                file=file,
                place=str(reader.line_num),
                what=f"is not a table: {err}",
                fix="Look for a quotation mark that is not closed.",
            )
        )
    return rows


def known_columns(
    header: list[str],
    known: Sequence[str],
    vague: Mapping[str, str],
    page: str,
    complain: Callable[[str, str], None],
) -> dict[str, int]:
    """Where each known column of a header is; columns given twice or unknown are reported.

    ``vague`` has the remedy for names that could mean several columns, ``page`` lists all.
    """
    columns: dict[str, int] = {}
    for at, cell in enumerate(header):
        key = cell.strip().lower()
        if key in columns:
            complain(f"column {key} appears twice", "Remove one.")
        elif key in known:
            columns[key] = at
        elif key:
            hint = did_you_mean(key, known) or f"Remove it, or see {page}."
            complain(f"column {cell.strip()!r} is not known", vague.get(key, hint))
    return columns


def _columns(row: tuple[int, list[str]], file: str, problems: list[Problem]) -> dict[str, int]:
    place, header = str(row[0]), row[1]

    def complain(what: str, fix: str) -> None:
        problems.append(Problem(file=file, place=place, what=what, fix=fix))

    columns = known_columns(header, COLUMNS, _VAGUE, "docs/log-files.md", complain)
    if "time" not in columns:
        complain("the header lacks time", "Give the middle of each interval in UTC.")
    if not any(key in columns for key in _SPEEDS):
        complain(f"the header has neither {_SPEEDS[0]} nor {_SPEEDS[1]}", "Add one of them.")
    for pair in (("lat", "lon"), ("wind_speed_kn", "wind_from_deg")):
        there = [key for key in pair if key in columns]
        if len(there) == 1:
            other = pair[1] if there[0] == pair[0] else pair[0]
            complain(f"the header has {there[0]} without {other}", "Give both or neither.")
    sea = ("significant_height_m", "peak_period_s", "wave_from_deg")
    missing = [key for key in sea if key not in columns]
    if 0 < len(missing) < len(sea):
        complain(f"the header lacks {', '.join(missing)}", "Give all three of the sea or none.")
    return columns


def _row(values: dict[str, str], file: str, line: int, problems: list[Problem]) -> dict[str, float]:
    out: dict[str, float] = {"line": float(line)}

    def take(key: str, parse: Callable[[str], float], needed: bool = False) -> None:
        text = values.get(key, "")
        if not text and not needed:
            out[key] = np.nan
            return
        try:
            out[key] = parse(text)
        except ValueError as err:
            out[key] = np.nan
            problems.append(Problem(file=file, place=str(line), what=str(err)))

    take("time", parse_log_time, needed=True)
    take("lat", parse_latitude)
    take("lon", parse_longitude)
    take("fins", lambda text: word_code(text, "fins", FIN_WORDS))
    take("sea", lambda text: word_code(text, "sea", SEA_WORDS))
    for key, (unit, low, high, open_low) in NUMBER_COLUMNS.items():
        take(
            key,
            lambda text, k=key, u=unit, a=low, b=high, o=open_low: parse_number(  # type: ignore[misc]
                text, k, u, low=a, high=b, open_low=o
            ),
        )
    return out


def parse_log_time(text: str) -> float:
    """Seconds since 1970 UTC; a time without its zone is refused (ValueError)."""
    time_s, zoned = parse_time(text, "time")
    if not zoned:
        raise ValueError(f"time = {text!r} has no zone; add Z for UTC ({text}Z) or an offset")
    return time_s


def word_code(text: str, key: str, words: tuple[str, ...]) -> float:
    """Place of a word among those allowed; ValueError for another."""
    word = " ".join(text.lower().split())
    if word not in words:
        raise ValueError(f"{key} = {text.strip()!r} is not one of {', '.join(words)}")
    return float(words.index(word))


def _assemble(parsed: list[dict[str, float]], file: str) -> PassageLog:
    def column(key: str) -> Array:
        return np.array([row[key] for row in parsed])

    order = np.argsort(column("time"), kind="stable")

    def take(key: str, factor: float = 1.0) -> Array:
        return column(key)[order] * factor

    notes = []
    if np.any(np.diff(column("time")) < 0.0):
        notes.append("the intervals were not in order of time and have been sorted")
    fins = take("fins")
    deg = deg_to_rad(1.0)
    return PassageLog(
        file=file,
        time_s=take("time"),
        lat_deg=take("lat"),
        lon_deg=take("lon"),
        heading_rad=take("heading_deg", deg),
        speed_through_water_m_s=take("speed_through_water_kn", KNOT_M_S),
        speed_over_ground_m_s=take("speed_over_ground_kn", KNOT_M_S),
        fuel_l_per_h=take("fuel_l_per_h"),
        roll_rms_rad=take("roll_rms_deg", deg),
        significant_height_m=take("significant_height_m"),
        peak_period_s=take("peak_period_s"),
        wave_from_rad=take("wave_from_deg", deg),
        wind_speed_m_s=take("wind_speed_kn", KNOT_M_S),
        wind_from_rad=take("wind_from_deg", deg),
        displacement_t=take("displacement_t"),
        fins=np.where(np.isnan(fins), FINS_UNKNOWN, fins).astype(np.int8),
        sea=np.nan_to_num(take("sea"), nan=0.0).astype(np.int8),
        line=take("line").astype(np.int64),
        notes=tuple(notes),
    )
