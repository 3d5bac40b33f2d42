"""Spectral tables: one fine integration, then interpolation.

Roll is a narrow resonance, which a coarse sum over a spectrum misses. A kernel is therefore
integrated over 1000 frequencies and 720 directions for a set of peak periods, headings and
spectral shapes, per square metre of significant height; later answers are interpolated in
that table. Deep water.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from passage.physics.waves.density import DensityTables
from passage.physics.waves.gather import gather
from passage.physics.waves.integrate import integrated
from passage.physics.waves.kernel import Kernel, channel_count
from passage.physics.waves.seas import (
    COS2_SHAPE,
    GAMMA_LEVELS,
    HEADINGS_RAD,
    PERIOD_RANGE_S,
    PERIODS_S,
    WIDTH_LEVELS_RAD,
    Seas,
    fold_heading,
    levels_of_shape,
)
from passage.physics.waves.spectrum import COS2_WIDTH_RAD
from passage.physics.waves.store import TableStore
from passage.units import KNOT_M_S

FloatArray = NDArray[np.float64]

__all__ = [
    "GAMMA_LEVELS",
    "PERIOD_RANGE_S",
    "WIDTH_LEVELS_RAD",
    "Seas",
    "SpectralTable",
    "SpeedTables",
    "fold_heading",
]


class SpectralTable:
    """A kernel integrated over all seas at one speed.

    :meth:`build` makes one. A spectral shape is added when it is first needed, which takes
    about 0.1 s.
    """

    def __init__(self, kernel: Kernel, speed_m_s: float, store: TableStore | None = None) -> None:
        self._kernel = kernel
        self._store = store
        self.speed_m_s = float(speed_m_s)
        self._slot = np.full(GAMMA_LEVELS.size * (COS2_SHAPE + 1), -1, np.intp)
        self._data: NDArray[np.float32] | None = None
        self._density = DensityTables(kernel, self.speed_m_s)
        self._lock = threading.Lock()
        self.channels = channel_count(kernel, self.speed_m_s)

    @classmethod
    def build(
        cls,
        kernel: Kernel,
        speed_m_s: float,
        shapes: Sequence[tuple[float, float]] = ((3.3, COS2_WIDTH_RAD),),
    ) -> SpectralTable:
        """Integrate a kernel at one speed.

        Parameters
        ----------
        kernel : Kernel
            Even in encounter angle.
        speed_m_s : float
            Speed through the water. [m/s]
        shapes : sequence of (gamma, width_rad)
            Shapes to integrate at once: gamma dimensionless, width in [rad].
        """
        table = cls(kernel, speed_m_s)
        table.add_shapes(shapes)
        return table

    def add_shapes(self, shapes: Sequence[tuple[float, float]]) -> None:
        """Integrate shapes ``(gamma, width_rad)``; several at once cost little more than one."""
        gammas, widths = [g for g, _ in shapes], [w for _, w in shapes]
        sea = Seas(np.ones(len(shapes)), 10.0, 0.0, gammas, widths)
        self.ensure(sea.shapes_in_use(np.arange(1)))

    def stored(self) -> dict[str, NDArray[Any]]:
        """Everything integrated so far, for :meth:`restore`."""
        data = np.zeros((0,), np.float32) if self._data is None else self._data
        return {"slot": self._slot, "data": data}

    def restore(self, stored: Mapping[str, NDArray[Any]]) -> None:
        """Take over the result of :meth:`stored` of a table of the same kernel and speed."""
        with self._lock:
            if self._data is None and stored["data"].size:
                self._slot, self._data = stored["slot"].copy(), stored["data"]

    @property
    def nbytes(self) -> int:
        """Memory held. [bytes]"""
        return self._density.nbytes + (0 if self._data is None else self._data.nbytes)

    def ensure(self, shapes: list[int]) -> None:
        """Integrate shapes that are missing, by their indices as in ``seas.levels_of_shape``."""
        if all(self._slot[s] >= 0 for s in shapes):
            return
        # Departures are computed in threads; only one may append at a time.
        with self._lock:
            self._append(shapes)

    def _append(self, shapes: list[int]) -> None:
        missing = sorted(s for s in shapes if self._slot[s] < 0)
        if not missing:
            return
        found = {shape: self._from_store(shape) for shape in missing}
        wanted = [shape for shape in missing if found[shape] is None]
        if wanted:
            for shape, made in zip(
                wanted, integrated(self._kernel, self.speed_m_s, wanted), strict=True
            ):
                found[shape] = made
                if self._store is not None:
                    self._store.save(self.speed_m_s, *levels_of_shape(shape), made)
        new = np.stack([table for table in found.values() if table is not None])
        old = 0 if self._data is None else self._data.shape[0]
        self._data = new if self._data is None else np.concatenate([self._data, new])
        self._slot[missing] = old + np.arange(len(missing))

    def _from_store(self, shape: int) -> NDArray[np.float32] | None:
        if self._store is None:
            return None
        table = self._store.load(self.speed_m_s, *levels_of_shape(shape))
        expected = (PERIODS_S.size, HEADINGS_RAD.size, self.channels)
        return table if table is not None and table.shape == expected else None

    def add_to(
        self,
        out: FloatArray,
        seas: Seas,
        rows: NDArray[np.intp],
        factor: FloatArray,
    ) -> None:
        """Add ``factor`` times the response to rows of a result (internal)."""
        self.ensure(seas.shapes_in_use(rows))
        if self._data is None:
            return
        slots = self._slot[seas.shapes[rows]]  # an index of -1 has weight 0
        gather(
            self._data,
            seas.variance_scale[rows] * factor[:, None],
            seas.period_position[rows],
            seas.heading_position[rows],
            slots,
            seas.weights[rows],
            rows,
            out,
        )

    def variance(
        self,
        height_m: ArrayLike,
        peak_period_s: ArrayLike,
        mu_rad: ArrayLike,
        gamma: ArrayLike,
        spread_rad: ArrayLike,
    ) -> FloatArray:
        """Response summed over the systems of each point.

        Parameters
        ----------
        height_m, peak_period_s, mu_rad, gamma, spread_rad : array_like
            As in :class:`Seas`, shape P + (systems,).

        Returns
        -------
        ndarray, shape P + (channels,)
            In the unit of the kernel times m2. NaN where a point has no system at all, or
            one that lacks a period or direction or is outside the tables.
        """
        seas = Seas(height_m, peak_period_s, mu_rad, gamma, spread_rad)
        return self.variance_of(seas)

    def variance_of(self, seas: Seas) -> FloatArray:
        """As :meth:`variance`, for seas whose positions in the tables are known."""
        rows = np.arange(seas.missing.size)
        out = np.zeros((rows.size, self.channels))
        self.add_to(out, seas, rows, np.ones(rows.size))
        out[seas.missing] = np.nan
        return out.reshape((*seas.shape, self.channels))

    def from_density(
        self, density: ArrayLike, omega_rad_s: ArrayLike, mu_rad: ArrayLike
    ) -> FloatArray:
        """Response to full two-dimensional spectra.

        Parameters
        ----------
        density : array_like, shape P + (nw, nd)
            Variance density. [m2 s/rad2]
        omega_rad_s : array_like, shape (nw,)
            Frequencies, ascending. [rad/s]
        mu_rad : array_like, shape P + (nd,)
            Encounter angle of each direction, evenly spaced over one turn. [rad]

        Returns
        -------
        ndarray, shape P + (channels,)
            Integral over the fine grid, in which the spectrum is linear between its own
            frequencies and directions. NaN in, NaN out.
        """
        return self._density.response(density, omega_rad_s, mu_rad)


class SpeedTables:
    """Spectral tables at a set of speeds, with interpolation between them.

    Parameters
    ----------
    kernel : Kernel
        The response.
    step_m_s : float
        Spacing of the speeds, half a knot. [m/s]
    max_bytes : int
        Largest memory; the tables unused for longest are dropped first.
    store : TableStore, optional
        Store with tables of earlier runs.
    """

    def __init__(
        self,
        kernel: Kernel,
        *,
        step_m_s: float = 0.5 * KNOT_M_S,
        max_bytes: int = 400_000_000,
        store: TableStore | None = None,
    ) -> None:
        self._store = store
        self._kernel = kernel
        self._step = step_m_s
        self._max_bytes = max_bytes
        self._tables: OrderedDict[float, SpectralTable] = OrderedDict()
        self._lock = threading.Lock()
        self._exact: tuple[float, ...] = ()
        self.channels = channel_count(kernel, 0.0)

    def pin(self, *speeds_m_s: float) -> None:
        """Give speeds a table of their own instead of interpolation. [m/s]"""
        self._exact = tuple(sorted({*self._exact, *(float(s) for s in speeds_m_s)}))

    @property
    def nbytes(self) -> int:
        """Memory held. [bytes]"""
        return sum(t.nbytes for t in self._tables.values())

    def table(self, speed_m_s: float) -> SpectralTable:
        """Table of exactly this speed [m/s], made when it is first needed."""
        key = round(float(speed_m_s), 9)
        # Departures are computed in threads: one makes a table, the others wait for it.
        with self._lock:
            table = self._tables.get(key)
            if table is None:
                table = self._tables[key] = SpectralTable(self._kernel, key, self._store)
            self._tables.move_to_end(key)
        return table

    def _trim(self) -> None:
        with self._lock:
            while len(self._tables) > 4 and self.nbytes > self._max_bytes:
                self._tables.popitem(last=False)

    def _nodes(self, speed: FloatArray) -> list[tuple[float, NDArray[np.intp], FloatArray]]:
        """Tabulated speeds that points with a known speed need: (speed, points, weights)."""
        exact = np.full(speed.shape, np.nan)
        for pinned in self._exact:
            exact = np.where(np.abs(speed - pinned) < 1e-6, pinned, exact)
        position = speed / self._step
        nearest = np.rint(position)
        on_node = np.abs(position - nearest) < 1e-6
        exact = np.where(np.isnan(exact) & on_node, nearest * self._step, exact)
        chosen: dict[float, tuple[list[NDArray[np.intp]], list[FloatArray]]] = {}

        def add(node: float, rows: NDArray[np.intp], weight: FloatArray) -> None:
            slot = chosen.setdefault(round(node, 9), ([], []))
            slot[0].append(rows)
            slot[1].append(weight)

        for node in np.unique(exact[~np.isnan(exact)]):
            rows = np.flatnonzero(exact == node)
            add(float(node), rows, np.ones(rows.size))
        loose = np.isnan(exact) & ~np.isnan(speed)
        cell = np.where(loose, np.floor(position), np.nan)
        for low in np.unique(cell[loose]):
            rows = np.flatnonzero(cell == low)
            u = position[rows] - low
            # Four-point Lagrange: in following seas the largest encounter frequency changes
            # too much between two speeds for a straight line.
            add((low - 1) * self._step, rows, -u * (u - 1.0) * (u - 2.0) / 6.0)
            add(low * self._step, rows, (u + 1.0) * (u - 1.0) * (u - 2.0) / 2.0)
            add((low + 1) * self._step, rows, -(u + 1.0) * u * (u - 2.0) / 2.0)
            add((low + 2) * self._step, rows, (u + 1.0) * u * (u - 1.0) / 6.0)
        return [
            (node, np.concatenate(rows), np.concatenate(weights))
            for node, (rows, weights) in sorted(chosen.items())
        ]

    def variance(
        self,
        speed_m_s: ArrayLike,
        height_m: ArrayLike,
        peak_period_s: ArrayLike,
        mu_rad: ArrayLike,
        gamma: ArrayLike,
        spread_rad: ArrayLike,
    ) -> FloatArray:
        """Response summed over systems, at each point's speed.

        Parameters
        ----------
        speed_m_s : array_like, shape P
            Speed through the water, negative astern. [m/s]
        height_m, peak_period_s, mu_rad, gamma, spread_rad : array_like
            As in :class:`Seas`, shape P + (systems,).

        Returns
        -------
        ndarray, shape P + (channels,)
            As :meth:`SpectralTable.variance`; NaN also where the speed is NaN.
        """
        speed = np.asarray(speed_m_s, float)
        seas = Seas(
            np.asarray(height_m, float) + 0.0 * speed[..., None],
            peak_period_s,
            mu_rad,
            gamma,
            spread_rad,
        )
        flat = np.broadcast_to(speed, seas.shape).ravel()
        # A NaN speed made every height NaN above, so that the point counts as missing.
        out = np.zeros((flat.size, self.channels))
        for node, rows, weight in self._nodes(flat):
            self.table(node).add_to(out, seas, rows, weight)
            self._trim()
        out[seas.missing] = np.nan
        return out.reshape((*seas.shape, self.channels))

    def make_ready(self, speed_m_s: ArrayLike, seas: Sequence[Seas]) -> None:
        """Integrate the shapes that several seas of the same points need, all at once.

        ``speed_m_s`` [m/s] has the shape P of each of ``seas``. Several shapes at once cost
        little more than one.
        """
        flat = np.broadcast_to(np.asarray(speed_m_s, float), seas[0].shape).ravel()
        for node, rows, _ in self._nodes(flat):
            shapes = {shape for sea in seas for shape in sea.shapes_in_use(rows)}
            self.table(node).ensure(sorted(shapes))

    def from_density(
        self,
        speed_m_s: ArrayLike,
        density: ArrayLike,
        omega_rad_s: ArrayLike,
        mu_rad: ArrayLike,
    ) -> FloatArray:
        """As :meth:`SpectralTable.from_density`, at each point's speed."""
        density = np.asarray(density, float)
        points = density.shape[:-2]
        nd = density.shape[-1]
        speed = np.broadcast_to(np.asarray(speed_m_s, float), points).ravel()
        flat = density.reshape((-1, *density.shape[-2:]))
        mu = np.broadcast_to(np.asarray(mu_rad, float), (*points, nd)).reshape(-1, nd)
        out = np.zeros((flat.shape[0], self.channels))
        for node, rows, weight in self._nodes(speed):
            part = self.table(node).from_density(flat[rows], omega_rad_s, mu[rows])
            np.add.at(out, rows, weight[:, None] * part)
            self._trim()
        out[np.isnan(speed)] = np.nan
        return out.reshape((*points, self.channels))
