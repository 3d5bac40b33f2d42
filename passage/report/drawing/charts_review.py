"""Charts of planned and logged values: both along the track, and one against the other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from passage.planning.review.legs import LegReview
from passage.planning.review.strips import Strips
from passage.report.drawing import svg
from passage.report.drawing.blocks import Chart, Column, Table
from passage.report.drawing.charts_frame import x_axis, y_axis
from passage.report.drawing.charts_panel import (
    NARROW_PX,
    READ_SCALE,
    WIDE_PX,
    Band,
    Panel,
    Series,
    Span,
    XAxis,
    panels_chart,
    twice,
)
from passage.report.drawing.svg_scale import Floats, Scale, nice_range

_PLANNED, _LOGGED = 0, 1
_SIDE_PX, _NARROW_SIDE_PX = 250.0, 280.0


def way_chart(strips: Strips) -> Chart | None:
    """Fuel, roll and speed along the track, planned with bands and logged; None if empty."""
    if strips.way_nm.size < 2:
        return None
    spans = [
        Span(a, b, f"leg {number}")
        for number, (a, b) in zip(strips.legs, strips.ends_nm, strict=True)
    ]
    panels, columns = [], []
    for heading, unit, digits, planned, logged, band in (
        ("Fuel of the main engines, l/h", "l/h", 0, strips.fuel_planned, strips.fuel_logged,
         (strips.fuel_low, strips.fuel_high)),
        ("Roll rms, degrees", "deg", 2, strips.roll_planned, strips.roll_logged,
         (strips.roll_low, strips.roll_high)),
        ("Speed through the water, kn", "kn", 1, strips.speed_planned, strips.speed_logged, None),
    ):  # fmt: skip
        if not np.any(np.isfinite(logged)):
            continue
        name = heading.split(",")[0].lower()
        bands = (
            []
            if band is None or not np.any(np.isfinite(band[0]))
            else [Band("plan's band", *band, 0)]
        )
        panels.append(
            Panel(
                heading,
                [Series("planned", planned, _PLANNED), Series("logged", logged, _LOGGED)],
                bands,
                height_px=105.0 if band is not None else 70.0,
                # Fuel and speed are far above zero: what matters is the gap between the lines.
                from_zero=heading.startswith("Roll"),
            )
        )
        columns += [
            (Column(f"{name}, planned", unit, digits, f"{name} by the plan"), planned),
            (Column(f"{name}, logged", unit, digits, f"{name} by the log"), logged),
        ]
    if not panels:
        return None
    rows = [
        [float(mile), *(float(values[at]) for _, values in columns)]
        for at, mile in enumerate(strips.way_nm)
    ]
    way = Column("mile", "nm", 1, "miles along the planned track, without stays")
    table = Table(
        [way, *(column for column, _ in columns)],
        rows,
        at_s=[READ_SCALE * float(mile) for mile in strips.way_nm],
    )
    return panels_chart(
        "Planned and logged along the way",
        "Each value of the log is drawn at the nearest mile of the planned track.",
        strips.way_nm,
        panels,
        table,
        axis=XAxis(0.0, strips.ends_nm[-1][1], is_time=False, heading="nm along the planned track"),
        spans=spans,
        key="review-way",
    )


def scatter_chart(
    legs: Sequence[LegReview], quantities: Sequence[tuple[str, str, str, int]]
) -> Chart | None:
    """Logged against planned by leg, a plot for each quantity; None without compared legs."""
    shown = [
        (key, words, unit, digits, there)
        for key, words, unit, digits in quantities
        if (there := [leg for leg in legs if leg.pairs[key].miss is not None])
    ]
    if not shown:
        return None

    def draw(wide: bool) -> tuple[float, float, str]:
        width, side = (WIDE_PX, _SIDE_PX) if wide else (NARROW_PX, _NARROW_SIDE_PX)
        across = min(len(shown), 3) if wide else 1
        pitch = width / across
        parts, bottom = [], 0.0
        for at, one in enumerate(shown):
            left = 44.0 + pitch * (at % across)
            top = 26.0 + (side + 72.0) * (at // across)
            size = min(side, pitch - 60.0)
            parts.append(_plot(one, left, top, size, wide))
            bottom = max(bottom, top + size + 44.0)
        return width, bottom, "".join(parts)

    columns = [Column("leg")]
    for _, words, unit, digits, _ in shown:
        columns += [
            Column(f"{words}, {side}", unit, digits, f"{words} of the leg, {meaning}")
            for side, meaning in (("planned", "by the plan"), ("logged", "by the log"),
                                  ("low", "low end of the plan's band"),
                                  ("high", "high end of the plan's band"))
        ]  # fmt: skip
    rows: list[list[object]] = []
    for leg in legs:
        row: list[object] = [str(leg.leg)]
        for key, *_ in shown:
            pair = leg.pairs[key]
            row += [pair.planned, pair.logged, pair.low, pair.high]
        rows.append(row)
    return twice(
        "Logged against planned, by leg",
        "On the line, logged equals planned. The bar through a mark is the plan's band: where it "
        "crosses the line, the logged value is within the band.",
        draw,
        Table(columns, rows),
        key="review-scatter",
    )


def _plot(
    one: tuple[str, str, str, int, list[LegReview]],
    left: float,
    top: float,
    size: float,
    wide: bool,
) -> str:
    """One square plot; bands are drawn along the planned axis."""
    key, words, unit, digits, legs = one
    pairs = [leg.pairs[key] for leg in legs]
    numbers: Floats = np.array(
        [[np.nan if v is None else v for v in (p.planned, p.logged, p.low, p.high)] for p in pairs]
    )
    low, high = nice_range(numbers, count=4)
    x, y = Scale(low, high, left, left + size), Scale(low, high, top + size, top)
    name = f"{words}, {unit}"
    parts = [
        svg.text(left, top - 12.0, f"{name[0].upper()}{name[1:]}", class_="head"),
        y_axis(y, x, 4),
        x_axis(XAxis(low, high, is_time=False, heading="planned"), x, top + size, wide=False),
        svg.text(left + 4.0, top + 10.0, "logged", class_="tick"),
        svg.line(x(np.array([low, high])), y(np.array([low, high])), class_="line c4 d3"),
    ]
    for leg, (planned, logged, least, most) in zip(legs, numbers, strict=True):
        at = y.at(logged)
        if np.isfinite(least) and np.isfinite(most):
            parts.append(
                svg.line(x(np.array([least, most])), np.array([at, at]), class_="line c1 d1")
            )
        said = f"leg {leg.leg}: {words} {logged:.{digits}f} {unit} logged"
        said += f", {planned:.{digits}f} planned"
        if np.isfinite(least) and np.isfinite(most):
            said += f", band {least:.{digits}f} to {most:.{digits}f}"
        parts.append(svg.marker(0, x.at(planned), at, 3.6, class_="mark c2", data_read=said))
        parts.append(svg.text(x.at(planned) + 5.0, at - 5.0, str(leg.leg), class_="label"))
    return "".join(parts)
