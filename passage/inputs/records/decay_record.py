"""Read a roll-decay record: the peaks of roll after she was set rolling in calm water.

A record is a CSV of ``time_s`` and ``roll_deg``: the times and sizes of the peaks, from
one side to the other. Sizes may be signed (+ to starboard, alternating) or all positive.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from passage.errors import LogError, Problem, join_problems
from passage.files import why_not_plain
from passage.inputs.bounds import why_not_a_table
from passage.units import DEG_RAD

Floats = NDArray[np.float64]

#: Fewest peaks from which two dampings and their uncertainty can be determined.
MIN_PEAKS = 6
MAX_ROWS = 100_000
#: Roll periods of yachts, with a margin (common practice, no source). [s]
SHORTEST_S, LONGEST_S = 1.0, 40.0
#: Instruments do not show a smaller decay. [deg]
LEAST_ROLL_DEG = 0.5
MAX_BYTES = 20_000_000


@dataclass(frozen=True)
class DecayRecord:
    """Peaks of one free decay.

    ``roll_rad`` is signed when ``signed``; ``half_cycles`` counts from the first peak.
    """

    path: str
    time_s: Floats
    roll_rad: Floats
    half_cycles: Floats
    signed: bool


def read_decay_record(path: str | Path, *, same_side: bool = False) -> DecayRecord:
    """Read and check a record.

    Parameters
    ----------
    path
        CSV with a header holding ``time_s`` and ``roll_deg``; lines beginning with
        ``#`` are passed over.
    same_side
        The peaks are all on one side, a full cycle apart.

    Raises
    ------
    LogError
        With every problem of the file.
    """
    path = Path(path)
    time_s, roll_deg, lines = _read_columns(path)
    problems = [*_check(str(path), time_s, roll_deg, lines, same_side=same_side)]
    if problems:
        raise LogError(join_problems(problems))
    step = 2.0 if same_side else 1.0
    return DecayRecord(
        path=str(path),
        time_s=time_s,
        roll_rad=roll_deg * DEG_RAD,
        half_cycles=step * np.arange(time_s.size, dtype=float),
        signed=not same_side and _alternates(roll_deg),
    )


def _read_columns(path: Path) -> tuple[Floats, Floats, list[int]]:
    """Times, rolls and line numbers of the file."""

    def fail(what: str, fix: str = "", place: str = "") -> LogError:
        return LogError(str(Problem(file=str(path), place=place, what=what, fix=fix)))

    if reason := why_not_plain(path):
        raise fail(reason, "Give the name of a CSV file.")
    try:
        if path.is_file() and path.stat().st_size > MAX_BYTES:
            raise fail(f"is over {MAX_BYTES // 1_000_000} MB", "Is it a roll-decay record?")
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise fail("does not exist", "Check the name.") from None
    except IsADirectoryError:
        raise fail("is a folder", "Give the name of a CSV file.") from None
    except UnicodeDecodeError:
        raise fail("is not UTF-8 text", "Save the record as CSV, UTF-8.") from None
    except OSError as err:
        raise fail(f"cannot be read: {err.strerror}", "Check its permissions.") from err
    if wide := why_not_a_table(text):
        raise fail(wide, "Is it a roll-decay record? A row is a peak.")
    rows = [
        (number, line)
        for number, line in enumerate(text.splitlines(), 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not rows:
        raise fail("is empty", "Give a header time_s,roll_deg and a line for each peak.")
    if len(rows) > MAX_ROWS:
        raise fail(f"has over {MAX_ROWS} rows", "Give the peaks only, not the whole signal.")
    delimiter = ";" if ";" in rows[0][1] else ","
    header = [name.strip() for name in next(csv.reader([rows[0][1]], delimiter=delimiter))]
    missing = [name for name in ("time_s", "roll_deg") if name not in header]
    if missing:
        raise fail(
            f"header {rows[0][1].strip()[:60]!r} has no {' and no '.join(missing)}",
            "The first line must name the columns time_s and roll_deg.",
            str(rows[0][0]),
        )
    at = header.index("time_s"), header.index("roll_deg")
    values: list[tuple[float, float]] = []
    lines: list[int] = []
    problems: list[Problem] = []
    for number, line in rows[1:]:
        cells = next(csv.reader([line], delimiter=delimiter))
        pair = []
        for name, column in zip(("time_s", "roll_deg"), at, strict=True):
            cell = cells[column].strip() if column < len(cells) else ""
            try:
                value = float(cell)
            except ValueError:
                value = math.nan
            if not math.isfinite(value):
                fix = "Write decimals with a point." if "," in cell else "Give a number."
                problems.append(
                    Problem(
                        file=str(path),
                        place=str(number),
                        what=f"{name} = {cell[:20]!r}: not a finite number",
                        fix=fix,
                    )
                )
            pair.append(value)
        values.append((pair[0], pair[1]))
        lines.append(number)
    if problems:
        shown = problems[:20]
        if len(problems) > 20:
            shown.append(Problem(file=str(path), what=f"and {len(problems) - 20} more lines"))
        raise LogError(join_problems(shown))
    table = np.asarray(values, dtype=float).reshape(-1, 2)
    return table[:, 0], table[:, 1], lines


def _check(
    file: str, time_s: Floats, roll_deg: Floats, lines: list[int], *, same_side: bool
) -> list[Problem]:
    """Whether the rows are the peaks of one decay."""
    n = time_s.size
    if n < MIN_PEAKS:
        return [
            Problem(
                file=file,
                what=f"{n} peaks; at least {MIN_PEAKS} are needed to tell two dampings apart",
                fix="Record a longer decay, or start from a larger angle.",
            )
        ]
    steps = np.diff(time_s)
    problems = []
    if (steps <= 0).any():
        i = int(np.argmax(steps <= 0)) + 1
        return [
            Problem(
                file=file,
                place=str(lines[i]),
                what=f"time_s = {time_s[i]:g} s: not after the time before, {time_s[i - 1]:g} s",
                fix="Sort the peaks by time.",
            )
        ]
    middle = float(np.median(steps))
    odd = np.abs(steps / middle - 1.0) > 0.3
    if odd.any():
        i = int(np.argmax(odd)) + 1
        problems.append(
            Problem(
                file=file,
                place=str(lines[i]),
                what=f"time_s = {time_s[i]:g} s: {steps[i - 1]:.3g} s after the peak before, "
                f"where the others are about {middle:.3g} s apart",
                fix="Give every peak of one decay, and none twice.",
            )
        )
    alternating = not same_side and _alternates(roll_deg)
    constant = bool((np.sign(roll_deg) == np.sign(roll_deg[0])).all()) and roll_deg[0] != 0.0
    if not (constant or alternating):
        word = "all on one side" if same_side else "from side to side, or all without sign"
        signs = np.sign(roll_deg)
        i = int(np.argmax(signs[1:] * signs[:-1] >= 0)) + 1
        problems.append(
            Problem(
                file=file,
                place=str(lines[i]),
                what=f"roll_deg = {roll_deg[i]:g} deg: the peaks must go {word}",
                fix="Give the peaks, not the whole signal; --same-side for one side only.",
            )
        )
    size = _centred_sizes(roll_deg, alternating=alternating)
    if size.max() > 60.0:
        problems.append(
            Problem(
                file=file,
                what=f"roll_deg reaches {size.max():g} deg, and must stay under 60 deg",
                fix="Give degrees.",
            )
        )
    problems += _units(file, size, 2.0 * middle * (0.5 if same_side else 1.0))
    rises = np.diff(size) > 0.02 * size[0]
    if size[-1] > 0.8 * size[0] or rises.mean() > 0.25:
        problems.append(
            Problem(
                file=file,
                what=f"the peaks do not die away: {size[0]:.3g} deg at first, {size[-1]:.3g} "
                f"deg at last, rising in {int(rises.sum())} of {rises.size} steps",
                fix="Use a decay in calm water, without fins and with the rudder still. If she "
                "has a list, give the peaks with signs, so that it can be taken out.",
            )
        )
    return problems


def _units(file: str, size_deg: Floats, period_s: float) -> list[Problem]:
    """Sizes and periods that no yacht has, with the unit that would explain them."""
    problems = []
    largest = float(size_deg.max())
    if largest < LEAST_ROLL_DEG:
        hint = ""
        if LEAST_ROLL_DEG < largest / DEG_RAD <= 60.0:
            hint = f" Are they radians? Then the largest is {largest / DEG_RAD:.1f} deg."
        problems.append(
            Problem(
                file=file,
                what=f"the largest peak is {largest:.3g} deg, less than can be read off",
                fix=f"Give degrees, from {LEAST_ROLL_DEG:g} deg up.{hint}",
            )
        )
    if not SHORTEST_S <= period_s <= LONGEST_S:
        units = {1000.0: "milliseconds", 1.0 / 60.0: "minutes", 1.0 / 3600.0: "hours",
                 1.0 / 86400.0: "days"}  # fmt: skip
        hint = "".join(
            f" Are the times {word}? Then it is {period_s / factor:.3g} s."
            for factor, word in units.items()
            if SHORTEST_S <= period_s / factor <= LONGEST_S
        )
        problems.append(
            Problem(
                file=file,
                what=f"the peaks give a roll period of {period_s:.4g} s, and yachts roll in "
                f"{SHORTEST_S:g} to {LONGEST_S:g} s",
                fix=f"Give time_s in seconds.{hint}",
            )
        )
    return problems


def _alternates(roll_deg: Floats) -> bool:
    """Signed peaks from side to side; a list may keep the last ones on one side."""
    turns = np.sign(np.diff(roll_deg))
    return bool((turns[1:] * turns[:-1] < 0).all() and (roll_deg < 0).any())


def _centred_sizes(roll_deg: Floats, *, alternating: bool) -> Floats:
    """Sizes of peaks with a steady list taken out where signs allow."""
    if not alternating:
        return np.abs(roll_deg)
    return np.abs(np.diff(roll_deg)) / 2.0
