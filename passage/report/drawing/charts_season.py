"""Charts over months: percentile bands by route, and shares of departures."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from passage.report.drawing import svg
from passage.report.drawing.blocks import Chart, Column, Table, shown
from passage.report.drawing.charts_frame import x_axis, y_axis
from passage.report.drawing.charts_panel import NARROW_PX, WIDE_PX, Limit, XAxis, twice
from passage.report.drawing.svg_scale import MONTHS, Scale, nice_range

#: The percentiles that a month's symbol shows: line, box, median, box, line.
PERCENTILES = (10, 25, 50, 75, 90)


def month_chart(
    title: str,
    heading: str,
    route_names: Sequence[str],
    percentiles: npt.ArrayLike,
    *,
    column: Column,
    counts: npt.ArrayLike | None = None,
    limit: Limit | None = None,
    months: Sequence[int] = tuple(range(1, 13)),
    from_zero: bool = True,
    key: str = "",
) -> Chart:
    """One symbol for each month and route: line 10 to 90 %, box 25 to 75 %, median marked.

    Parameters
    ----------
    percentiles
        Shape (routes, months, 5), in the order of ``PERCENTILES``; NaN: no departures.
    counts
        Departures behind each symbol, shape (routes, months), for the table.
    limit
        A line across the chart, named in the key, where no symbol can hide its label.
    from_zero
        Whether the axis must begin at zero; if not, small differences show better.
    """
    values = np.asarray(percentiles, dtype=float)
    many = None if counts is None else np.asarray(counts, dtype=float)
    columns = [Column("month"), Column("route")]
    columns += [Column(f"{p} %", column.unit, column.decimals) for p in PERCENTILES]
    if many is not None:
        columns.append(Column("departures", "", 0))
    rows: list[list[object]] = []
    for m, month in enumerate(months):
        for r, name in enumerate(route_names):
            row: list[object] = [MONTHS[month - 1], name, *(float(v) for v in values[r, m])]
            rows.append(row + ([] if many is None else [float(many[r, m])]))

    def draw(wide: bool) -> tuple[float, float, str]:
        width = WIDE_PX if wide else NARROW_PX
        held = values if limit is None else np.append(values.ravel(), limit.value)
        low, high = nice_range(held, count=6, from_zero=from_zero)
        left, right = _left(low, high, wide), width - 8.0
        line = "" if limit is None else f"{limit.label} {limit.value:g} {column.unit}".strip()
        keys, row = _route_key(route_names, left, right, 34.0, line)
        top, bottom = row + 12.0, row + (232.0 if wide else 212.0)
        up = Scale(low, high, bottom, top)
        across = Scale(-0.5, len(months) - 0.5, left, right)
        head = svg.shortened(heading, right - left)
        parts = [svg.text(left, 16.0, head, class_="head"), keys, y_axis(up, across, 6)]
        slot = (right - left) / len(months)
        for m in range(0, len(months), 2):
            parts.append(
                svg.tag(
                    "rect",
                    x=across.at(m - 0.5),
                    y=top,
                    width=slot,
                    height=bottom - top,
                    class_="ground month",
                )
            )
        wide_px = min(0.8 * slot / max(len(route_names), 1), 16.0)
        for r in range(len(route_names)):
            for m in range(len(months)):
                shift = (r - 0.5 * (len(route_names) - 1)) * wide_px * 1.1
                spoken = _spoken(values[r, m], route_names[r], MONTHS[months[m] - 1], column)
                parts.append(_glyph(values[r, m], across.at(m) + shift, wide_px, up, r, spoken))
        if limit is not None:
            y = up.at(limit.value)
            parts.append(
                svg.tag("path", d=f"M{left:.1f} {y:.1f}H{right:.1f}", class_="limitline limit")
            )
        parts.append(x_axis(_month_axis(months, wide), across, bottom, wide))
        return width, bottom + 24.0, "".join(parts)

    return twice(
        title,
        f"{heading}. For each month and route: thin line from the 10th to the 90th percentile of "
        "departures, box from the 25th to the 75th, mark at the median.",
        draw,
        Table(columns, rows),
        key=key,
        note="Thin line: 10th to 90th percentile of departures; box: 25th to 75th; mark: median.",
    )


def _month_axis(months: Sequence[int], wide: bool) -> XAxis:
    names = [(float(i), MONTHS[m - 1] if wide else MONTHS[m - 1][0]) for i, m in enumerate(months)]
    return XAxis(-0.5, len(months) - 0.5, is_time=False, names=names)


def _left(low: float, high: float, wide: bool) -> float:
    """Left edge of the plot, with room for the tick labels. [px]"""
    longest = max(svg.text_width(f"{value:.0f}", 11.0) for value in (low, high))
    return max(48.0 if wide else 36.0, longest + 12.0)


def _route_key(
    names: Sequence[str], left: float, right: float, row: float, line: str = ""
) -> tuple[str, float]:
    """Key to the routes' marks and the limit's line, and the height of its last row."""
    parts, at = [], left
    for i, whole in enumerate(names):
        name = svg.shortened(whole, right - left - 24.0)
        wanted = 22.0 + svg.text_width(name, 12.0) + 14.0
        if at + wanted > right and at > left:
            at, row = left, row + 17.0
        parts.append(svg.marker(i, at + 6.0, row - 4.0, 4.5, class_=f"mark c{i % 6 + 1}"))
        parts.append(svg.text(at + 16.0, row, name, class_="label"))
        at += wanted
    if line:
        name = svg.shortened(line, right - left - 32.0)
        if at + 30.0 + svg.text_width(name, 12.0) > right and at > left:
            at, row = left, row + 17.0
        parts.append(svg.tag("path", d=f"M{at:.1f} {row - 4.0:.1f}h22", class_="limitline limit"))
        parts.append(svg.text(at + 28.0, row, name, class_="label limit"))
    return "".join(parts), row


def _spoken(values: np.ndarray, route: str, month: str, column: Column) -> str:
    """A symbol's figures in words, for the read-out."""
    low, lower, middle, upper, high = (shown(float(v), column.decimals) for v in values)
    return (
        f"{month}, {route}: median {middle} {column.unit}, half of departures {lower} to {upper}, "
        f"four in five {low} to {high}"
    )


def _glyph(
    values: np.ndarray, x: float, width: float, up: Scale, style: int, spoken: str = ""
) -> str:
    if not np.isfinite(values).all():
        return ""
    low, lower, middle, upper, high = (float(v) for v in up(values))
    colour = f"c{style % 6 + 1}"
    half = 0.36 * width
    return (
        svg.tag("path", d=f"M{x:.1f} {low:.1f}V{high:.1f}", class_=f"whisker {colour}")
        + svg.tag(
            "rect",
            x=x - half,
            y=upper,
            width=2.0 * half,
            height=max(lower - upper, 0.8),
            class_=f"box {colour}",
        )
        + svg.marker(
            style,
            x,
            middle,
            min(3.4, 0.4 * width),
            class_=f"mark {colour}",
            data_read=spoken or None,
        )
    )


def share_chart(
    title: str,
    heading: str,
    route_names: Sequence[str],
    percent: npt.ArrayLike,
    *,
    months: Sequence[int] = tuple(range(1, 13)),
    few: npt.ArrayLike | None = None,
    few_mark: str = "",
    key: str = "",
) -> Chart:
    """Share of departures that meet a condition, by month: a line for each route.

    Parameters
    ----------
    percent
        Shape (routes, months), 0 to 100; NaN: no departures.
    few
        The same shape: True for a share of too few departures. It bears ``few_mark`` in
        figures and read-outs, its mark is faint and the line leaves it out.
    """
    values = np.asarray(percent, dtype=float)
    faint = np.zeros(values.shape, bool) if few is None else np.asarray(few, bool)
    faint &= np.isfinite(values)
    rows: list[list[object]] = []
    for m, month in enumerate(months):
        row: list[object] = [MONTHS[month - 1]]
        for value, unsure in zip(values[:, m], faint[:, m], strict=True):
            row.append(f"{shown(float(value), 0)} {few_mark}" if unsure else float(value))
        rows.append(row)

    def draw(wide: bool) -> tuple[float, float, str]:
        width = WIDE_PX if wide else NARROW_PX
        left, right = (48.0 if wide else 36.0), width - 8.0
        keys, row = _route_key(route_names, left, right, 34.0)
        top, bottom = row + 12.0, row + 172.0
        up, across = Scale(0.0, 100.0, bottom, top), Scale(-0.5, len(months) - 0.5, left, right)
        head = svg.shortened(heading, right - left)
        parts = [svg.text(left, 16.0, head, class_="head"), keys, y_axis(up, across, 5)]
        at = across(np.arange(len(months)))
        # Marks may overlap, so each reads out the whole month.
        spoken = [
            f"{MONTHS[month - 1]}: "
            + "; ".join(
                f"{name} {shown(float(values[r, m]), 0)} %{f' {few_mark}' if faint[r, m] else ''}"
                for r, name in enumerate(route_names)
            )
            for m, month in enumerate(months)
        ]
        for r in range(len(route_names)):
            sure = np.where(faint[r], np.nan, values[r])
            parts.append(svg.line(at, up(sure), class_=f"line {svg.style_of(r)}"))
            for m, (x, y) in enumerate(zip(at, up(values[r]), strict=True)):
                parts.append(
                    svg.marker(
                        r,
                        float(x),
                        float(y),
                        4.0,
                        class_=f"mark c{r % 6 + 1}{' hollow' if faint[r, m] else ''}",
                        data_read=spoken[m],
                    )
                )
        parts.append(x_axis(_month_axis(months, wide), across, bottom, wide))
        return width, bottom + 24.0, "".join(parts)

    return twice(
        title,
        f"{heading}, by month, a line for each route.",
        draw,
        Table(
            [
                Column("month"),
                *(Column(n, "%", 0, f"share of departures by {n}") for n in route_names),
            ],
            rows,
        ),
        key=key,
        note=f"Hollow mark {few_mark}: too few departures for odds." if faint.any() else "",
    )
