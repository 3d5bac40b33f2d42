"""Read a roll-decay record and fit damping to it.

A record is a CSV of ``time_s`` and ``roll_deg``: the times and sizes of the peaks of
roll after the ship was set rolling in calm water, from one side to the other. Sizes
may be signed (+ to starboard, alternating) or all positive.
"""

from __future__ import annotations

import csv
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from passage.errors import LogError, Problem, join_problems
from passage.physics.damping import decay_amplitude
from passage.units import DEG_RAD

Floats = NDArray[np.float64]

#: Fewest peaks from which two dampings and their uncertainty can be told.
MIN_PEAKS = 6
MAX_ROWS = 100_000


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


@dataclass(frozen=True)
class DecayFit:
    """What a record says, each with its standard uncertainty.

    ``quadratic_damping`` is b of phi'' + 2 zeta w0 phi' + b |phi'| phi' + w0^2 phi = 0
    (per radian); a half cycle loses pi zeta phi + (4/3) b phi^2. An uncertainty of NaN
    means the value was not fitted but set to zero, and a note says so.
    """

    damping_ratio: float
    damping_ratio_sd: float
    quadratic_damping: float
    quadratic_damping_sd: float
    natural_period_s: float
    natural_period_sd_s: float
    list_deg: float
    residual_deg: float
    correlation: float
    n_peaks: int
    amplitude_range_deg: tuple[float, float]
    notes: tuple[str, ...]

    def equivalent_ratio(self, amplitude_rad: float | Floats) -> Floats:
        """Damping ratio of the linear system that loses as much at an amplitude."""
        loss = 4.0 / (3.0 * math.pi) * self.quadratic_damping * np.asarray(amplitude_rad)
        return np.asarray(self.damping_ratio + loss)


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

    try:
        text = path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise fail("does not exist", "Check the name.") from None
    except IsADirectoryError:
        raise fail("is a folder", "Give the name of a CSV file.") from None
    except UnicodeDecodeError:
        raise fail("is not UTF-8 text", "Save the record as CSV, UTF-8.") from None
    except OSError as err:
        raise fail(f"cannot be read: {err.strerror}", "Check its permissions.") from err
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
    rises = np.diff(size) > 0.02 * size[0]
    if size[-1] > 0.8 * size[0] or rises.mean() > 0.25:
        problems.append(
            Problem(
                file=file,
                what=f"the peaks do not die away: {size[0]:.3g} deg at first, {size[-1]:.3g} "
                f"deg at last, rising in {int(rises.sum())} of {rises.size} steps",
                fix="Use a decay in calm water, without fins and with the rudder still. If she has a "
                "list, give the peaks with signs, so that it can be taken out.",
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


def fit_decay(record: DecayRecord) -> DecayFit:
    """Fit damping and period by least squares.

    The sizes of all peaks are fitted at once by the closed form of
    `passage.physics.damping.decay_amplitude`, with the first size and, for signed
    records, a steady list as further unknowns. Uncertainties are standard (one sigma),
    from the scatter of the peaks about the fit.

    Raises
    ------
    LogError
        No decay of this kind fits the peaks.
    """
    notes: list[str] = []
    sign = np.sign(record.roll_rad[0] - record.roll_rad[1]) * np.where(
        record.half_cycles % 2 == 0, 1.0, -1.0
    )
    size = record.roll_rad if record.signed else np.abs(record.roll_rad)
    free = [True, True]
    while True:
        solution = _solve(record, size, sign, free)
        values = _unpack(solution.x, free)
        # A damping that the scatter drives to zero is left out and the rest fitted
        # again, so that the uncertainty of what remains is honest.
        worst = [i for i in (0, 1) if free[i] and values[1 + i] <= 1e-9]
        if not worst:
            break
        free[worst[0]] = False
        if not any(free):
            raise _no_decay(record)
    first, zeta, quadratic, steady = values
    sd, correlation, residual = _uncertainty(solution, free, record.signed)
    if residual > 0.15 * first:
        raise _no_decay(record)
    if not free[0]:
        notes.append("linear damping is not distinguishable from zero; fitted without it")
    if not free[1]:
        notes.append("quadratic damping is not distinguishable from zero; fitted without it")
    if free[0] and sd[0] > 0.5 * zeta:
        notes.append("linear damping is known to no better than half its value")
    if free[1] and sd[1] > 0.5 * quadratic:
        notes.append("quadratic damping is known to no better than half its value")
    if first > 20.0 * DEG_RAD:
        notes.append(
            "the decay starts above 20 deg, where the righting arm is no longer a straight line"
        )
    period, period_sd = _period(record, zeta)
    sizes = np.abs(size - steady) if record.signed else size
    return DecayFit(
        damping_ratio=zeta,
        damping_ratio_sd=sd[0],
        quadratic_damping=quadratic,
        quadratic_damping_sd=sd[1],
        natural_period_s=period,
        natural_period_sd_s=period_sd,
        list_deg=steady / DEG_RAD,
        residual_deg=residual / DEG_RAD,
        correlation=correlation,
        n_peaks=record.time_s.size,
        amplitude_range_deg=(float(sizes.min()) / DEG_RAD, float(sizes.max()) / DEG_RAD),
        notes=tuple(notes),
    )


def _no_decay(record: DecayRecord) -> LogError:
    return LogError(
        str(
            Problem(
                file=record.path,
                what="no decay with linear and quadratic damping fits these peaks",
                fix="Check that they are the peaks of one free decay in calm water.",
            )
        )
    )


def _unpack(x: Floats, free: list[bool]) -> tuple[float, float, float, float]:
    """First size, zeta, b and list from the free unknowns (list last if there)."""
    rest = [float(value) for value in x[1:]]
    zeta = rest.pop(0) if free[0] else 0.0
    quadratic = rest.pop(0) if free[1] else 0.0
    return float(x[0]), zeta, quadratic, rest[0] if rest else 0.0


def _solve(record: DecayRecord, size: Floats, sign: Floats, free: list[bool]):  # type: ignore[no-untyped-def]
    """Least squares over the free unknowns."""
    n = record.half_cycles

    def residuals(x: Floats) -> Floats:
        first, zeta, quadratic, steady = _unpack(x, free)
        model = decay_amplitude(n, first, zeta, quadratic)
        return size - (sign * model + steady if record.signed else model)

    start = [float(np.abs(size[0]))]
    lower, upper, scale = [1e-6], [2.0], [start[0]]
    if free[0]:
        start.append(0.03)
        lower.append(0.0)
        upper.append(0.9)
        scale.append(0.03)
    if free[1]:
        start.append(0.2)
        lower.append(0.0)
        upper.append(50.0)
        scale.append(0.3)
    if record.signed:
        start.append(0.0)
        lower.append(-0.5)
        upper.append(0.5)
        scale.append(0.02)
    return least_squares(
        residuals, start, bounds=(lower, upper), x_scale=scale, xtol=1e-14, ftol=1e-14, gtol=1e-14
    )


def _uncertainty(solution, free: list[bool], signed: bool):  # type: ignore[no-untyped-def]
    """Standard uncertainties of zeta and b, their correlation, and the scatter."""
    jacobian = solution.jac
    n, p = jacobian.shape
    scatter = float(np.sqrt(2.0 * solution.cost / (n - p)))
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * scatter**2
    deviation = np.sqrt(np.diag(covariance))
    sd = [math.nan, math.nan]
    at = 1
    for i in (0, 1):
        if free[i]:
            sd[i] = float(deviation[at])
            at += 1
    correlation = 0.0
    if all(free) and deviation[1] > 0.0 and deviation[2] > 0.0:
        correlation = float(covariance[1, 2] / (deviation[1] * deviation[2]))
    return sd, correlation, scatter


def _period(record: DecayRecord, zeta: float) -> tuple[float, float]:
    """Natural period and its standard uncertainty from the times of the peaks."""
    n, t = record.half_cycles, record.time_s
    centred = n - n.mean()
    slope = float((centred * t).sum() / (centred**2).sum())
    residual = t - t.mean() - slope * centred
    sd = math.sqrt(float((residual**2).sum()) / (n.size - 2) / float((centred**2).sum()))
    undamped = math.sqrt(1.0 - zeta**2)
    return 2.0 * slope * undamped, 2.0 * sd * undamped
