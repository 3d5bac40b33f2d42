"""From coastline rings to a path on the map: projection, clipping, thinning."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from passage.report.drawing import svg
from passage.units import deg_to_rad, rad_to_deg, wrap_180

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Projection:
    """Mercator over a box, fitted to a width in pixels.

    Longitudes are measured the short way round from the middle of the box, so that a box
    across the antimeridian works.
    """

    south_deg: float
    north_deg: float
    middle_lon_deg: float
    half_lon_deg: float
    width_px: float

    @property
    def px_per_deg(self) -> float:
        """Pixels per degree of longitude."""
        return self.width_px / (2.0 * self.half_lon_deg)

    def x(self, lon_deg: npt.ArrayLike) -> Floats:
        """Pixels from the left edge."""
        off = wrap_180(np.asarray(lon_deg, dtype=float) - self.middle_lon_deg)
        return np.asarray((off + self.half_lon_deg) * self.px_per_deg, dtype=float)

    def y(self, lat_deg: npt.ArrayLike) -> Floats:
        """Pixels from the top edge."""
        return np.asarray(
            (_stretched(self.north_deg) - _stretched(lat_deg)) * self.px_per_deg, dtype=float
        )

    @property
    def height_px(self) -> float:
        """Height of the box. [px]"""
        return float(self.y(self.south_deg))


def _stretched(lat_deg: npt.ArrayLike) -> Floats:
    """Mercator ordinate in degrees of longitude at the equator."""
    lat = deg_to_rad(np.asarray(lat_deg, dtype=float))
    return np.asarray(rad_to_deg(np.log(np.tan(0.25 * np.pi + 0.5 * lat))), dtype=float)


def fit(
    lat_deg: npt.ArrayLike,
    lon_deg: npt.ArrayLike,
    width_px: float,
    margin_deg: float = 0.6,
    highest: float = 1.25,
) -> Projection:
    """A projection that shows all points with a margin.

    The box is at most ``highest`` times as high as wide.
    """
    lat = np.asarray(lat_deg, dtype=float).ravel()
    lon = np.asarray(lon_deg, dtype=float).ravel()
    unit = np.exp(1j * deg_to_rad(lon)).mean()
    rough = float(rad_to_deg(np.angle(unit)))
    off = wrap_180(lon - rough)
    middle = rough + 0.5 * float(off.min() + off.max())
    stretch = 1.0 / np.cos(deg_to_rad(float(lat.mean())))
    half = 0.5 * float(off.max() - off.min()) + margin_deg * float(stretch)
    south = max(float(lat.min()) - margin_deg, -84.0)
    north = min(float(lat.max()) + margin_deg, 84.0)
    tall = float(_stretched(north) - _stretched(south))
    half = min(max(half, 0.5 * tall / highest), 180.0)
    if tall < 0.9 * half:  # very wide: give it some sea above and below
        extra = 0.5 * (0.9 * half - tall) / float(stretch)
        south, north = max(south - extra, -84.0), min(north + extra, 84.0)
    return Projection(south, north, float(wrap_180(middle)), half, width_px)


def land_path(rings: Iterable[npt.ArrayLike], projection: Projection) -> str:
    """Path data of land rings, clipped a little outside the box and thinned.

    Each ring is an array (n, 2) of longitude, latitude [deg]. Rings that fall
    outside, or shrink below a pixel, are left out.
    """
    pad = 6.0
    low = np.array([-pad, -pad])
    high = np.array([projection.width_px + pad, projection.height_px + pad])
    pieces = []
    for ring in rings:
        points = np.asarray(ring, dtype=float)
        xy = np.column_stack([projection.x(points[:, 0]), projection.y(points[:, 1])])
        xy = _clip(xy, low, high)
        xy = _thinned(xy, 0.7)
        if len(xy) < 3 or np.ptp(xy[:, 0]) + np.ptp(xy[:, 1]) < 2.0:
            continue
        pieces.append(
            "M" + "L".join(f"{svg.number(a)} {svg.number(b)}" for a, b in xy.tolist()) + "Z"
        )
    return "".join(pieces)


def _clip(xy: Floats, low: Floats, high: Floats) -> Floats:
    """Sutherland-Hodgman clipping of a ring against a rectangle."""
    for axis in (0, 1):
        for bound, sign in ((low[axis], 1.0), (high[axis], -1.0)):
            if len(xy) == 0:
                return xy
            inside = sign * (xy[:, axis] - bound) >= 0.0
            if inside.all():
                continue
            after = np.roll(xy, -1, axis=0)
            crosses = inside != np.roll(inside, -1)
            step = after[:, axis] - xy[:, axis]
            share = np.where(crosses, (bound - xy[:, axis]) / np.where(step == 0.0, 1.0, step), 0.0)
            cut = xy + share[:, None] * (after - xy)
            both = np.stack([xy, cut], axis=1).reshape(-1, 2)
            xy = both[np.stack([inside, crosses], axis=1).ravel()]
    return xy


def _thinned(xy: Floats, least_px: float) -> Floats:
    """Drop points nearer than ``least_px`` to the last one kept."""
    if len(xy) < 4:
        return xy
    kept = [xy[0]]
    for point in xy[1:]:
        if abs(point[0] - kept[-1][0]) + abs(point[1] - kept[-1][1]) >= least_px:
            kept.append(point)
    return np.array(kept)


def box_of(projection: Projection) -> tuple[float, float, float, float]:
    """South, north, west, east of the box [deg]; west > east across the antimeridian."""
    west = float(wrap_180(projection.middle_lon_deg - projection.half_lon_deg))
    east = float(wrap_180(projection.middle_lon_deg + projection.half_lon_deg))
    return projection.south_deg, projection.north_deg, west, east


def degree_text(value: float, letters: Sequence[str]) -> str:
    """``46\u00b0N`` or ``46\u00b030'N``."""
    minutes = round(abs(value) * 60.0)
    letter = letters[0] if value >= 0 else letters[1]
    whole, rest = divmod(minutes, 60)
    return f"{whole}\u00b0{f'{rest:02d}' + chr(39) if rest else ''}{letter}"
