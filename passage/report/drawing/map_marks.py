"""Sea and wind on the map: shaded cells, figures, barbs, and values for the read-out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from passage.report.drawing import svg
from passage.report.drawing.map_coast import Projection
from passage.report.drawing.svg_labels import Box
from passage.report.drawing.theme import sea_class
from passage.units import m_s_to_knots

Floats = npt.NDArray[np.float64]
#: Lines of routes on the drawing, x and y each. [px]
Lines = Sequence[tuple[Floats, Floats]]


@dataclass(frozen=True)
class SeaFrame:
    """Fields at one time on a regular grid, and each route's yacht (NaN: not under way).

    ``height_m``, ``wind_u_m_s`` and ``wind_v_m_s`` have shape (lat, lon); the wind
    blows towards (u, v). ``yacht`` holds (lat, lon) for each route.
    """

    time_s: float
    lat_deg: Floats
    lon_deg: Floats
    height_m: Floats
    wind_u_m_s: Floats | None = None
    wind_v_m_s: Floats | None = None
    yacht: Sequence[tuple[float, float]] = field(default_factory=tuple)


def _edges(centres: Floats) -> Floats:
    """Edges of cells about their centres."""
    middle = 0.5 * (centres[1:] + centres[:-1])
    return np.concatenate(
        ([centres[0] - (middle[0] - centres[0])], middle, [centres[-1] + centres[-1] - middle[-1]])
    )


def cells(p: Projection, frame: SeaFrame) -> str:
    """Shaded cells, merged along each row into one path for each class."""
    lat, lon = np.asarray(frame.lat_deg, float), np.asarray(frame.lon_deg, float)
    height = np.asarray(frame.height_m, dtype=float)
    if lat.size < 2 or lon.size < 2:
        return ""
    middle = p.middle_lon_deg
    xs = p.x(_edges((lon - middle + 180.0) % 360.0 - 180.0 + middle))
    ys = p.y(np.clip(_edges(lat), -85.0, 85.0))
    paths: dict[int, list[str]] = {}
    for i in range(lat.size):
        top, deep = min(ys[i], ys[i + 1]), abs(ys[i + 1] - ys[i])
        if top > p.height_px or top + deep < 0.0:
            continue
        classes = [sea_class(float(h)) for h in height[i]]
        start = 0
        for j in range(1, lon.size + 1):
            if j == lon.size or classes[j] != classes[start]:
                if classes[start] >= 0:
                    a, b = sorted((float(xs[start]), float(xs[j])))
                    a, b = max(a, -2.0), min(b, p.width_px + 2.0)
                    if b > a:
                        paths.setdefault(classes[start], []).append(
                            f"M{a:.1f} {top:.1f}h{b - a:.1f}v{deep + 0.3:.1f}h{a - b:.1f}Z"
                        )
                start = j
    return "".join(
        svg.tag("path", d="".join(d), class_=f"sea{n}") for n, d in sorted(paths.items())
    )


def _picked(
    p: Projection, frame: SeaFrame, gap_px: float, shift: float
) -> list[tuple[int, int, float, float]]:
    """Grid points about ``gap_px`` apart that fall well inside the map.

    ``shift`` moves them by a share of the gap, so that figures lie between barbs.
    """
    lat, lon = np.asarray(frame.lat_deg, float), np.asarray(frame.lon_deg, float)
    if lat.size < 2 or lon.size < 2:
        return []
    per_col = abs(float(p.x(lon[1]) - p.x(lon[0])))
    per_row = abs(float(p.y(lat[1]) - p.y(lat[0])))
    cols = max(1, round(gap_px / max(per_col, 1e-6)))
    rows = max(1, round(gap_px / max(per_row, 1e-6)))
    found = []
    for i in range(int(shift * rows), lat.size, rows):
        for j in range(int(shift * cols), lon.size, cols):
            x, y = float(p.x(lon[j])), float(p.y(lat[i]))
            if 14.0 < x < p.width_px - 14.0 and 12.0 < y < p.height_px - 12.0:
                found.append((i, j, x, y))
    return found


def figures(
    p: Projection,
    frame: SeaFrame,
    gap_px: float,
    taken: Sequence[Box] = (),
    lines: Lines = (),
) -> str:
    height = np.asarray(frame.height_m, dtype=float)
    return "".join(
        svg.text(x, y + 4.0, f"{height[i, j]:.1f}", class_="height", text_anchor="middle")
        for i, j, x, y in _picked(p, frame, gap_px, 0.5)
        if np.isfinite(height[i, j]) and _free(x, y, 13.0, 9.0, taken, lines)
    )


def barbs(p: Projection, frame: SeaFrame, gap_px: float, taken: Sequence[Box] = ()) -> str:
    if frame.wind_u_m_s is None or frame.wind_v_m_s is None:
        return ""
    u = m_s_to_knots(np.asarray(frame.wind_u_m_s, dtype=float))
    v = m_s_to_knots(np.asarray(frame.wind_v_m_s, dtype=float))
    sea = np.isfinite(np.asarray(frame.height_m, dtype=float))
    drawn = [
        barb(x, y, float(u[i, j]), float(v[i, j]), south=float(frame.lat_deg[i]) < 0.0)
        for i, j, x, y in _picked(p, frame, gap_px, 0.0)
        if np.isfinite(u[i, j])
        and np.isfinite(v[i, j])
        and sea[i, j]
        and _free(x, y, 22.0, 22.0, taken)
    ]
    return svg.group(drawn, class_="barbs") if drawn else ""


def barb(x: float, y: float, u_kn: float, v_kn: float, *, south: bool = False) -> str:
    """A wind barb: the shaft points to where the wind comes from.

    Feathers are on the side of low pressure: clockwise of the shaft in the northern
    hemisphere, seen from the point outwards, anticlockwise in the southern.
    """
    speed = float(np.hypot(u_kn, v_kn))
    fives = round(speed / 5.0)
    if fives == 0:
        return svg.tag("circle", cx=x, cy=y, r=2.5)
    # Unit vector towards the wind's origin, on the page (y down).
    ax, ay = -u_kn / speed, v_kn / speed
    side = -1.0 if south else 1.0
    fx, fy = -ay * side, ax * side
    length, gap, feather = 20.0, 3.4, 8.0
    parts = [f"M{x:.1f} {y:.1f}l{ax * length:.1f} {ay * length:.1f}"]
    at = length
    flags, rest = divmod(fives, 10)
    full, half = divmod(rest, 2)
    for _ in range(flags):
        bx, by = x + ax * at, y + ay * at
        tip = (fx * feather - ax * gap * 0.6, fy * feather - ay * gap * 0.6)
        back = (-ax * gap * 1.3, -ay * gap * 1.3)
        parts.append(
            f"M{bx:.1f} {by:.1f}l{tip[0]:.1f} {tip[1]:.1f}L{bx + back[0]:.1f} {by + back[1]:.1f}Z"
        )
        at -= gap * 1.7
    for _ in range(full):
        bx, by = x + ax * at, y + ay * at
        parts.append(
            f"M{bx:.1f} {by:.1f}l{fx * feather + ax * 2.6:.1f} {fy * feather + ay * 2.6:.1f}"
        )
        at -= gap
    if half:
        if fives == 1:
            at -= gap
        bx, by = x + ax * at, y + ay * at
        parts.append(
            f"M{bx:.1f} {by:.1f}l{0.5 * (fx * feather + ax * 2.6):.1f} "
            f"{0.5 * (fy * feather + ay * 2.6):.1f}"
        )
    return svg.tag("path", d="".join(parts))


def _free(
    x: float, y: float, half: float, tall: float, taken: Sequence[Box], lines: Lines = ()
) -> bool:
    """Whether a mark at (x, y) keeps clear of the labels and of the lines of routes."""
    mine = Box(x - half, y - tall, x + half, y + tall)
    if any(mine.meets(box) for box in taken):
        return False
    return all(_distance(x, y, line) > half for line in lines)


def _distance(x: float, y: float, line: tuple[Floats, Floats]) -> float:
    """Distance from a point to the nearest segment of a line. [px]"""
    ax, ay = line[0][:-1], line[1][:-1]
    dx, dy = np.diff(line[0]), np.diff(line[1])
    square = np.maximum(dx**2 + dy**2, 1e-9)
    share = np.clip(((x - ax) * dx + (y - ay) * dy) / square, 0.0, 1.0)
    off = np.hypot(ax + share * dx - x, ay + share * dy - y)
    return float(np.nanmin(off)) if off.size else np.inf


def grid_words(frame: SeaFrame) -> tuple[str, str]:
    """Heights in decimetres and winds as knots x 36 + direction / 10, for the read-out.

    Row by row, separated by commas; a missing value is empty.
    """
    height = np.asarray(frame.height_m, dtype=float)
    heights = ",".join("" if h != h else f"{10.0 * h:.0f}" for h in height.ravel().tolist())
    if frame.wind_u_m_s is None or frame.wind_v_m_s is None:
        return heights, ""
    u = m_s_to_knots(np.asarray(frame.wind_u_m_s, dtype=float))
    v = m_s_to_knots(np.asarray(frame.wind_v_m_s, dtype=float))
    tens = np.round(np.degrees(np.arctan2(-u, -v)) % 360.0 / 10.0) % 36
    code = np.round(np.hypot(u, v)) * 36 + tens
    code = np.where(np.isfinite(height), code, np.nan)
    return heights, ",".join("" if c != c else f"{c:.0f}" for c in code.ravel().tolist())


def geometry_words(frame: SeaFrame, projections: Sequence[Projection]) -> str:
    """Position of the grid: in degrees, then for each drawing its columns and rows in pixels."""
    lat, lon = np.asarray(frame.lat_deg, float), np.asarray(frame.lon_deg, float)
    if lat.size < 2 or lon.size < 2:
        return ""
    step = (lon[1] - lon[0] + 180.0) % 360.0 - 180.0
    parts = [f"{lat[0]:.4f},{lat[1] - lat[0]:.5f},{lon[0]:.4f},{step:.5f}"]
    for p in projections:
        middle = p.middle_lon_deg
        # Not wrapped by p.x: the columns may start beyond the edge of the projection.
        first = float(p.x(middle)) + ((lon[0] - middle + 180.0) % 360.0 - 180.0) * p.px_per_deg
        rows = " ".join(f"{y:.1f}" for y in np.atleast_1d(p.y(np.clip(lat, -85.0, 85.0))))
        parts.append(f"{first:.2f},{step * p.px_per_deg:.4f},{rows}")
    return "|".join(parts)
