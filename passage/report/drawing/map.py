"""The map: coast, sea state, wind, routes, and where the yacht is at each time.

The coast is for finding one's way on the page, not for navigation; the page says
so. Sea state is shaded by classes and written in figures; wind is drawn with
barbs (half 5 kn, full 10 kn, flag 50 kn).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from passage.report.drawing import svg
from passage.report.drawing.blocks import Column, Map, MapFrame, Table
from passage.report.drawing.charts_panel import NARROW_PX, WIDE_PX, slug
from passage.report.drawing.map_coast import Projection, degree_text, fit, land_path
from passage.report.drawing.svg_scale import nice_step, short_utc_text
from passage.report.drawing.theme import SEA_BOUNDS_M, SEA_WORDS, sea_class
from passage.units import m_s_to_knots

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class MapRoute:
    """A route as a line with waypoints; ``style`` picks colour, dash and mark."""

    name: str
    lat_deg: Sequence[float]
    lon_deg: Sequence[float]
    style: int = 0
    waypoints: Sequence[str] = field(default_factory=tuple)
    chosen: bool = False


@dataclass(frozen=True)
class SeaFrame:
    """Fields at one time on a regular grid, and each route's yacht (NaN: not at sea).

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


def passage_map(
    routes: Sequence[MapRoute],
    frames: Sequence[SeaFrame],
    rings: Sequence[npt.ArrayLike],
    *,
    title: str = "Routes and sea state",
    margin_deg: float = 0.6,
    key: str = "map",
) -> Map:
    """The map at each of the frames' times (once, without sea, when there are none).

    Parameters
    ----------
    rings
        Land rings, each (n, 2) of longitude and latitude [deg], as ``rings_in`` gives them.
    """
    lat = np.concatenate([np.asarray(r.lat_deg, dtype=float) for r in routes])
    lon = np.concatenate([np.asarray(r.lon_deg, dtype=float) for r in routes])
    description = (
        "Map of the routes "
        + ", ".join(r.name for r in routes)
        + ", with the coast, significant wave height by class and in metres, and wind barbs."
    )
    widths = (WIDE_PX, NARROW_PX)
    projections = [
        fit(lat, lon, width, margin_deg, highest)
        for width, highest in zip(widths, (0.8, 1.25), strict=True)
    ]
    coasts = [land_path(rings, p) for p in projections]
    made = []
    for n, frame in enumerate(frames or [None]):
        label = f"{short_utc_text(frame.time_s)} UTC" if frame else "Routes"
        drawn = [
            svg.drawing(
                p.width_px,
                p.height_px,
                _frame(p, coast, routes, frame, wide),
                title=f"{title}, {label}",
                description=description,
                key=f"{key}-{slug(title)}-{n}-{'w' if wide else 'n'}",
            )
            for p, coast, wide in zip(projections, coasts, (True, False), strict=True)
        ]
        made.append(MapFrame(label, drawn[0], drawn[1]))
    return Map(
        title,
        description,
        made,
        _key(routes, bool(frames)),
        _table(routes, frames),
        "Coast: Natural Earth. Not for navigation.",
    )


def _frame(
    p: Projection, coast: str, routes: Sequence[MapRoute], frame: SeaFrame | None, wide: bool
) -> str:
    parts = [svg.tag("rect", x=0.0, y=0.0, width=p.width_px, height=p.height_px, class_="sea")]
    if frame is not None:
        parts.append(_cells(p, frame))
    if coast:
        parts.append(svg.tag("path", d=coast, class_="land", fill_rule="evenodd"))
    parts.append(_graticule(p, wide))
    if frame is not None:
        parts.append(_figures(p, frame, 76.0 if wide else 62.0))
        parts.append(_barbs(p, frame, 76.0 if wide else 62.0))
    for route in sorted(routes, key=lambda r: r.chosen):
        x, y = p.x(route.lon_deg), p.y(route.lat_deg)
        bold = " bold" if route.chosen else ""
        parts.append(svg.line(x, y, class_=f"routehalo{bold}"))
        parts.append(svg.line(x, y, class_=f"route{bold} {svg.style_of(route.style)}"))
        if len(route.lat_deg) <= 60:
            for a, b in zip(x[1:-1], y[1:-1], strict=True):
                parts.append(
                    svg.tag(
                        "circle", cx=float(a), cy=float(b), r=2.6, class_=f"way c{route.style + 1}"
                    )
                )
    parts.append(_ends(p, routes))
    if frame is not None:
        for route, (lat, lon) in zip(routes, frame.yacht, strict=False):
            if np.isfinite(lat) and np.isfinite(lon):
                x1, y1 = float(p.x(lon)), float(p.y(lat))
                parts.append(svg.tag("circle", cx=x1, cy=y1, r=9.0, class_="yacht"))
                parts.append(
                    svg.marker(route.style, x1, y1, 4.6, class_=f"mark c{route.style % 6 + 1}")
                )
    parts.append(
        svg.tag(
            "rect", x=0.5, y=0.5, width=p.width_px - 1.0, height=p.height_px - 1.0, class_="frame"
        )
    )
    return "".join(parts)


def _ends(p: Projection, routes: Sequence[MapRoute]) -> str:
    """Names of departure and arrival, once each; they turn inwards at the edge."""
    named: dict[str, tuple[float, float]] = {}
    for route in routes:
        if route.waypoints:
            named.setdefault(route.waypoints[0], (route.lat_deg[0], route.lon_deg[0]))
            named.setdefault(route.waypoints[-1], (route.lat_deg[-1], route.lon_deg[-1]))
    parts = []
    for whole, (lat, lon) in named.items():
        x, y = float(p.x(lon)), float(p.y(lat))
        right = x + 10.0 + svg.text_width(whole, 13.0) < p.width_px or x < 0.5 * p.width_px
        name = svg.shortened(whole, p.width_px - x - 14.0 if right else x - 14.0, 15.0)
        parts.append(svg.tag("circle", cx=x, cy=y, r=4.0, class_="port"))
        parts.append(
            svg.text(
                x + 9.0 if right else x - 9.0,
                y - 7.0,
                name,
                class_="place",
                text_anchor=None if right else "end",
            )
        )
    return "".join(parts)


def _edges(centres: Floats) -> Floats:
    """Edges of cells about their centres."""
    middle = 0.5 * (centres[1:] + centres[:-1])
    return np.concatenate(
        ([centres[0] - (middle[0] - centres[0])], middle, [centres[-1] + centres[-1] - middle[-1]])
    )


def _cells(p: Projection, frame: SeaFrame) -> str:
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

    ``shift`` moves them by a share of the gap, so that figures stand between barbs.
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


def _figures(p: Projection, frame: SeaFrame, gap_px: float) -> str:
    height = np.asarray(frame.height_m, dtype=float)
    return "".join(
        svg.text(x, y + 4.0, f"{height[i, j]:.1f}", class_="height", text_anchor="middle")
        for i, j, x, y in _picked(p, frame, gap_px, 0.5)
        if np.isfinite(height[i, j])
    )


def _barbs(p: Projection, frame: SeaFrame, gap_px: float) -> str:
    if frame.wind_u_m_s is None or frame.wind_v_m_s is None:
        return ""
    u = m_s_to_knots(np.asarray(frame.wind_u_m_s, dtype=float))
    v = m_s_to_knots(np.asarray(frame.wind_v_m_s, dtype=float))
    sea = np.isfinite(np.asarray(frame.height_m, dtype=float))
    drawn = [
        barb(x, y, float(u[i, j]), float(v[i, j]), south=float(frame.lat_deg[i]) < 0.0)
        for i, j, x, y in _picked(p, frame, gap_px, 0.0)
        if np.isfinite(u[i, j]) and np.isfinite(v[i, j]) and sea[i, j]
    ]
    return svg.group(drawn, class_="barbs") if drawn else ""


def barb(x: float, y: float, u_kn: float, v_kn: float, *, south: bool = False) -> str:
    """A wind barb: the shaft points to where the wind comes from.

    Feathers stand on the side of low pressure: clockwise of the shaft in the
    northern hemisphere, seen from the point outwards, the other side in the south.
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


def _graticule(p: Projection, wide: bool) -> str:
    """Whole-degree lines with labels along the left and the bottom edge."""
    parts = []
    step = max(nice_step(2.0 * p.half_lon_deg, 8 if wide else 4), 0.25)
    first = int(np.ceil((p.middle_lon_deg - p.half_lon_deg) / step))
    last = int(np.floor((p.middle_lon_deg + p.half_lon_deg) / step))
    for i in range(first, last + 1):
        lon = (i * step + 180.0) % 360.0 - 180.0
        x = float(p.x(lon))
        parts.append(svg.tag("path", d=f"M{x:.1f} 0V{p.height_px:.1f}", class_="graticule"))
        if 40.0 < x < p.width_px - 24.0:
            parts.append(
                svg.text(x + 3.0, p.height_px - 6.0, degree_text(lon, ("E", "W")), class_="degrees")
            )
    for i in range(int(np.ceil(p.south_deg / step)), int(np.floor(p.north_deg / step)) + 1):
        y = float(p.y(i * step))
        parts.append(svg.tag("path", d=f"M0 {y:.1f}H{p.width_px:.1f}", class_="graticule"))
        if 16.0 < y < p.height_px - 18.0:
            parts.append(
                svg.text(4.0, y - 3.0, degree_text(i * step, ("N", "S")), class_="degrees")
            )
    return "".join(parts)


def _key(routes: Sequence[MapRoute], with_sea: bool) -> str:
    """Key under the map, as small drawings that wrap."""

    def item(drawing: str, words: str) -> str:
        picture = svg.tag(
            "svg", drawing, viewBox="0 0 28 14", width=28.0, height=14.0, aria_hidden="true"
        )
        label = svg.tag("span", str(svg.escape(words)))
        return svg.tag("span", picture + label, class_="keyitem")

    items = [
        item(
            svg.tag(
                "path", d="M1 7h26", class_=f"route{' bold' * r.chosen} {svg.style_of(r.style)}"
            )
            + svg.marker(r.style, 14.0, 7.0, 4.0, class_=f"mark c{r.style % 6 + 1}"),
            r.name + (" (chosen)" if r.chosen else ""),
        )
        for r in routes
    ]
    if with_sea:
        lows = ("0", *(f"{b:g}" for b in SEA_BOUNDS_M))
        for n, word in enumerate(SEA_WORDS):
            upto = f"\u2013{SEA_BOUNDS_M[n]:g} m" if n < len(SEA_BOUNDS_M) else " m and more"
            rect = svg.tag("rect", x=1.0, y=1.0, width=26.0, height=12.0, class_=f"sea{n} keycell")
            items.append(item(rect, f"{word} {lows[n]}{upto}"))
    return "".join(items)


def _table(routes: Sequence[MapRoute], frames: Sequence[SeaFrame]) -> Table:
    """Where each route's yacht is at the times shown, and the sea in the area."""
    rows: list[list[object]] = []
    for frame in frames:
        known = np.asarray(frame.height_m, dtype=float)
        known = known[np.isfinite(known)]
        row: list[object] = [f"{short_utc_text(frame.time_s)} UTC"]
        row += [float(np.median(known)), float(known.max())] if known.size else [None, None]
        for i in range(len(routes)):
            lat, lon = frame.yacht[i] if i < len(frame.yacht) else (np.nan, np.nan)
            row.append(
                f"{degree_text(lat, ('N', 'S'))} {degree_text(lon, ('E', 'W'))}"
                if np.isfinite(lat) and np.isfinite(lon)
                else None
            )
        rows.append(row)
    if not frames:
        return Table(
            [Column("route"), Column("waypoints")],
            [[r.name, ", ".join(r.waypoints)] for r in routes],
        )
    return Table(
        [
            Column("time"),
            Column("sea, middle", "m", 1, "median significant height in the area"),
            Column("sea, highest", "m", 1),
            *(Column(r.name) for r in routes),
        ],
        rows,
    )
