"""The record of reviewed passages: a CSV that grows by one passage at a time.

Rows of one passage are together: ``all``, then ``leg 1``, ``leg 2`` and so on, then
``age 24 h`` with how far the forecast of about that age was off. A passage is known by
its vessel and its logged times, so that reviewing it again replaces its rows. Columns
that are not ours stay as they are. The file is replaced as a whole, under a lock: a kill
leaves the old record or the new one, and two reviews at once lose nothing.
"""

from __future__ import annotations

import csv
import io
import math
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from pathlib import Path

from passage.errors import LogError, OutputError, Problem
from passage.files import write_text
from passage.inputs.records.log import open_log, parse_log_time, refuse, too_many_cells
from passage.units import utc_text

Row = dict[str, str]

WHOLE = "all"
#: Columns of words and times; the first two say which row of which passage it is.
TEXTS = (
    "passage_utc",
    "part",
    "vessel",
    "route",
    "end_utc",
    "planned_utc",
    "hull_cleaned",
    "fuel_numbers",
    "roll_numbers",
    "plan_sha256",
    "log",
)
_OF = ("planned", "low", "high", "logged", "forecast", "otherwise", "model")
#: Columns of numbers.
NUMBERS = (
    "hours",
    "distance_nm",
    "speed_kn",
    "significant_height_m",
    "encounter_angle_deg",
    "fins_active_share",
    *(f"fuel_{of}_l" for of in _OF),
    *(f"roll_{of}_deg" for of in _OF),
    "roll_odds_percent",
    "roll_limit_kept",
    "fuel_p10_l",
    "fuel_p90_l",
    "hours_p10",
    "hours_p90",
    "age_h",
    "height_error",
    "height_error_rms",
    "period_error_s",
    "period_error_rms_s",
    "direction_error_deg",
    "direction_error_rms_deg",
    "wind_error_rms_m_s",
)
COLUMNS = TEXTS + NUMBERS
#: Two logs that share more than this of the shorter one are of one passage.
SAME_SHARE = 0.5
MAX_BYTES = 100_000_000


@dataclass(frozen=True)
class Entry:
    """One reviewed passage: its rows, cells as in the file."""

    begin_s: float
    end_s: float
    vessel: str
    rows: tuple[Row, ...]

    @property
    def whole(self) -> Row:
        """The row of the whole passage."""
        return self.rows[0]

    @property
    def legs(self) -> tuple[Row, ...]:
        """Rows of the legs."""
        return tuple(row for row in self.rows if row["part"].startswith("leg "))

    @property
    def ages(self) -> tuple[Row, ...]:
        """Rows of the forecast's age."""
        return tuple(row for row in self.rows if row["part"].startswith("age "))

    @property
    def has_causes(self) -> bool:
        """Whether its miss is split into causes: it was reviewed with the sea as it was."""
        return bool(self.whole["fuel_model_l"] or self.whole["roll_model_deg"])

    def same_as(self, other: Entry) -> bool:
        """Whether both are reviews of one passage."""
        common = min(self.end_s, other.end_s) - max(self.begin_s, other.begin_s)
        shorter = min(self.end_s - self.begin_s, other.end_s - other.begin_s)
        return self.vessel == other.vessel and common > SAME_SHARE * shorter


@dataclass(frozen=True)
class Record:
    """Reviewed passages in order of time; ``others`` are columns that are not ours."""

    file: str
    passages: tuple[Entry, ...] = ()
    others: tuple[str, ...] = ()

    def with_entry(self, entry: Entry) -> tuple[Record, int]:
        """The record with one passage more, and how many it replaces."""
        kept = [one for one in self.passages if not one.same_as(entry)]
        made = sorted([*kept, entry], key=lambda one: one.begin_s)
        return replace(self, passages=tuple(made)), len(self.passages) - len(kept)

    def text(self) -> str:
        """The record as CSV."""
        out = io.StringIO()
        columns = (*COLUMNS, *self.others)
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(columns)
        for entry in self.passages:
            writer.writerows([row.get(name, "") for name in columns] for row in entry.rows)
        return out.getvalue()


def number(row: Row, name: str) -> float:
    """A number of a row; NaN where the cell is empty."""
    text = row.get(name, "")
    return float(text) if text else math.nan


def cell(value: float | str | None) -> str:
    """A value as a cell: six digits, empty for what is not known."""
    if value is None or (isinstance(value, float) and not math.isfinite(value)):
        return ""
    return value if isinstance(value, str) else f"{value:.6g}"


def is_record(path: Path) -> bool:
    """Whether the header of a file is that of a record."""
    try:
        with open_log(path, newline="") as lines:
            return lines.readline(4000).lower().startswith(f"{COLUMNS[0]},{COLUMNS[1]},")
    except LogError:
        return False  # its reader says what is wrong


def read_record(path: Path | str) -> Record:
    """Read a record.

    Raises
    ------
    LogError
        With the problems of the file, each with its line.
    """
    path = Path(path)
    problems: list[Problem] = []
    with open_log(path, newline="") as lines:
        if path.stat().st_size > MAX_BYTES:
            raise LogError(f"{path}: is over {MAX_BYTES:,} bytes. Is it a record of passages?")
        try:
            rows = list(csv.reader(lines))
        except csv.Error as err:
            raise LogError(f"{path}: is not a table: {err}.") from err
    header = [one.strip() for one in rows[0]] if rows else []
    missing = [name for name in COLUMNS if name not in header]
    if not {"passage_utc", "part"} <= set(header) or len(missing) > len(COLUMNS) // 2:
        raise LogError(
            f"{path}: is not a record of passages. Give a file that passage review --record wrote."
        )
    if missing or len(set(header)) < len(header):
        words = f"lacks {', '.join(missing)}" if missing else "has a column twice"
        raise LogError(f"{path}:1: the header {words}. Restore it.")
    groups: list[list[Row]] = []
    for at, cells in enumerate(rows[1:], 2):
        if not any(cells):
            continue
        if len(cells) > len(header):
            problems.append(too_many_cells(str(path), at, len(cells), len(header)))
            continue
        row = dict(zip(header, [*cells, *[""] * (len(header) - len(cells))], strict=True))
        _check(row, str(path), at, problems)
        if row["part"] == WHOLE:
            groups.append([row])
        elif not groups or groups[-1][0]["passage_utc"] != row["passage_utc"]:
            problems.append(
                Problem(
                    file=str(path),
                    place=str(at),
                    what=f"part {row['part']!r} does not follow its passage",
                    fix="Keep the rows of a passage together, the row all first.",
                )
            )
        else:
            groups[-1].append(row)
    refuse(problems)
    entries = sorted((_entry(rows) for rows in groups), key=lambda one: one.begin_s)
    return Record(str(path), tuple(entries), tuple(n for n in header if n not in COLUMNS))


def _check(row: Row, file: str, line: int, problems: list[Problem]) -> None:
    for name in NUMBERS:
        try:
            good = not row[name] or math.isfinite(float(row[name]))
        except ValueError:
            good = False
        if not good:
            what = f"{name} = {row[name]!r} is not a number"
            problems.append(Problem(file=file, place=str(line), what=what))
    times = ("passage_utc", "end_utc") if row["part"] == WHOLE else ("passage_utc",)
    for name in times:
        try:
            parse_log_time(row[name])
        except ValueError as err:
            what = str(err).replace("time =", f"{name} =", 1)
            problems.append(Problem(file=file, place=str(line), what=what))


def _entry(rows: list[Row]) -> Entry:
    begin, end = (parse_log_time(rows[0][name]) for name in ("passage_utc", "end_utc"))
    return Entry(begin, end, rows[0]["vessel"], tuple(rows))


def new_entry(
    begin_s: float, end_s: float, vessel: str, rows: Sequence[dict[str, float | str | None]]
) -> Entry:
    """An entry from values; the first row is that of the whole passage."""
    common = {"passage_utc": utc_text(begin_s), "vessel": vessel}
    cells = [{name: cell((row | common).get(name)) for name in COLUMNS} for row in rows]
    cells[0]["end_utc"] = utc_text(end_s)
    # Times as the file has them, so that what is read back compares alike.
    return _entry(cells)


def add_to_record(path: Path, entry: Entry) -> tuple[Record, int]:
    """Add one passage to a record, made if there is none; returns how many it replaced.

    A passage whose miss is split into causes is not replaced by one whose miss is not: the
    record stays as it is, and -1 is returned.

    Raises
    ------
    LogError
        The existing file is not a record, or is damaged: it is left as it is.
    OutputError
        It cannot be written.
    """
    with _alone(path):
        old = read_record(path) if path.exists() else Record(str(path))
        if not entry.has_causes and any(
            one.has_causes and one.same_as(entry) for one in old.passages
        ):
            return old, -1
        made, replaced = old.with_entry(entry)
        write_text(path, made.text(), force=True)
    return made, replaced


@contextmanager
def _alone(path: Path) -> Iterator[None]:
    """Hold the folder's lock, where the system has one, so that two writers take turns."""
    try:
        import fcntl
    except ImportError:  # no such locks here: one writer at a time is up to the user
        yield
        return
    try:
        folder = os.open(path.resolve().parent, os.O_RDONLY)
    except OSError as err:
        raise OutputError(f"{path}: cannot be written: {err.strerror}.") from err
    try:
        with suppress(OSError):  # a network folder may refuse locks
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)
