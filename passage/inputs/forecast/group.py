"""Fields that share a grid and hours, loaded by windows and kept while they are of use."""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from passage.errors import ForecastError, Problem, join_problems
from passage.inputs.forecast.axes import Grid
from passage.inputs.forecast.conditions import MASKED, OK, Codes
from passage.inputs.forecast.sampler import (
    EDGE_DEG,
    MASK_WEIGHT,
    NONE_ALIKE,
    SAME_TIME_S,
    Alike,
    Axis,
    Block,
    Frame,
)
from passage.inputs.forecast.series import Series, Window, gaps_in, run_breaks
from passage.units import HOUR_S

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]
Build = Callable[[Mapping[str, Singles]], Singles]

#: Memory one group's block may take before only parts are loaded [bytes].
BLOCK_BYTES = 128 * 1024**2
#: Longest interval between two times that is bridged: sea and wind are other ones after
#: half a day; daily means of a current lie a day apart (common practice). [h]
USUAL_LONGEST_STEP_H, LONGEST_STEP_H = 12.0, {"current": 30.0}
#: Cells read at a time: bounds the memory that reading itself needs.
_SLAB_CELLS = 250_000


@dataclass(eq=False)
class Group:
    """Series on one grid with common hours, and the linear fields built from them."""

    name: str
    series: dict[str, Series]
    build: Build
    n_fields: int
    hold_s: float = 0.0
    raw_per_cell: int = 1
    most_bytes: int | None = None
    alike: Alike = NONE_ALIKE
    #: By member as sampled, its rank by number; empty for the same.
    member_order: tuple[int, ...] = ()
    time_s: Floats = field(init=False)
    frame: Frame = field(init=False)
    blocks: dict[int, tuple[Window, Block]] = field(init=False, default_factory=dict)
    hint: Window | None = field(init=False, default=None)
    # Departures are computed in threads: while one chooses and loads a block, no other may.
    _lock: threading.RLock = field(init=False, repr=False, default_factory=threading.RLock)

    def __post_init__(self) -> None:
        """Find the common hours and the frame."""
        every = list(self.series.values())
        common = every[0].time_s
        for one in every[1:]:
            common = np.intersect1d(common, one.time_s)
        self.time_s = common
        grid = self.grid
        lon = grid.lon_deg
        if grid.wraps:
            lon = np.concatenate([lon, [lon[0] + 360.0]])
        breaks = [b for one in every for b in run_breaks(one.pieces)]
        longest = HOUR_S * LONGEST_STEP_H.get(self.name, USUAL_LONGEST_STEP_H)
        gaps = gaps_in(common, longest, breaks)
        self.frame = Frame(common, grid.lat_deg, lon, gaps, self.hold_s)

    @property
    def left_out(self) -> dict[str, tuple[int, int]]:
        """Values read, and those outside the file's own range, by variable."""
        return {name: n for one in self.series.values() for name, n in one.left_out.items()}

    @property
    def grid(self) -> Grid:
        """The grid all series share."""
        return next(iter(self.series.values())).grid

    @property
    def n_members(self) -> int:
        """Ensemble members."""
        return max(s.n_members for s in self.series.values())

    @property
    def block_bytes(self) -> int:
        """Memory that the block may take. [bytes]"""
        return BLOCK_BYTES if self.most_bytes is None else self.most_bytes

    def set_hint(
        self,
        area: tuple[float, float, float, float] | None,
        time_from_s: float | None,
        time_to_s: float | None,
    ) -> bool:
        """Limit loading to an area (south, north, west, east) and hours.

        Returns
        -------
        bool
            False when the forecast has nothing there or then.
        """
        frame = self.frame
        n_lat, n_lon, n_t = frame.lat_deg.size, self.grid.lon_deg.size, frame.time_s.size
        lat, lon = (0, n_lat), (0, n_lon + (1 if self.grid.wraps else 0))
        if area is not None:
            south, north, west, east = area
            lat = _cover(frame.lat_deg, south, north)
            width = (east - west) % 360.0 if east - west < 360.0 else 360.0
            start = float(frame.east_of_west_edge(np.array([west]))[0])
            if width < 359.0:
                lon = self._lon_range(start, start + width)
            if lat[1] - lat[0] < 1 or lon[1] - lon[0] < 1:
                return False
        time = (0, max(n_t, 1))
        if n_t > 1:
            first = frame.time_s[0] if time_from_s is None else time_from_s
            last = frame.time_s[-1] if time_to_s is None else time_to_s
            time = _cover(frame.time_s, first, last)
            if time[1] - time[0] < 1:
                return False
        elif n_t == 1:
            reach = max(self.hold_s, SAME_TIME_S)
            late = time_from_s is not None and time_from_s > frame.time_s[0] + reach
            early = time_to_s is not None and time_to_s < frame.time_s[0] - reach
            if late or early:
                return False
        self.hint = Window(time, lat, lon)
        return True

    def _lon_range(self, start: float, end: float) -> tuple[int, int]:
        """Column range for start..end degrees east of the first column's meridian."""
        lon, n = self.frame.lon_deg, self.grid.lon_deg.size
        if self.grid.wraps:
            turned = np.concatenate([self.grid.lon_deg, self.grid.lon_deg + 360.0])
            turned = np.append(turned, lon[0] + 720.0)
            a, b = _cover(turned, start, end)
            return (0, n + 1) if b - a > n else (a, b)
        if start > lon[-1] + EDGE_DEG:
            # The area starts east of the grid and may reach round into it.
            if end - 360.0 < lon[0]:
                return (0, 0)
            start, end = lon[0], end - 360.0
        a, b = _cover(lon, start, end)
        if end - 360.0 >= lon[0]:
            return (0, n)
        return (a, b)

    def preload(self) -> bool:
        """Load the hinted window of the first member when it fits; true when it did."""
        if self.hint is None or self._bytes(self.hint) > self.block_bytes:
            return False
        with self._lock:
            self._load(self.hint, 0)
        return True

    def _bytes(self, window: Window) -> int:
        return window.cells * self.n_fields * 4

    def sample(
        self, lat_deg: Floats, lon_deg: Floats, time_s: Floats, member: int
    ) -> tuple[Singles, Codes]:
        """Interpolated fields ``(n, n_fields)`` and coverage codes for points ``(n,)``."""
        code = self.frame.coverage(lat_deg, lon_deg, time_s)
        fields = np.zeros((lat_deg.size, self.n_fields), np.float32)
        good = np.flatnonzero(code == OK)
        if good.size == 0:
            return fields, code
        east = self.frame.east_of_west_edge(lon_deg)
        if good.size == lat_deg.size:
            fields = self._gather(lat_deg, east, time_s, member)
        else:
            fields[good] = self._gather(lat_deg[good], east[good], time_s[good], member)
        code[fields[:, 0] > MASK_WEIGHT] = MASKED
        return fields, code

    def _gather(self, lat: Floats, east: Floats, time: Floats, member: int) -> Singles:
        """Gather, loading what is needed; points too far apart are halved until a block fits."""
        if self.n_members == 1:
            member = 0
        found = self._block_for(self._window(lat, east, time), member, divisible=lat.size > 1)
        if found is None:
            return self._halved(lat, east, time, member)
        window, block = found
        # Columns east of the wrap are counted from the block's own first column.
        first = block.lon.values[0] - EDGE_DEG
        if window.lon[1] > self.frame.lon_deg.size:
            east = first + np.mod(east - first, 360.0)
        return block.gather(lat, east, time)

    def _block_for(
        self, window: Window, member: int, *, divisible: bool
    ) -> tuple[Window, Block] | None:
        """A block that holds the window; None where it is too wide and could be divided.

        The caller keeps its block, whatever other threads load meanwhile.
        """
        with self._lock:
            held = self.blocks.get(member)
            window = self._turned(window, held[0] if held else None)
            if held is not None and held[0].holds(window):
                return held
            target = self._choose(window, held[0] if held else None)
            if divisible and self._bytes(target) > self.block_bytes:
                return None
            return self._load(target, member)

    def _halved(self, lat: Floats, east: Floats, time: Floats, member: int) -> Singles:
        spans = [np.ptp(x) / (s or 1.0) for x, s in (
            (lat, np.ptp(self.frame.lat_deg)), (east, np.ptp(self.frame.lon_deg)),
            (time, np.ptp(self.frame.time_s) if self.frame.time_s.size else 1.0))]  # fmt: skip
        key = (lat, east, time)[int(np.argmax(spans))]
        order = np.argsort(key, kind="stable")
        half = order.size // 2
        out = np.empty((lat.size, self.n_fields), np.float32)
        for part in (order[:half], order[half:]):
            out[part] = self._gather(lat[part], east[part], time[part], member)
        return out

    def _window(self, lat: Floats, east: Floats, time: Floats) -> Window:
        frame = self.frame
        j = _span(frame.lat_deg, lat)
        k = _span(frame.lon_deg, east)
        n = self.grid.lon_deg.size
        if self.grid.wraps and k[1] - k[0] > n // 2 and east.size > 1:
            # A track across the seam: start after the widest empty stretch instead.
            ordered = np.sort(east)
            jump = np.diff(ordered)
            widest = int(np.argmax(jump))
            if jump[widest] > 180.0:
                shifted = np.where(east <= ordered[widest], east + 360.0, east)
                turned = np.concatenate([frame.lon_deg[:-1], frame.lon_deg + 360.0])
                k = _span(turned, shifted)
        i = _span(frame.time_s, time) if frame.time_s.size > 1 else (0, 1)
        return Window(i, j, k)

    def _turned(self, window: Window, held: Window | None) -> Window:
        """The same columns a turn further east, when that is how they are held."""
        n = self.grid.lon_deg.size
        later = Window(window.time, window.lat, (window.lon[0] + n, window.lon[1] + n))
        if self.grid.wraps:
            for base in (held, self.hint):
                if base is not None and base.holds(window):
                    return window
                if base is not None and base.holds(later):
                    return later
        return window

    def _choose(self, window: Window, held: Window | None) -> Window:
        """Widest of the useful windows that still fits in memory."""
        tries = []
        if self.hint is not None and self.hint.holds(window):
            tries.append(self.hint)
        grown = self._grown(window)
        if held is not None:
            tries.append(grown.joined(held))
        tries += [grown, self._grown(window, time=False), window]
        return next((w for w in tries if self._bytes(w) <= self.block_bytes), window)

    def _grown(self, window: Window, *, time: bool = True) -> Window:
        """The window with a margin, so that the next call finds its cells."""

        def wider(span: tuple[int, int], n: int, pad: int) -> tuple[int, int]:
            return max(span[0] - pad, 0), max(min(span[1] + pad, n), span[1])

        pad = 12
        n_t = max(self.frame.time_s.size, 1)
        return Window(
            (0, n_t) if time else window.time,
            wider(window.lat, self.frame.lat_deg.size, pad),
            wider(window.lon, self.frame.lon_deg.size, pad),
        )

    def _load(self, window: Window, member: int) -> tuple[Window, Block]:
        # The old block goes first: two at once would double the memory.
        self.blocks.pop(member, None)
        t0, t1 = window.time
        shape = tuple(b - a for a, b in (window.time, window.lat, window.lon))
        data = np.empty((*shape, self.n_fields), np.float32)
        per_slab = max(1, _SLAB_CELLS // (shape[1] * shape[2] * self.raw_per_cell))
        problems: list[Problem] = []
        for a in range(t0, t1, per_slab):
            b = min(a + per_slab, t1)
            raw = {
                name: self._read(series, (a, b), window, member, problems)
                for name, series in self.series.items()
            }
            with np.errstate(invalid="ignore"):
                # A damaged file may hold NaN of the kind that signals.
                data[a - t0 : b - t0] = self.build(raw)
        if problems:
            raise ForecastError(join_problems(_merged(problems)))
        frame = self.frame
        lon = frame.lon_deg
        if self.grid.wraps and window.lon[1] > lon.size:
            lon = np.concatenate([lon[:-1], lon + 360.0])
        times = frame.time_s[t0:t1] if frame.time_s.size else np.zeros(1)
        block = Block(
            Axis(times),
            Axis(frame.lat_deg[slice(*window.lat)]),
            Axis(lon[slice(*window.lon)]),
            data,
            self.alike,
        )
        if len(self.blocks) * self._bytes(window) > 2 * self.block_bytes:
            self.blocks.clear()
        self.blocks[member] = (window, block)
        return window, block

    def _read(
        self,
        series: Series,
        span: tuple[int, int],
        window: Window,
        member: int,
        problems: list[Problem],
    ) -> Singles:
        if not self.time_s.size:
            return series.read(window, member, problems)
        wanted = np.searchsorted(series.time_s, self.time_s[slice(*span)])
        first, last = int(wanted[0]), int(wanted[-1]) + 1
        part = Window((first, last), window.lat, window.lon)
        one = self.member_order[member] if self.member_order else member
        values = series.read(part, one if series.n_members > 1 else 0, problems)
        if wanted.size == last - first:
            return values
        return values[wanted - first]

    def close(self) -> None:
        """Free the memory."""
        with self._lock:
            self.blocks.clear()


def _merged(problems: list[Problem]) -> list[Problem]:
    """One problem per variable: slabs repeat them."""
    seen: dict[tuple[str, str], Problem] = {}
    for problem in problems:
        seen.setdefault((problem.file, problem.what.split(" is ")[0]), problem)
    return list(seen.values())


def _cover(axis: Floats, low: float, high: float) -> tuple[int, int]:
    """Index range of the nodes around low..high; empty when they do not meet."""
    if high < axis[0] - EDGE_DEG or low > axis[-1] + EDGE_DEG:
        return (0, 0)
    a = max(int(np.searchsorted(axis, low, side="right")) - 1, 0)
    b = min(int(np.searchsorted(axis, high, side="left")) + 1, axis.size)
    if b - a < 2:
        a = max(0, min(a, axis.size - 2))
        b = min(a + 2, axis.size)
    return a, b


def _span(axis: Floats, x: Floats) -> tuple[int, int]:
    """Index range of the nodes needed to interpolate at all x."""
    low, high = float(x.min()), float(x.max())
    n = axis.size
    a = int(np.clip(np.searchsorted(axis, low, side="right") - 1, 0, n - 2))
    b = int(np.clip(np.searchsorted(axis, high, side="right") - 1, 0, n - 2)) + 2
    return a, b
