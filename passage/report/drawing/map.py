"""The map: coast, sea state, wind, routes, and where the yacht is at each time.

The coast is for orientation on the page, not for navigation; the page says so. Sea state
is shaded by classes and written in figures; wind is drawn with barbs (half 5 kn, full
10 kn, flag 50 kn).
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
from passage.report.drawing.map_marks import (
    SeaFrame,
    barb,
    barbs,
    cells,
    figures,
    geometry_words,
    grid_words,
)
from passage.report.drawing.svg_labels import Box, beside, shown
from passage.report.drawing.svg_scale import nice_step, short_utc_text
from passage.report.drawing.theme import SEA_BOUNDS_M, SEA_WORDS

__all__ = ["MapRoute", "SeaFrame", "barb", "passage_map"]

Floats = npt.NDArray[np.float64]
#: Times [s since 1970], latitudes and longitudes [deg] of one yacht, (n,) each, by time.
Track = tuple[npt.ArrayLike, npt.ArrayLike, npt.ArrayLike]


@dataclass(frozen=True)
class MapRoute:
    """A route as a line with waypoints; ``style`` picks colour, dash and mark.

    ``label`` is written beside it; empty for its name.
    """

    name: str
    lat_deg: Sequence[float]
    lon_deg: Sequence[float]
    style: int = 0
    waypoints: Sequence[str] = field(default_factory=tuple)
    chosen: bool = False
    label: str = ""


def passage_map(
    routes: Sequence[MapRoute],
    frames: Sequence[SeaFrame],
    rings: Sequence[npt.ArrayLike],
    *,
    title: str = "Routes and sea state",
    margin_deg: float = 0.6,
    key: str = "map",
    track: Track | None = None,
) -> Map:
    """The map at the time of each frame; without frames one map without sea.

    Parameters
    ----------
    rings
        Land rings, each (n, 2) of longitude and latitude [deg], as ``rings_in`` gives them.
    track
        Times and positions of the page's yacht, so that map and strips show the same moment.
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
        heights, winds = grid_words(frame) if frame else ("", "")
        made.append(
            MapFrame(label, drawn[0], drawn[1], frame.time_s if frame else None, heights, winds)
        )
    return Map(
        title,
        description,
        made,
        _key(routes, bool(frames)),
        _table(routes, frames),
        "Coast: Natural Earth. Not for navigation.",
        geometry_words(frames[0], projections) if frames else "",
        _track_words(track, projections),
    )


def _track_words(track: Track | None, projections: Sequence[Projection]) -> str:
    """Times and pixels of the track on each drawing."""
    if track is None:
        return ""
    time, lat, lon = (np.asarray(v, dtype=float) for v in track)
    known = np.isfinite(time) & np.isfinite(lat) & np.isfinite(lon)
    columns = [time[known]]
    for p in projections:
        columns += [p.x(lon[known]), p.y(lat[known])]
    return ";".join(
        ",".join([f"{row[0]:.0f}", *(f"{v:.1f}" for v in row[1:])])
        for row in np.column_stack(columns).tolist()
    )


def _frame(
    p: Projection, coast: str, routes: Sequence[MapRoute], frame: SeaFrame | None, wide: bool
) -> str:
    parts = [svg.tag("rect", x=0.0, y=0.0, width=p.width_px, height=p.height_px, class_="sea")]
    labels, taken = _labels(p, routes, wide)
    if frame is not None:
        whole = {"x": 0.0, "y": 0.0, "width": p.width_px, "height": p.height_px}
        parts += [svg.tag("rect", **whole, class_="unread"), cells(p, frame)]
    if coast:
        parts.append(svg.tag("path", d=coast, class_="land", fill_rule="evenodd"))
    parts.append(_graticule(p, wide))
    if frame is not None:
        held = [*taken, *_yacht_boxes(p, frame)]
        lines = [(p.x(route.lon_deg), p.y(route.lat_deg)) for route in routes]
        parts.append(figures(p, frame, 76.0 if wide else 62.0, held, lines))
        parts.append(barbs(p, frame, 76.0 if wide else 62.0, held))
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
    parts.append(labels)
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


def _yacht_boxes(p: Projection, frame: SeaFrame) -> list[Box]:
    """Boxes around the yachts, which figures and barbs keep clear of."""
    at = [(float(p.x(lon)), float(p.y(lat))) for lat, lon in frame.yacht
          if np.isfinite(lat) and np.isfinite(lon)]  # fmt: skip
    return [Box(x - 9.0, y - 9.0, x + 9.0, y + 9.0) for x, y in at]


def _labels(p: Projection, routes: Sequence[MapRoute], wide: bool) -> tuple[str, list[Box]]:
    """Names of departure, arrival and routes, once each and clear of one another.

    Returns the markup, and the boxes that figures and barbs keep clear of.
    """
    bounds = Box(4.0, 4.0, p.width_px - 4.0, p.height_px - 18.0)
    edges = [
        Box(0.0, 0.0, 44.0, p.height_px),
        Box(0.0, p.height_px - 18.0, p.width_px, p.height_px),
    ]
    named: dict[str, tuple[float, float]] = {}
    for route in routes:
        if route.waypoints:
            named.setdefault(route.waypoints[0], (route.lat_deg[0], route.lon_deg[0]))
            named.setdefault(route.waypoints[-1], (route.lat_deg[-1], route.lon_deg[-1]))
    parts: list[str] = []
    taken: list[Box] = []
    for lat, lon in named.values():
        x, y = float(p.x(lon)), float(p.y(lat))
        parts.append(svg.tag("circle", cx=x, cy=y, r=4.0, class_="port"))
        taken.append(Box(x - 5.0, y - 5.0, x + 5.0, y + 5.0))
    for whole, (lat, lon) in named.items():
        name = svg.shortened(whole, 0.45 * p.width_px, 13.0)
        x, y = float(p.x(lon)), float(p.y(lat))
        place = beside(name, x, y, taken, bounds, size_px=13.0)
        if place is not None:
            parts.append(shown(place, "place"))
            taken.append(place.box)
    if len(routes) > 1:
        for route in routes:
            x_all, y_all = p.x(route.lon_deg), p.y(route.lat_deg)
            words = svg.shortened(route.label or route.name, 0.5 * p.width_px, 12.0)
            for share in (0.5, 0.35, 0.65, 0.2, 0.8):
                x, y = _along(x_all, y_all, share)
                place = beside(words, x, y, [*taken, *edges], bounds, off_px=8.0, reach_px=24.0)
                if place is not None:
                    parts.append(shown(place, f"routename c{route.style % svg.STYLES + 1}"))
                    taken.append(place.box)
                    break
    return "".join(parts), [*taken, *edges]


def _along(x: Floats, y: Floats, share: float) -> tuple[float, float]:
    """The point at a share of the length of a line."""
    steps = np.r_[0.0, np.cumsum(np.hypot(np.diff(x), np.diff(y)))]
    at = share * steps[-1]
    return float(np.interp(at, steps, x)), float(np.interp(at, steps, y))


def _graticule(p: Projection, wide: bool) -> str:
    """Lines of latitude and longitude, with labels along the left and bottom edges."""
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
            r.label or r.name + (" (chosen)" if r.chosen else ""),
        )
        for r in routes
    ]
    if with_sea:
        items.append(
            item(
                svg.tag("circle", cx=14.0, cy=7.0, r=5.5, class_="yacht"), "the yacht at that time"
            )
        )
        wind = svg.tag("g", barb(3.0, 11.0, -23.0, -6.0), class_="barbs")
        items.append(item(wind, "wind, from the feathered end: half 5 kn, full 10, flag 50"))
        figure = svg.text(14.0, 11.0, "2.4", class_="height", text_anchor="middle")
        items.append(item(figure, "significant height, m"))
        blank = svg.tag("rect", x=1.0, y=1.0, width=26.0, height=12.0, class_="unread keycell")
        items.append(item(blank, "no forecast"))
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
