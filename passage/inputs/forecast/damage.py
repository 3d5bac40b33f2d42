"""Values that pass every check of a file and still cannot be the sea: stuck runs, wild hours.

Some files carry no checksums. Where a block of them is overwritten by zeros or by one
value, or where a bit of a packing constant is flipped, each value stays believable; only
its neighbours show the damage. What is found is reported with place and time and left as it
is: the user looks at the map and fetches the file again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from passage.inputs.forecast.strays import (
    lone_cells,
    sudden_calms,
    tiny_values,
    without_order,
)

if TYPE_CHECKING:
    from passage.inputs.forecast.series import Series

Singles = npt.NDArray[np.float32]
Indices = npt.NDArray[np.int64]

#: Equal values in a row that are suspect. Packed and binned fields (peak periods) have as
#: many in every hour, and are not reported.
RUN = 12
#: Where at most this share of neighbours is equal a field varies.
_VARIES = 0.2
#: A run must differ from the neighbouring hours this many times as much as the rest of its field.
_FAR = 3.0
#: A wild hour differs from both neighbouring hours this many times more than these differ
#: from each other, or than hours usually do, and by this share of the usual value.
_WILD, _WILD_SHARE = 4.0, 0.4
#: Fewest hours from which a usual change can be found.
_HOURS = 5
#: Cells that a median over a field is taken from at most.
_CELLS = 4096
_MOST = 5
_FETCH = "is the file damaged? Look at the map, or fetch it again"


@dataclass(frozen=True)
class Stuck:
    """``length`` equal values in field ``time``, from flat cell ``first``."""

    time: int
    first: int
    length: int
    value: float


def stuck_runs(values: Singles) -> list[Stuck]:
    """Runs of one value where the field and the same cells an hour before and after vary.

    Parameters
    ----------
    values : ndarray, (time, lat, lon)
        NaN where there is none.
    """
    fields = values.reshape(values.shape[0], -1)
    if fields.shape[0] < 2 or fields.shape[1] < 2 * RUN:
        return []
    same = fields[:, 1:] == fields[:, :-1]
    # Most files have no run at all: check a few pairs first, which is cheap.
    hit = same[:, RUN // 2 :: RUN // 2].any(axis=1)
    found: list[Stuck] = []
    for time in np.flatnonzero(hit):
        edges = np.diff(np.concatenate([[False], same[time], [False]]).astype(np.int8))
        starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
        for first, last in zip(starts, ends, strict=True):
            if last - first + 1 >= RUN and _alone(fields, same, int(time), int(first), int(last)):
                run = Stuck(int(time), int(first), int(last - first + 1),
                            float(fields[time, first]))  # fmt: skip
                found.append(run)
                if len(found) >= _MOST:
                    return found
    return found


def _alone(fields: Singles, same: npt.NDArray[np.bool_], time: int, first: int, last: int) -> bool:
    """Whether everything beside a run, in place and time, varies."""
    rest = np.ones(same.shape[1], bool)
    rest[first : last + 1] = False
    known = rest & np.isfinite(fields[time, 1:]) & np.isfinite(fields[time, :-1])
    if np.count_nonzero(known) >= RUN and np.mean(same[time, known]) > _VARIES:
        return False
    beside = [t for t in (time - 1, time + 1) if 0 <= t < fields.shape[0]]
    here = slice(first, last + 1)
    for t in beside:
        if np.mean(same[t, first:last]) > _VARIES or np.isnan(fields[t, here]).mean() > 0.1:
            return False
    with np.errstate(invalid="ignore"):
        usual = np.abs(fields[time] - fields[beside].mean(axis=0))
    away = float(np.nanmedian(usual[here]))
    usual[here] = np.nan
    around = float(np.nanmedian(usual)) if np.isfinite(usual).any() else 0.0
    return away > _FAR * around and away > 0.0


def still_hours(values: Singles) -> list[int]:
    """Hours whose whole field is one value, not 0, where that of another hour varies.

    0 is left out: a swell may be absent for an hour.
    """
    fields = values.reshape(values.shape[0], -1)
    if fields.shape[0] < 2 or fields.shape[1] < RUN:
        return []
    low, high = np.fmin.reduce(fields, axis=1), np.fmax.reduce(fields, axis=1)
    still = (low == high) & (low != 0.0) & (np.isfinite(fields).sum(axis=1) >= RUN)
    varies = [np.mean(one[1:] == one[:-1]) <= _VARIES for one in fields[~still & (high > low)]]
    return [int(t) for t in np.flatnonzero(still)] if any(varies) else []


def wild_times(values: Singles, *, circle: float | None = None) -> list[int]:
    """Hours whose field departs wildly from the hours before and after, which agree.

    ``circle`` is the value of a full turn where values are directions.
    """
    n = values.shape[0]
    if n < _HOURS:
        return []
    fields = values.reshape(n, -1)
    fields = fields[:, :: max(1, fields.shape[1] // _CELLS)].astype(float)
    steps = [_typical_change(fields[i + 1], fields[i], circle) for i in range(n - 1)]
    usual = float(np.nanmedian(steps)) if np.isfinite(steps).any() else np.nan
    if not np.isfinite(usual):
        return []
    size = circle / 6.0 if circle else float(np.nanmedian(np.abs(fields)))
    found = []
    for t in range(1, n - 1):
        bar = max(usual, _typical_change(fields[t + 1], fields[t - 1], circle))
        least = min(steps[t - 1], steps[t])
        if least > _WILD * bar and least > _WILD_SHARE * size:
            found.append(t)
    # The first and last hour have one neighbour, which must not be the wild one.
    for t, beside, step in ((0, 1, steps[0]), (n - 1, n - 2, steps[-1])):
        if beside not in found and step > max(2.0 * _WILD * usual, _WILD_SHARE * size):
            found.append(t)
    return sorted(found)


def _typical_change(
    one: npt.NDArray[np.float64], two: npt.NDArray[np.float64], circle: float | None
) -> float:
    away = one - two
    if circle:
        away = (away + circle / 2.0) % circle - circle / 2.0
    away = np.abs(away[np.isfinite(away)])
    return float(np.median(away)) if away.size else np.nan


def damage_words(
    values: Singles,
    what: str,
    *,
    circle: float | None,
    jumps: bool = False,
    height: bool = False,
    time_words: Sequence[str],
    place_words: Callable[[int], str],
) -> list[str]:
    """Sentences about what was found in the fields of one variable.

    Parameters
    ----------
    values : ndarray, (time, lat, lon)
    what : str
        Words for the quantity.
    circle : float or None
        A full turn, for directions.
    jumps : bool
        A sound field jumps from cell to cell, as a peak period does where two seas are
        equally high, or where systems change numbers: single cells then prove nothing.
    height : bool
        The height of the whole sea, which is never 0 between two hours of waves.
    time_words : sequence of str
        One for each field.
    place_words : callable
        Words for a flat cell.
    """
    if values.ndim != 3:
        return []
    with np.errstate(invalid="ignore", over="ignore"):
        # A damaged file may hold NaN of the kind that signals.
        runs, hours = stuck_runs(values), wild_times(values, circle=circle)
        tiny = tiny_values(values)
        lone = tiny[:0] if jumps else lone_cells(values, circle=circle)
        mixed = not jumps and without_order(values, circle=circle)
    words = [
        f"{what}: {run.length} cells in a row are exactly {run.value:g} at "
        f"{time_words[run.time]}, from {place_words(run.first)} on, where the values beside them "
        f"and the hours before and after vary: {_FETCH}"
        for run in runs
    ]
    still = still_hours(values)
    if still:
        more = f" (and {len(still) - 1} more)" if len(still) > 1 else ""
        words.append(
            f"{what}: the whole field of {time_words[still[0]]}{more} is exactly "
            f"{np.nanmax(values[still[0]]):g}, where other hours vary: {_FETCH}"
        )
    words += [
        f"{what}: the field of {time_words[t]} is far from those of the hours before and after: "
        f"{_FETCH}"
        for t in hours[:_MOST]
    ]
    cells = values.shape[1] * values.shape[2]

    def where(found: Indices) -> str:
        time, cell = divmod(int(found[0]), cells)
        first = "" if found.size == 1 else "the first "
        return f"{first}at {time_words[time]}, {place_words(cell)}"

    some = [
        (tiny, "neither 0 nor a computed value"),
        (
            sudden_calms(values) if height else tiny[:0],
            "exactly 0 m, with waves of half a metre and more there before and after",
        ),
        (lone[~np.isin(lone, tiny)], "far from all its neighbours, which agree in place and time"),
    ]
    words += [
        f"{what}: {found.size} value{'s' * (found.size > 1)}, {where(found)}, "
        f"{'are' if found.size > 1 else 'is'} {how}: {_FETCH}"
        for found, how in some
        if found.size
    ]
    if mixed:
        words.append(
            f"{what}: values beside one another are as different as any two of the file, "
            f"in place and time: {_FETCH}"
        )
    return words


def left_out_words(left_out: Mapping[str, tuple[int, int]]) -> list[str]:
    """Words on values that the file itself does not call valid.

    ``left_out`` has, by variable, how many likely values were read and how many of them lie
    outside the file's range. Variables of the same share are named together.
    """
    shares: dict[str, list[str]] = {}
    for variable, (known, out) in left_out.items():
        if out:
            shares.setdefault(f"{100.0 * out / known:.3g}", []).append(variable)
    if not shares:
        return []
    listed = "; ".join(f"{', '.join(names)}: {share} %" for share, names in shares.items())
    return [
        f"{listed} of the values lie outside the range that the file itself calls valid "
        "(valid_min, valid_max or valid_range) and count as missing; if that range is wrong, "
        "correct it in the file"
    ]


def missing_component(series: Sequence[Series]) -> list[str]:
    """Words where one component of a flow is exactly 0 wherever it was read, the other not."""
    flows = [one for one in series if one.meaning.quantity in ("eastward", "northward")]
    still = [one for one in flows if one.span == (0.0, 0.0)]
    moving = [one for one in flows if one.span[1] > one.span[0]]
    if len(still) != 1 or len(moving) != 1:
        return []
    return [
        f"{still[0].meaning.words}: is exactly 0 in every cell and hour that was read, and "
        f"{moving[0].meaning.words} varies: is the file damaged, or a variable not filled in? "
        "Look at the map, or fetch it again"
    ]
