"""One quantity over all the files that hold it, read by windows in our units."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import ForecastError, Problem, join_problems
from passage.inputs.forecast.axes import Grid
from passage.inputs.forecast.damage import damage_words
from passage.inputs.forecast.names import Meaning
from passage.inputs.forecast.opener import quiet
from passage.inputs.forecast.piece import Piece
from passage.inputs.forecast.quantity import range_of
from passage.units import utc_text

Floats = npt.NDArray[np.float64]


#: Most doubts of one series that are kept.
_MOST_DOUBTS = 10


@dataclass(frozen=True)
class Window:
    """Index ranges to read: times, latitudes, longitudes (may run past the wrap)."""

    time: tuple[int, int]
    lat: tuple[int, int]
    lon: tuple[int, int]

    @property
    def cells(self) -> int:
        """Number of time-space cells."""
        sizes = [b - a for a, b in (self.time, self.lat, self.lon)]
        return sizes[0] * sizes[1] * sizes[2]

    def holds(self, other: Window) -> bool:
        """Whether the other window lies inside this one."""
        mine = (self.time, self.lat, self.lon)
        theirs = (other.time, other.lat, other.lon)
        return all(a[0] <= b[0] and b[1] <= a[1] for a, b in zip(mine, theirs, strict=True))

    def joined(self, other: Window) -> Window:
        """Smallest window that holds both."""

        def both(a: tuple[int, int], b: tuple[int, int]) -> tuple[int, int]:
            return min(a[0], b[0]), max(a[1], b[1])

        return Window(
            both(self.time, other.time),
            both(self.lat, other.lat),
            both(self.lon, other.lon),
        )


@dataclass(eq=False)
class Series:
    """A quantity joined in time; ``time_s`` is empty when it is constant."""

    meaning: Meaning
    grid: Grid
    pieces: list[Piece]
    time_s: Floats
    starts: list[int]
    #: What in the values read so far looks like damage, a sentence each.
    doubts: dict[str, None] = field(default_factory=dict)
    #: Least and greatest value read so far; (inf, -inf) before any.
    span: tuple[float, float] = (np.inf, -np.inf)
    #: Likely values read, and those of them outside the file's own valid range, by variable.
    left_out: dict[str, tuple[int, int]] = field(default_factory=dict)

    @property
    def n_members(self) -> int:
        """Ensemble members; 1 when there is no ensemble."""
        return self.pieces[0].n_members

    @property
    def kind(self) -> str:
        """Kind of the meaning."""
        return self.meaning.kind

    def read(self, window: Window, member: int, problems: list[Problem]) -> Any:
        """Values ``(time, lat, lon[, frequency, direction])`` in our units, NaN if none.

        Impossible values are added to ``problems``.
        """
        t0, t1 = window.time
        parts = []
        if not self.time_s.size:
            parts.append(_read_piece(self.pieces[0], None, window, member, problems, self.left_out))
        for piece, start in zip(self.pieces, self.starts, strict=True):
            if not self.time_s.size or piece.times is None:
                continue
            a, b = max(t0, start), min(t1, start + piece.times.time_s.size)
            if a < b:
                span = (a - start, b - start)
                parts.append(_read_piece(piece, span, window, member, problems, self.left_out))
        values = parts[0] if len(parts) == 1 else np.concatenate(parts, axis=0)
        if not problems and values.ndim == 3 and values.size:
            self._look(values, window)
        return values

    def _look(self, values: Any, window: Window) -> None:
        """Note what passes every check and still looks like damage."""
        width = window.lon[1] - window.lon[0]
        with np.errstate(invalid="ignore"):
            low, high = np.fmin.reduce(values, axis=None), np.fmax.reduce(values, axis=None)
        if np.isfinite(low):
            self.span = min(self.span[0], float(low)), max(self.span[1], float(high))

        def place(cell: int) -> str:
            lat = self.grid.lat_deg[window.lat[0] + cell // width]
            lon = self.grid.lon_deg[(window.lon[0] + cell % width) % self.grid.lon_deg.size]
            return f"{lat:.2f}, {(lon + 180.0) % 360.0 - 180.0:.2f}"

        times = [utc_text(t) for t in self.time_s[slice(*window.time)]] or ["its one hour"]
        turn = 2.0 * np.pi if self.meaning.quantity == "direction" else None
        for words in damage_words(
            values, self.meaning.words, circle=turn, jumps=self.meaning.jumps,
            height=(self.meaning.system, self.meaning.quantity) == ("total", "height"),
            time_words=times, place_words=place,
        ):  # fmt: skip
            if len(self.doubts) < _MOST_DOUBTS:
                self.doubts[words] = None


def _lon_slices(piece: Piece, lon: tuple[int, int]) -> list[tuple[int, int]]:
    n = piece.grid.lon_deg.size
    spans = []
    a, b = lon
    while a < b:
        turn = a // n
        end = min(b, (turn + 1) * n)
        spans.append((a - turn * n, end - turn * n))
        a = end
    return spans


def _file_slice(order: npt.NDArray[np.int64], a: int, b: int) -> tuple[slice, bool]:
    """Slice in the file for positions a..b of our order, and whether to flip it."""
    first, last = int(order[a]), int(order[b - 1])
    if first <= last:
        return slice(first, last + 1), False
    return slice(last, first + 1), True


def _read_piece(
    piece: Piece,
    span: tuple[int, int] | None,
    window: Window,
    member: int,
    problems: list[Problem],
    left_out: dict[str, tuple[int, int]],
) -> Any:
    key: dict[str, Any] = dict(piece.fixed)
    if piece.member_dim:
        key[piece.member_dim] = piece.member_index(member)
    times = piece.times
    time_dims = times.dims if times is not None else ()
    if span is not None and len(time_dims) == 1:
        key[time_dims[0]] = slice(*span)
    lat_slice, lat_flip = _file_slice(piece.grid.lat_order, *window.lat)
    key[piece.lat_dim] = lat_slice
    extra = [d for d in (piece.frequency_dim, piece.direction_dim) if d]
    wanted = [*time_dims, piece.lat_dim, piece.lon_dim, *extra]
    parts = []
    for a, b in _lon_slices(piece, window.lon):
        lon_slice, lon_flip = _file_slice(piece.grid.lon_order, a, b)
        key[piece.lon_dim] = lon_slice
        values = read_values(piece, key, wanted)
        n_time = len(time_dims)
        tail = values.shape[n_time:]
        values = values.reshape((-1, *tail))
        if span is not None and n_time > 1:
            values = values[span[0] : span[1]]
        if lat_flip:
            values = values[:, ::-1]
        if lon_flip:
            values = values[:, :, ::-1]
        parts.append(values)
    joined = parts[0] if len(parts) == 1 else np.concatenate(parts, axis=2)
    return _checked(piece, joined, window, span, problems, left_out)


def read_values(piece: Piece, key: dict[str, Any], wanted: list[str]) -> Any:
    """Part of a piece's variable in single precision, dimensions in the order wanted."""
    try:
        with quiet():
            part = piece.dataset.variables[piece.variable].isel(key)
            values = np.asarray(part.transpose(*wanted).values)
    except Exception as err:  # a damaged chunk surfaces only now
        text = (str(err).strip().splitlines() or [type(err).__name__])[0][:120]
        problem = Problem(
            file=piece.file,
            what=f"variable '{piece.variable}' cannot be read ({text})",
            fix="The file is probably cut short or damaged; fetch it again.",
        )
        raise ForecastError(str(problem)) from err
    if np.ma.isMaskedArray(values):
        values = values.filled(np.nan)
    with np.errstate(invalid="ignore", over="ignore"):
        return values.astype(np.float32, copy=False)


def _checked(
    piece: Piece,
    values: Any,
    window: Window,
    span: tuple[int, int] | None,
    problems: list[Problem],
    left_out: dict[str, tuple[int, int]],
) -> Any:
    """Values in our units; those outside the believable range become problems.

    Numbers of likely values, and of those outside the file's own range, are added to
    ``left_out`` by variable.
    """
    meaning = piece.meaning
    low, high = piece.valid
    outside = None
    if np.isfinite([low, high]).any():
        # A packed bound is rounded in its last digit.
        slack = 1e-6 * max(abs(x) for x in (low, high) if np.isfinite(x))
        with np.errstate(invalid="ignore"):
            outside = (values < low - slack) | (values > high + slack)
    with np.errstate(invalid="ignore", over="ignore", under="ignore"):
        # What overflows here is refused below.
        if piece.log10:
            values = np.power(10.0, values, dtype=np.float32)
        if piece.factor != 1.0:
            values = values * np.float32(piece.factor)
    limits = range_of(meaning.system, meaning.quantity)
    least, most = np.float32(limits.low), np.float32(limits.high)
    if outside is not None:
        # Fill values, which nobody would miss, are not counted.
        with np.errstate(invalid="ignore"):
            likely = (values >= least) & (values <= most)
        known, out = left_out.get(piece.variable, (0, 0))
        left_out[piece.variable] = (
            known + int(np.count_nonzero(likely)), out + int(np.count_nonzero(outside & likely))
        )  # fmt: skip
        values = np.where(outside, np.float32(np.nan), values)
    with np.errstate(invalid="ignore"):
        wrong = (values < least) | (values > most)
    if not wrong.any():
        return values
    at = tuple(int(i[0]) for i in np.nonzero(wrong))
    count = int(np.count_nonzero(wrong))
    shown = float(values[at]) / limits.per_unit
    lat = piece.grid.lat_deg[window.lat[0] + at[1]]
    lon = piece.grid.lon_deg[(window.lon[0] + at[2]) % piece.grid.lon_deg.size]
    when = ""
    if span is not None and piece.times is not None:
        when = f" at {utc_text(piece.times.time_s[span[0] + at[0]])}"
    low_text = f"{limits.low / limits.per_unit:.4g}"
    high_text = f"{limits.high / limits.per_unit:.4g}"
    problems.append(
        Problem(
            file=piece.file,
            what=f"variable '{piece.variable}' ({meaning.words}) is {shown:.6g} "
            f"{limits.unit} at {lat:.3f}, {lon:.3f}{when} ({count} such values); "
            f"believable is {low_text} to {high_text} {limits.unit}",
            fix="Either the unit is wrong, or it is a fill value that no _FillValue "
            "attribute names; correct the file's attributes.",
        )
    )
    return np.where(wrong, np.float32(np.nan), values)


def join_in_time(meaning: Meaning, pieces: list[Piece]) -> Series:
    """Join the pieces of one quantity, in order of time.

    Raises
    ------
    ForecastError
        Different grids or member counts, overlapping hours.
    """
    problems: list[Problem] = []
    still = [p for p in pieces if p.times is None]
    if still:
        if len(pieces) > 1:
            names = ", ".join(f"{Path(p.file).name}: {p.variable}" for p in pieces)
            problem = Problem(
                file=pieces[0].file,
                what=f"{meaning.words} is given more than once ({names})",
                fix="Give one of them.",
            )
            raise ForecastError(str(problem))
        return Series(meaning, pieces[0].grid, pieces, np.zeros(0), [0])
    ordered = sorted(pieces, key=lambda p: float(_times(p)[0]))
    for one, two in pairwise(ordered):
        problems += _join_problems(meaning, one, two)
    if problems:
        raise ForecastError(join_problems(problems))
    starts, total = [], 0
    for piece in ordered:
        starts.append(total)
        total += _times(piece).size
    time_s = np.concatenate([_times(p) for p in ordered])
    return Series(meaning, ordered[0].grid, ordered, time_s, starts)


def _times(piece: Piece) -> Floats:
    assert piece.times is not None
    return piece.times.time_s


def _join_problems(meaning: Meaning, one: Piece, two: Piece) -> list[Problem]:
    found = []
    names = f"{Path(one.file).name} and {Path(two.file).name}"
    if one.file == two.file:
        names = f"variables {one.variable} and {two.variable}"
    if not one.grid.same_as(two.grid):
        found.append(
            Problem(
                file=two.file,
                what=f"{meaning.words} has another grid than in {one.file}",
                fix="Give files of one grid for one quantity.",
            )
        )
    if one.n_members != two.n_members:
        found.append(
            Problem(
                file=two.file,
                what=f"{meaning.words} has {two.n_members} members, {one.file} has {one.n_members}",
                fix="Give files of one ensemble.",
            )
        )
    end, start = float(_times(one)[-1]), float(_times(two)[0])
    if start <= end:
        first, second = _run_text(one), _run_text(two)
        runs_text = f" (runs {first} and {second})" if first != second else ""
        rule = "Different runs must not be mixed" if runs_text else "An hour may be given once"
        found.append(
            Problem(
                file=two.file,
                what=f"{meaning.words} is given twice for {utc_text(start)} to "
                f"{utc_text(min(end, float(_times(two)[-1])))}, by {names}{runs_text}",
                fix=f"{rule}: give one file, or cut them so that their hours do not overlap.",
            )
        )
    return found


def _run_text(piece: Piece) -> str:
    run = piece.times.run_s if piece.times is not None else None
    return utc_text(run) if run is not None else "unknown"


def run_breaks(pieces: list[Piece]) -> list[tuple[float, float]]:
    """Intervals between pieces of different runs whose hours do not meet.

    Two runs meet when no more lies between them than the longer of their own steps. A
    chain of analyses or a hindcast, with one time in a file or no run stated, is one
    series whatever lies between.

    Returns
    -------
    list of (float, float)
        Last time of the one and first of the other. [s]
    """
    breaks = []
    ordered = sorted((p for p in pieces if p.times is not None), key=lambda p: _times(p)[0])
    for one, two in pairwise(ordered):
        assert one.times is not None
        assert two.times is not None
        runs = one.times.run_s, two.times.run_s
        steps = [float(np.median(np.diff(_times(p)))) for p in (one, two) if _times(p).size > 1]
        if None in runs or runs[0] == runs[1] or len(steps) < 2:
            continue
        end, start = float(_times(one)[-1]), float(_times(two)[0])
        if start - end > 1.01 * max(steps):
            breaks.append((end, start))
    return breaks


def gaps_in(
    time_s: Floats, longest_s: float, breaks: Sequence[tuple[float, float]] = ()
) -> npt.NDArray[np.bool_]:
    """Which intervals are too long to be bridged by interpolation.

    More than ``longest_s``, whatever the others are; more than three times the longer
    of the neighbouring intervals; or across a break between runs.
    """
    step = np.diff(time_s)
    gap = np.asarray(step > longest_s + 1.0)
    if step.size > 1:
        left = np.concatenate([[0.0], step[:-1]])
        right = np.concatenate([step[1:], [0.0]])
        gap |= step > 3.01 * np.maximum(left, right)
    for end, start in breaks:
        gap |= (time_s[:-1] <= end) & (time_s[1:] >= start)
    return gap
