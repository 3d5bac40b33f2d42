"""Charts of the heel decision: heel along the passage, fin angle, policies, break-even."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from passage.report.drawing import svg
from passage.report.drawing.blocks import Chart, Column, Table
from passage.report.drawing.charts_frame import x_axis
from passage.report.drawing.charts_panel import (
    NARROW_PX,
    READ_SCALE,
    WIDE_PX,
    Limit,
    Panel,
    Series,
    Span,
    XAxis,
    panels_chart,
    twice,
)
from passage.report.drawing.svg_scale import Scale, nice_range, short_utc_text


def _steps(start_s: npt.ArrayLike, end_s: npt.ArrayLike, values: npt.ArrayLike) -> np.ndarray:
    """Values of legs at both ends of each leg, with a break between legs."""
    held = np.asarray(values, dtype=float)
    return np.stack([held, held], axis=1).ravel()


def heel_strip(
    start_s: npt.ArrayLike,
    end_s: npt.ArrayLike,
    before_deg: npt.ArrayLike,
    after_deg: npt.ArrayLike,
    names: Sequence[str],
    *,
    limit_deg: float | None = None,
    offset_deg: npt.ArrayLike | None = None,
    offset_left_deg: npt.ArrayLike | None = None,
    spans: Sequence[Span] = (),
    key: str = "heel",
) -> Chart:
    """Steady heel without and with the advice, and the fin angle that holds it.

    All arrays are over the points of the passage, or over its legs.

    Parameters
    ----------
    before_deg, after_deg
        Steady heel, + to starboard. [deg]
    offset_deg
        Mean fin angle that holds the heel, without its sign. [deg]
    offset_left_deg
        Fin angle left for work against roll. [deg]
    """
    starts, ends = np.asarray(start_s, dtype=float), np.asarray(end_s, dtype=float)
    x = np.stack([starts, ends], axis=1).ravel()
    limits = []
    if limit_deg is not None:
        limits = [Limit(limit_deg, f"limit {limit_deg:g} deg"), Limit(-limit_deg, "")]
    panels = [
        Panel(
            "Steady heel, degrees (+ starboard, \u2212 port)",
            [
                Series("uncorrected", _steps(starts, ends, before_deg), 1),
                Series("as advised", _steps(starts, ends, after_deg), 0),
            ],
            limits=limits,
            symmetric=True,
            height_px=150.0,
        )
    ]
    columns = [
        (Column("uncorrected", "deg", 2), before_deg),
        (Column("as advised", "deg", 2), after_deg),
    ]
    if offset_deg is not None:
        series = [Series("offset used", _steps(starts, ends, offset_deg), 3, fill=True)]
        columns.append((Column("offset used", "deg", 1), offset_deg))
        if offset_left_deg is not None:
            series.append(Series("left for roll", _steps(starts, ends, offset_left_deg), 2))
            columns.append((Column("left for roll", "deg", 1), offset_left_deg))
        panels.append(Panel("Fin angle, degrees", series, height_px=100.0))
    rows: list[list[object]] = [
        [
            name,
            short_utc_text(float(a)),
            *(float(np.asarray(v, dtype=float)[i]) for _, v in columns),
        ]
        for i, (name, a) in enumerate(zip(names, starts, strict=True))
    ]
    return panels_chart(
        "Heel along the passage",
        "Steady heel of each leg before and after the advice, positive to starboard, and the fin "
        "angle spent on holding it.",
        x,
        panels,
        Table(
            [Column("leg"), Column("from, UTC"), *(c for c, _ in columns)],
            rows,
            at_s=(0.5 * (starts + ends)).tolist(),
        ),
        axis=XAxis(float(starts.min()), float(ends.max())),
        spans=spans,
        key=key,
    )


def policy_chart(
    policies: Sequence[str],
    parts: Mapping[str, npt.ArrayLike],
    *,
    unit: str = "litres",
    advised: int | None = None,
    feasible: Sequence[bool] | None = None,
    title: str = "What each way of dealing with the heel costs",
    key: str = "policy",
) -> Chart:
    """Horizontal stacked bars, one for each policy.

    Parameters
    ----------
    parts
        Parts of the cost, each of shape (policies,), in ``unit``.
    feasible
        False where a policy is over the owner's limit; its bar is pale. None without a limit.
    """
    values = {name: np.asarray(v, dtype=float) for name, v in parts.items()}
    can = list(feasible) if feasible is not None else [True] * len(policies)
    totals = np.sum(list(values.values()), axis=0)
    rows: list[list[object]] = [
        [
            policy,
            *(float(v[i]) for v in values.values()),
            float(totals[i]),
            *([] if feasible is None else ["yes" if can[i] else "no"]),
        ]
        for i, policy in enumerate(policies)
    ]
    short = "l" if unit == "litres" else unit
    kept = Column("keeps the limit", meaning="whether the heel left keeps the owner's limit")
    table = Table(
        [
            Column("policy"),
            *(Column(n, short, 1) for n in values),
            Column("total", short, 1),
            *([] if feasible is None else [kept]),
        ],
        rows,
        marked=[] if advised is None else [advised],
        mark="advised",
    )

    def draw(wide: bool) -> tuple[float, float, str]:
        width = WIDE_PX if wide else NARROW_PX
        left = 210.0 if wide else 8.0
        right = width - (64.0 if wide else 58.0)
        finite = totals[np.isfinite(totals)]
        across = Scale(*nice_range(finite, count=6), left, right)
        top, parts_ = 4.0, []
        at, row = left, top + 12.0
        for i, whole in enumerate(values):
            name = svg.shortened(whole, width - left - 24.0)
            wanted = 18.0 + svg.text_width(name, 12.0) + 14.0
            if at + wanted > width and at > left:
                at, row = left, row + 17.0
            box = svg.tag(
                "rect", x=at, y=row - 10.0, width=12.0, height=11.0, class_=f"swatch p{i % 6 + 1}"
            )
            parts_ += [box, svg.text(at + 17.0, row, name, class_="label")]
            at += wanted
        y = row + 14.0
        for i, policy in enumerate(policies):
            word = policy + (" \u2013 advised" if i == advised else "")
            word += "" if can[i] else " \u2013 over the limit"
            word = svg.shortened(word, (left if wide else width) - 12.0)
            bold = " strong" if i == advised else ""
            if wide:
                parts_.append(
                    svg.text(left - 8.0, y + 14.0, word, class_=f"label{bold}", text_anchor="end")
                )
            else:
                parts_.append(svg.text(left, y + 8.0, word, class_=f"label{bold}"))
                y += 13.0
            start = across.at(0.0)
            for n, (cause, v) in enumerate(values.items()):
                if not np.isfinite(v[i]) or v[i] <= 0.0:
                    continue
                end = start + across.at(float(v[i])) - across.at(0.0)
                parts_.append(
                    svg.tag(
                        "rect",
                        x=start,
                        y=y,
                        width=max(end - start, 0.5),
                        height=20.0,
                        class_=f"bar p{n % 6 + 1}" + ("" if can[i] else " cannot"),
                        data_read=f"{policy}: {cause} {v[i]:.0f} {unit}, {totals[i]:.0f} in all",
                    )
                )
                start = end
            total = "\u2013" if not np.isfinite(totals[i]) else f"{totals[i]:.0f}"
            parts_.append(svg.text(start + 6.0, y + 14.0, total, class_=f"label{bold}"))
            y += 30.0
        axis = XAxis(across.low, across.high, is_time=False, heading=unit)
        parts_.append(x_axis(axis, across, y, wide))
        return width, y + 38.0, "".join(parts_)

    return twice(title, f"Cost of each policy in {unit}, stacked by cause.", draw, table, key=key)


def break_even_chart(
    list_deg: npt.ArrayLike,
    speeds_kn: Sequence[float],
    distance_nm: npt.ArrayLike,
    *,
    here: tuple[float, float] | None = None,
    top_nm: float | None = None,
    what: str = "",
    key: str = "breakeven",
) -> Chart:
    """Distance at which a transfer becomes cheaper than fins, against the list.

    Parameters
    ----------
    distance_nm
        Shape (speeds, lists). NaN or infinite: fins stay cheaper at any distance.
    what
        What is held or moved, for the title.
    here
        List [deg] and distance [nm] of this passage, to be marked.
    """
    lists = np.asarray(list_deg, dtype=float)
    distance = np.asarray(distance_nm, dtype=float)
    distance = np.where(np.isfinite(distance), distance, np.nan)
    series = [
        Series(f"{speed:g} kn", np.asarray(distance[i], dtype=float), i)
        for i, speed in enumerate(speeds_kn)
    ]
    rows: list[list[object]] = [
        [float(d), *(float(distance[i, j]) for i in range(len(speeds_kn)))]
        for j, d in enumerate(lists)
    ]
    limits, spans, words = [], [], ""
    if here is not None:
        # One label for both lines: two would overlap where the lines cross.
        label = f"this passage: {here[0]:.1f} deg, {here[1]:.0f} nm"
        limits = [Limit(here[1], label, "natural")]
        spans = [Span(here[0], here[0], "", "mark")]
        words = (
            f"This passage: list {here[0]:.1f} deg, {here[1]:.0f} nm. Where the two lines cross "
            "above a curve, moving weight is cheaper at that speed; below it, fins are."
        )
    return panels_chart(
        "Break-even distance: fins or transfer" + (f", {what}" if what else ""),
        "For each speed, the distance beyond which moving weight costs less than holding the list "
        "with the fins.",
        lists,
        [
            Panel(
                "Break-even distance, nm",
                series,
                limits=limits,
                height_px=220.0,
                top=top_nm,
            )
        ],
        Table(
            [Column("list", "deg", 2), *(Column(f"{s:g} kn", "nm", 0) for s in speeds_kn)],
            rows,
            at_s=(READ_SCALE * lists).tolist(),
        ),
        axis=XAxis(
            float(lists.min()), float(lists.max()), is_time=False, heading="list to hold, degrees"
        ),
        spans=spans,
        key=key,
        note=words,
        link="list",
    )
