"""Charts of one or more panels over a shared horizontal axis.

Every chart of the page is drawn here or with parts from here: a frame with ticks; series,
each with its own colour, dash, marks and label; bands, limits, shaded spans, and the legs
of the passage along the top. Each chart is drawn twice, for a wide and for a narrow
window, so that its words keep their size on a phone.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from passage.report.drawing import svg
from passage.report.drawing.blocks import Chart, Table
from passage.report.drawing.charts_frame import (
    end_labels,
    key_rows,
    leg_strip,
    shade,
    stacked_bar,
    x_axis,
    y_axis,
)
from passage.report.drawing.charts_parts import (
    FONT_PX,
    NARROW_PX,
    WIDE_PX,
    Band,
    Bar,
    Limit,
    Panel,
    Series,
    Span,
    XAxis,
)
from passage.report.drawing.svg_scale import Floats, Scale, nice_range

__all__ = [
    "NARROW_PX",
    "WIDE_PX",
    "Band",
    "Bar",
    "Limit",
    "Panel",
    "Series",
    "Span",
    "XAxis",
    "panels_chart",
    "restyled",
    "slug",
    "twice",
]


def slug(words: str) -> str:
    """An id from words: letters, digits and hyphens only."""
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")[:40] or "chart"


#: Steps of ``Table.at_s`` for one unit of an axis that is not time.
READ_SCALE = 1000.0


def twice(
    title: str,
    description: str,
    draw: Callable[[bool], tuple[float, float, str]],
    table: Table,
    *,
    key: str = "",
    note: str = "",
    axis: tuple[float, float, float, float, float, float] | None = None,
    link: str = "",
) -> Chart:
    """A chart from a function that gives (width, height, markup) for wide and narrow."""
    key = key or slug(title)
    made = []
    for wide in (True, False):
        width, height, content = draw(wide)
        made.append(
            svg.drawing(
                width,
                height,
                content,
                title=title,
                description=description,
                key=f"{key}-{'w' if wide else 'n'}",
            )
        )
    return Chart(title, description, made[0], made[1], table, note, axis, link)


def panels_chart(
    title: str,
    description: str,
    x: Floats,
    panels: Sequence[Panel],
    table: Table,
    *,
    axis: XAxis,
    spans: Sequence[Span] = (),
    key: str = "",
    note: str = "",
    link: str = "way",
) -> Chart:
    """Panels above one another over one shared axis.

    Parameters
    ----------
    x
        Positions of the series' values along the axis, shape ``(n,)``: seconds
        since 1970 when ``axis.is_time``.
    table
        The same numbers as a table.
    """
    x = np.asarray(x, dtype=float)
    wide_plot, narrow_plot = _edges(True, panels), _edges(False, panels)

    def draw(wide: bool) -> tuple[float, float, str]:
        width = WIDE_PX if wide else NARROW_PX
        left, right = wide_plot if wide else narrow_plot
        across = Scale(axis.low, axis.high, left, right)
        parts: list[str] = []
        top = 4.0
        legs = [s for s in spans if s.kind in ("leg", "stay")]
        if legs:
            parts.append(leg_strip(across, legs, top))
            top += 24.0
        bottom = top
        frames: list[tuple[Panel, float, float]] = []
        for panel in panels:
            head = top + 14.0
            keys, rows = key_rows(panel, left, head, right, wide)
            parts.append(svg.text(left, head, panel.heading, class_="head"))
            parts.append(keys)
            start = head + 8.0 + rows
            bottom = start + panel.height_px
            frames.append((panel, start, bottom))
            top = bottom + 12.0
        for panel, start, end in frames:
            parts.append(shade(across, spans, start, end))
            parts.append(draw_panel(panel, x, across, start, end, wide, title))
        parts.append(x_axis(axis, across, bottom, wide))
        return width, bottom + (38.0 if axis.is_time or axis.heading else 24.0), "".join(parts)

    # The page works in whole numbers, so an axis that is not time is given in thousandths.
    scale = 1.0 if axis.is_time else READ_SCALE
    read = axis.is_time or table.at_s is not None
    edges = (*wide_plot, *narrow_plot, scale * axis.low, scale * axis.high) if read else None
    return twice(title, description, draw, table, key=key, note=note, axis=edges, link=link)


def _edges(wide: bool, panels: Sequence[Panel]) -> tuple[float, float]:
    """Left and right edge of the plots, with room for ticks and, when wide, for labels."""
    if not wide:
        return 34.0, NARROW_PX - 16.0
    words = [s.label for p in panels for s in p.series]
    words += [b.label for p in panels for b in p.bands] + [w for p in panels for w in p.bar_labels]
    longest = max((svg.text_width(w, FONT_PX) for w in words), default=0.0)
    # At least 118 px, so that lines end at one place in most charts above one another.
    return 44.0, WIDE_PX - (min(max(longest + 22.0, 118.0), 190.0) if words else 24.0)


def draw_panel(
    panel: Panel, x: Floats, across: Scale, top: float, bottom: float, wide: bool, title: str
) -> str:
    """Grid, bands, bars, limits, lines, marks and labels of one panel."""
    stacks = [sum(v for v in bar.parts if np.isfinite(v) and v > 0) for bar in panel.bars]
    stacks += [sum(v for v in bar.parts if np.isfinite(v) and v < 0) for bar in panel.bars]
    held = [np.asarray(s.values, dtype=float) for s in panel.series]
    held += [np.asarray(v, dtype=float) for b in panel.bands for v in (b.low, b.high)]
    held += [np.asarray(stacks, dtype=float)]
    held += [np.array([limit.value]) for limit in panel.limits]
    count = max(2, int((bottom - top) / 30.0))
    low, high = nice_range(
        np.concatenate([h.ravel() for h in held]),
        count=count,
        from_zero=panel.from_zero,
        symmetric=panel.symmetric,
    )
    if panel.top is not None:
        high = min(high, panel.top)
    up = Scale(low, high, bottom, top)
    parts = [y_axis(up, across, count)]
    for limit in panel.limits:
        if limit.around > 0.0:
            a, b = (
                up.at(float(np.clip(limit.value + d, low, high)))
                for d in (limit.around, -limit.around)
            )
            parts.append(
                svg.tag(
                    "rect",
                    x=across.start,
                    y=a,
                    width=across.end - across.start,
                    height=b - a,
                    class_=f"strip {limit.kind}",
                )
            )
    for bar in panel.bars:
        parts.append(stacked_bar(bar, across, up))
    for area in panel.bands:
        parts.append(
            svg.band(
                across(x),
                up(area.low),
                up(area.high),
                class_=f"area c{area.style % svg.STYLES + 1}",
            )
        )
    for series in panel.series:
        if series.fill:
            floor = np.where(np.isfinite(series.values), max(low, 0.0), np.nan)
            parts.append(
                svg.band(
                    across(x),
                    up(floor),
                    up(np.minimum(series.values, high)),
                    class_=f"area c{series.style % svg.STYLES + 1}",
                )
            )
    for limit in panel.limits:
        y = up.at(limit.value)
        parts.append(
            svg.tag(
                "path",
                d=f"M{across.start:.1f} {y:.1f}H{across.end:.1f}",
                class_=f"limitline {limit.kind}",
            )
        )
    for series in panel.series:
        values = np.asarray(series.values, dtype=float)
        kept_x, kept = svg.cut_above(x, values, high)
        parts.append(
            svg.line(across(kept_x), up(kept), class_=f"line {svg.style_of(series.style)}")
        )
        last = -np.inf
        bound = min((v.value for v in panel.limits if v.kind == "limit"), default=np.inf)
        for a, b, value in zip(across(x), up(values), values, strict=True):
            # Marks at least 11 px apart: closer ones would hide the line.
            if (series.marks or (series.over and bound < value <= high)) and a - last > 11.0:
                last = float(a)
                shape = series.style if series.marks else 4
                parts.append(
                    svg.marker(
                        shape,
                        float(a),
                        float(b),
                        3.6,
                        class_=f"mark c{series.style % svg.STYLES + 1}",
                    )
                )
    for limit in panel.limits:
        if limit.label:
            parts.append(_limit_label(limit, panel, x, across, up))
    if wide:
        parts.append(end_labels(panel, across, up, x, top, bottom))
    return "".join(parts)


def _limit_label(limit: Limit, panel: Panel, x: Floats, across: Scale, up: Scale) -> str:
    """The limit's label on its line, where the series leave most room for it."""
    width, y = svg.text_width(limit.label, FONT_PX) + 6.0, up.at(limit.value)
    right = max(across.end - width, across.start + 5.0)
    places = [
        (start, y + drop)
        for start in (across.start + 5.0, 0.5 * (across.start + right), right)
        for drop in (-4.0, 13.0)
        if up.end + 8.0 < y + drop < up.start - 1.0
    ]
    at = across(x)
    best, room = (across.start + 5.0, y - 4.0), -1.0
    for start, base in places:
        near = (at > start - 10.0) & (at < start + width + 10.0)
        lines = [np.asarray(s.values, dtype=float)[near] for s in panel.series]
        gaps = np.abs(up(np.concatenate(lines)) - (base - 4.0)) if lines else np.array([])
        gaps = gaps[np.isfinite(gaps)]
        free = min(float(gaps.min()), 16.0) if gaps.size else 16.0
        if free > room + 0.5:
            best, room = (start, base), free
    return svg.text(*best, limit.label, class_=f"label on {limit.kind}")


def restyled(series: Sequence[Series]) -> list[Series]:
    """Series with style numbers in their order."""
    return [replace(s, style=i) for i, s in enumerate(series)]
