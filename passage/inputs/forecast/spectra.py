"""Full directional spectra in files: their axes, and density per (rad/s, rad)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.errors import ForecastError, Problem, UnknownConvention
from passage.inputs.forecast.piece import Piece
from passage.inputs.forecast.quantity import factor_to_ours

Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]


@dataclass(frozen=True, eq=False)
class SpectrumAxes:
    """Axes in our order, and how to get there from the file's order."""

    omega_rad_s: Floats
    from_rad: Floats
    omega_order: npt.NDArray[np.int64]
    from_order: npt.NDArray[np.int64]
    frequency_first: bool = True

    @property
    def omega_weights(self) -> Floats:
        """Trapezoidal weights over frequency [rad/s]."""
        return np.gradient(self.omega_rad_s) * _ends(self.omega_rad_s.size)

    @property
    def direction_step(self) -> float:
        """Width of a direction bin [rad]."""
        return 2.0 * np.pi / self.from_rad.size


def _ends(n: int) -> Floats:
    weights = np.ones(n)
    weights[0] = weights[-1] = 0.5
    return weights


def read_axes(pieces: list[Piece]) -> SpectrumAxes:
    """Frequency and direction axes of a spectrum.

    Raises
    ------
    ForecastError
        Missing or unknown units (axes that only count bins), not the full circle.
    """
    piece = pieces[0]
    frequency = _axis(piece, piece.frequency_dim, "frequency")
    direction = _axis(piece, piece.direction_dim, "direction")
    if np.any(frequency <= 0.0) or np.unique(frequency).size != frequency.size:
        raise _refuse(piece, f"axis '{piece.frequency_dim}' is not a list of frequencies")
    if piece.meaning.kind == "to":
        direction = direction + np.pi
    direction = np.mod(direction, 2.0 * np.pi)
    order = np.argsort(direction, kind="stable")
    ordered = direction[order]
    step = np.diff(np.append(ordered, ordered[0] + 2.0 * np.pi))
    if ordered.size < 4 or np.any(np.abs(step - 2.0 * np.pi / ordered.size) > 1e-3):
        raise _refuse(piece, f"axis '{piece.direction_dim}' is not an even circle of directions")
    omega = 2.0 * np.pi * frequency
    omega_order = np.argsort(omega, kind="stable")
    return SpectrumAxes(omega[omega_order], ordered, omega_order, order)


def _refuse(piece: Piece, what: str) -> ForecastError:
    text = f"spectrum '{piece.variable}': {what}"
    fix = "Give axes in Hz and degrees (or radians)."
    return UnknownConvention(str(Problem(file=piece.file, what=text, fix=fix)))


def _axis(piece: Piece, dim: str, quantity: str) -> Floats:
    axis = piece.dataset.variables.get(dim)
    unit = str(axis.attrs.get("units", "")) if axis is not None else ""
    factor = factor_to_ours(quantity, unit) if unit else None
    if axis is None or factor is None:
        shown = f"has unit '{unit}'" if unit else "has no unit, it may only count bins"
        raise _refuse(piece, f"axis '{dim}' {shown}")
    return np.asarray(axis.values, dtype=float) * factor


def build_spectrum(axes: SpectrumAxes, values: Any) -> Singles:
    """Mask and densities side by side.

    A cell with some values missing has no energy there; with all missing it has no data.
    """
    known = np.isfinite(values)
    masked = ~known.any(axis=(-2, -1))
    ordered = values[..., axes.omega_order, :][..., axes.from_order]
    clean = np.where(np.isfinite(ordered), np.maximum(ordered, 0.0), 0.0)
    flat = clean.reshape((*masked.shape, -1))
    return np.concatenate([masked[..., None], flat], axis=-1, dtype=np.float32)


def summary(axes: SpectrumAxes, density: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Significant height, energy period, mean from direction and spread of spectra.

    Parameters
    ----------
    density : ndarray, shape (n, n_omega, n_directions)
        m2 s/rad2.

    Returns
    -------
    tuple of ndarray (n,)
        4 sqrt(m0) [m], 2 pi m-1/m0 [s], direction from first Fourier components [rad],
        circular width sqrt(2 (1 - R)) [rad]. NaN where there is no energy.
    """
    by_direction = np.einsum("nwd,w->nd", density, axes.omega_weights)
    m0 = by_direction.sum(axis=-1) * axes.direction_step
    inverse = axes.omega_weights / axes.omega_rad_s
    m_1 = np.einsum("nwd,w->n", density, inverse) * axes.direction_step
    east = (by_direction @ np.sin(axes.from_rad)) * axes.direction_step
    north = (by_direction @ np.cos(axes.from_rad)) * axes.direction_step
    with np.errstate(divide="ignore", invalid="ignore"):
        period = 2.0 * np.pi * m_1 / m0
        resultant = np.hypot(east, north) / m0
    direction = np.where(m0 > 0, np.mod(np.arctan2(east, north), 2 * np.pi), np.nan)
    width = np.sqrt(2.0 * (1.0 - np.minimum(resultant, 1.0)))
    return 4.0 * np.sqrt(m0), period, direction, width
