"""The parts around a plot: axes, keys, legs along the top, shaded backgrounds, labels."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passage.report.drawing import svg
from passage.report.drawing.charts_parts import FONT_PX, WIDE_PX, Bar, Panel, Span, XAxis
from passage.report.drawing.svg_scale import Floats, Scale, nice_step, tick_text, ticks, time_ticks


def key_rows(panel: Panel, left: float, head: float, right: float, wide: bool) -> tuple[str, float]:
    """The key under a panel's heading in the narrow drawing, and its height.

    The wide drawing labels the lines themselves.
    """
    names = [(s.label, f"key {svg.style_of(s.style)}", s.style) for s in panel.series]
    names += [(b.label, f"swatch soft c{b.style + 1}", -1) for b in panel.bands if b.label]
    names += [(w, f"swatch p{i + 1}", -1) for i, w in enumerate(panel.bar_labels)]
    if wide or (len(names) < 2 and not panel.bar_labels):
        return "", 0.0
    parts, at, row = [], left, head + 15.0
    for whole, classes, mark in names:
        label = svg.shortened(whole, right - left - 36.0, FONT_PX)
        wanted = 28.0 + svg.text_width(label, FONT_PX) + 10.0
        if at > left and at + wanted > right:
            at, row = left, row + 16.0
        if mark >= 0:
            parts.append(svg.tag("path", d=f"M{at:.0f} {row - 4:.0f}h22", class_=classes))
        else:
            parts.append(
                svg.tag("rect", x=at, y=row - 10.0, width=16.0, height=11.0, class_=classes)
            )
        parts.append(svg.text(at + 27.0, row, label, class_="label"))
        at += wanted
    return "".join(parts), row - head + 2.0


def leg_strip(across: Scale, legs: Sequence[Span], top: float) -> str:
    """Boxes along the top with the leg numbers; stays are shaded and labelled."""
    parts = []
    for span in legs:
        a, b = across.at(span.start), across.at(span.end)
        parts.append(
            svg.tag(
                "rect", x=a, y=top, width=max(b - a, 1.0), height=18.0, class_=f"leg {span.kind}"
            )
        )
        label = span.label
        if svg.text_width(label, FONT_PX) + 4.0 > b - a:
            label = label.split()[-1] if span.kind == "leg" else ""
        if label and svg.text_width(label, FONT_PX) <= b - a:
            parts.append(
                svg.text(0.5 * (a + b), top + 13.0, label, class_="label", text_anchor="middle")
            )
    return "".join(parts)


def shade(across: Scale, spans: Sequence[Span], top: float, bottom: float) -> str:
    """Shading of stays, gaps and nights, the lines between legs, and marks."""
    parts = []
    for span in spans:
        a, b = across.at(span.start), across.at(span.end)
        if span.kind in ("stay", "gap", "night", "barred"):
            parts.append(
                svg.tag(
                    "rect",
                    x=a,
                    y=top,
                    width=max(b - a, 0.5),
                    height=bottom - top,
                    class_=f"ground {span.kind}",
                )
            )
            if span.kind == "gap" and b - a > svg.text_width(span.label, FONT_PX) + 8.0:
                parts.append(
                    svg.text(
                        0.5 * (a + b), top + 16.0, span.label, class_="label", text_anchor="middle"
                    )
                )
        if span.kind == "mark":
            parts.append(svg.tag("path", d=f"M{a:.1f} {top:.1f}V{bottom:.1f}", class_="markline"))
            right = a + svg.text_width(span.label, FONT_PX) + 8.0 < across.end
            parts.append(
                svg.text(
                    a + 4.0 if right else a - 4.0,
                    top + 11.0,
                    span.label,
                    class_="label on strong",
                    text_anchor=None if right else "end",
                )
            )
        if span.kind in ("leg", "stay") and span.start > across.low:
            parts.append(svg.tag("path", d=f"M{a:.1f} {top:.1f}V{bottom:.1f}", class_="legline"))
    return "".join(parts)


def stacked_bar(bar: Bar, across: Scale, up: Scale) -> str:
    """One bar of stacked parts; negative parts go below zero."""
    a, b = across.at(bar.start), across.at(bar.end)
    gap = min(1.5, 0.1 * (b - a))
    above = below = 0.0
    parts = []
    for i, value in enumerate(bar.parts):
        if not np.isfinite(value) or value == 0.0:
            continue
        base = above if value > 0 else below
        y0, y1 = up.at(base), up.at(base + value)
        if value > 0:
            above += value
        else:
            below += value
        parts.append(
            svg.tag(
                "rect",
                x=a + gap,
                y=min(y0, y1),
                width=max(b - a - 2 * gap, 1.0),
                height=abs(y1 - y0),
                class_=f"bar p{i % svg.STYLES + 1}",
            )
        )
    return "".join(parts)


def end_labels(panel: Panel, across: Scale, up: Scale, x: Floats, top: float, bottom: float) -> str:
    """Names of the lines and bands at their right-hand ends, and a key to the bars' parts."""
    names: list[tuple[float, str, str]] = []
    for series in panel.series:
        values = np.asarray(series.values, dtype=float)
        known = np.flatnonzero(np.isfinite(values))
        if known.size:
            last = float(min(values[known[-1]], up.high))
            names.append((up.at(last), series.label, f"key {svg.style_of(series.style)}"))
    for area in panel.bands:
        middle = 0.5 * (np.asarray(area.low, dtype=float) + np.asarray(area.high, dtype=float))
        known = np.flatnonzero(np.isfinite(middle))
        if known.size and area.label:
            names.append(
                (up.at(float(middle[known[-1]])), area.label, f"swatch soft c{area.style + 1}")
            )
    for i, label in enumerate(reversed(panel.bar_labels)):
        n = len(panel.bar_labels) - i
        names.append((top + 12.0 + 15.0 * i, label, f"swatch p{n}"))
    places = svg.spread_apart([n[0] for n in names], 14.0, top + 4.0, bottom - 2.0)
    parts = []
    for (_, label, classes), y in zip(names, places, strict=True):
        x0 = across.end + 4.0
        if classes.startswith("swatch"):
            parts.append(svg.tag("rect", x=x0, y=y - 5.5, width=11.0, height=11.0, class_=classes))
        else:
            parts.append(svg.tag("path", d=f"M{x0:.1f} {y:.1f}h12", class_=classes))
        shown = svg.shortened(label, WIDE_PX - x0 - 18.0, FONT_PX)
        parts.append(svg.text(x0 + 16.0, y + 4.0, shown, class_="label"))
    return "".join(parts)


def y_axis(up: Scale, across: Scale, count: int) -> str:
    """Grid lines and tick labels on the left."""
    step = nice_step(up.high - up.low, count)
    parts = []
    for value in ticks(up.low, up.high, count):
        y = up.at(value)
        kind = "zero" if abs(value) < 1e-9 * max(abs(up.low), abs(up.high), 1.0) else "grid"
        parts.append(
            svg.tag("path", d=f"M{across.start:.1f} {y:.1f}H{across.end:.1f}", class_=kind)
        )
        parts.append(
            svg.text(
                across.start - 5.0,
                y + 4.0,
                tick_text(value, step),
                class_="tick",
                text_anchor="end",
            )
        )
    return "".join(parts)


def x_axis(axis: XAxis, across: Scale, bottom: float, wide: bool) -> str:
    """Ticks and labels under the lowest panel."""
    parts = [svg.tag("path", d=f"M{across.start:.1f} {bottom:.1f}H{across.end:.1f}", class_="axis")]

    def mark(at: float, first: str, second: str = "") -> None:
        parts.append(svg.tag("path", d=f"M{at:.1f} {bottom:.1f}v4", class_="axis"))
        parts.append(svg.text(at, bottom + 16.0, first, class_="tick", text_anchor="middle"))
        if second:
            parts.append(
                svg.text(at, bottom + 30.0, second, class_="tick day", text_anchor="middle")
            )

    if axis.is_time:
        found = time_ticks(axis.low, axis.high, 12 if wide else 5)
        for n, tick in enumerate(found):
            date = tick.date + (", UTC" if n == 0 else "")
            mark(across.at(tick.time_s), tick.hour or date, date if tick.hour and tick.date else "")
        return "".join(parts)
    if axis.names:
        for at, name in axis.names:
            mark(across.at(at), name)
    else:
        count = 8 if wide else 4
        step = nice_step(axis.high - axis.low, count)
        for value in ticks(axis.low, axis.high, count):
            mark(across.at(value), tick_text(value, step))
    if axis.heading:
        parts.append(
            svg.text(across.end, bottom + 32.0, axis.heading, class_="tick", text_anchor="end")
        )
    return "".join(parts)
