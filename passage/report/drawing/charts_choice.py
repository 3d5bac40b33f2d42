"""Charts to choose by: the fuel-comfort front, and the departure window.

Plain arrays in, :class:`~passage.report.drawing.blocks.Chart` out. The planning computes
which options are on the front; :func:`non_dominated` is for charts made without it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from passage.report.drawing import svg
from passage.report.drawing.blocks import Chart, Column, Table, shown
from passage.report.drawing.charts_frame import x_axis, y_axis
from passage.report.drawing.charts_panel import (
    NARROW_PX,
    WIDE_PX,
    Limit,
    Panel,
    Series,
    Span,
    XAxis,
    panels_chart,
    twice,
)
from passage.report.drawing.svg_labels import Box, beside, leader
from passage.report.drawing.svg_labels import shown as placed_text
from passage.report.drawing.svg_scale import Scale, nice_range, short_utc_text


def non_dominated(cost: npt.ArrayLike, discomfort: npt.ArrayLike) -> npt.NDArray[np.bool_]:
    """True where no other option is at least as good in both and better in one.

    Options with a NaN are never on the front. Equal options are all on it.
    """
    a, b = np.asarray(cost, dtype=float), np.asarray(discomfort, dtype=float)
    front = np.zeros(a.shape, dtype=bool)
    known = np.flatnonzero(np.isfinite(a) & np.isfinite(b))
    best = np.inf
    order = known[np.lexsort((b[known], a[known]))]
    for i, index in enumerate(order):
        if b[index] < best:
            best = b[index]
            front[index] = True
        elif (
            i
            and front[order[i - 1]]
            and (a[index], b[index])
            == (
                a[order[i - 1]],
                b[order[i - 1]],
            )
        ):
            front[index] = True
    return front


def front_chart(
    fuel_l: npt.ArrayLike,
    comfort: npt.ArrayLike,
    route: Sequence[int],
    route_names: Sequence[str],
    on_front: npt.NDArray[np.bool_],
    *,
    labels: Sequence[str],
    comfort_heading: str = "Worst roll, significant, degrees",
    comfort_unit: str = "deg",
    allowed: npt.NDArray[np.bool_] | None = None,
    chosen: int | None = None,
    limit: float | None = None,
    names: Mapping[int, str] | None = None,
    leave_s: npt.ArrayLike | None = None,
    states: Sequence[str] = (),
    whiskers: Mapping[int, tuple[float, float, float, float]] | None = None,
    key: str = "front",
) -> Chart:
    """Every option as a mark: fuel across, discomfort up; the front as a stepped line.

    Parameters
    ----------
    labels
        Departure and speed of each option in words, shown for those on the front.
    route
        Index of each option's route: it gives the mark's shape and colour.
    allowed
        False where an option breaks a limit: drawn hollow.
    names
        Labels beside the marks of some options, by index.
    leave_s
        Departure of each option, so that the chart of departures shows the same moment.
    states
        State of each option in words, for the read-out.
    whiskers
        By index: 10 and 90 % of the draws in fuel, then in comfort.
    """
    spread = dict(whiskers or {})
    named = dict(names or {})
    if chosen is not None:
        named.setdefault(chosen, "chosen")
    leave = None if leave_s is None else np.asarray(leave_s, dtype=float)
    fuel, rough = np.asarray(fuel_l, dtype=float), np.asarray(comfort, dtype=float)
    front = np.asarray(on_front, dtype=bool)
    fine = np.ones(fuel.shape, bool) if allowed is None else np.asarray(allowed, dtype=bool)
    order = [int(i) for i in np.flatnonzero(front)[np.argsort(fuel[front], kind="stable")]]
    count = len(order)
    spoken = [
        f"{f'{named[i]}: ' if i in named else ''}{route_names[route[i]]}, {labels[i]}: fuel "
        f"{shown(float(fuel[i]), 0)} l, {comfort_heading.split(',')[0].lower()} "
        f"{shown(float(rough[i]), 1)} {comfort_unit}"
        f"{f'; {states[i]}' if len(states) and states[i] else ''}"
        f"{'' if len(states) or fine[i] else '; over a limit'}"
        for i in range(fuel.size)
    ]
    table = Table(
        [
            Column("best trade-off", "", 0),
            Column("route"),
            Column("option"),
            Column("fuel", "l", 0),
            Column(comfort_heading.split(",")[0].lower(), comfort_unit, 1),
            *([] if allowed is None else [Column("allowed")]),
        ],
        [
            [
                n + 1,
                route_names[route[i]],
                labels[i],
                float(fuel[i]),
                float(rough[i]),
                *([] if allowed is None else [bool(fine[i])]),
            ]
            for n, i in enumerate(order)
        ],
        marked=[order.index(chosen)] if chosen in order else (),
    )

    def reading(i: int) -> dict[str, object]:
        return {
            "data_read": spoken[i],
            "data_at": None if leave is None else f"{leave[i]:.0f}",
        }

    def draw(wide: bool) -> tuple[float, float, str]:
        width, height = (WIDE_PX, 400.0) if wide else (NARROW_PX, 330.0)
        keys, head = [], 16.0
        at, row = 34.0 if not wide else 44.0, 36.0
        for i, whole in enumerate(route_names):
            name = svg.shortened(whole, width - 84.0)
            wanted = 24.0 + svg.text_width(name, 12.0) + 14.0
            if at + wanted > width and i:
                at, row = 34.0, row + 17.0
            keys.append(svg.marker(i, at + 6.0, row - 4.0, 4.5, class_=f"mark c{i % 6 + 1}"))
            keys.append(svg.text(at + 16.0, row, name, class_="label"))
            at += wanted
        if not fine.all():
            if at + 150.0 > width:
                at, row = 34.0, row + 17.0
            keys.append(svg.marker(0, at + 6.0, row - 4.0, 4.5, class_="mark hollow c1"))
            keys.append(svg.text(at + 16.0, row, "hollow: ruled out", class_="label"))
        top = row + 14.0
        left, right, bottom = (44.0 if wide else 34.0), width - 26.0, height - 42.0
        ends = np.array(list(spread.values())).reshape(-1, 4)
        x_range = nice_range(np.append(fuel, ends[:, :2]), count=6, from_zero=False)
        held = np.append(rough if limit is None else np.append(rough, limit), ends[:, 2:])
        y_range = nice_range(held, count=6, from_zero=_from_zero(held))
        across, up = Scale(*x_range, left, right), Scale(*y_range, bottom, top)
        parts = [svg.text(left, head, comfort_heading, class_="head"), *keys]
        parts.append(y_axis(up, across, 6))
        parts.append(
            x_axis(XAxis(*x_range, is_time=False, heading="fuel, litres"), across, bottom, wide)
        )
        if limit is not None:
            y = up.at(limit)
            parts.append(
                svg.tag("path", d=f"M{left:.1f} {y:.1f}H{right:.1f}", class_="limitline limit")
            )
            parts.append(
                svg.text(
                    right - 4.0,
                    y - 4.0,
                    f"limit {limit:g}",
                    class_="label limit on",
                    text_anchor="end",
                )
            )
        rest = [i for i in np.argsort(fuel, kind="stable").tolist() if not front[i]]
        for i in rest:
            hollow = "" if fine[i] else " hollow"
            parts.append(
                svg.marker(
                    route[i],
                    across.at(fuel[i]),
                    up.at(rough[i]),
                    2.6,
                    class_=f"mark faint{hollow} c{route[i] % 6 + 1}",
                    **reading(i),
                )
            )
        if count > 1:
            steps = [f"M{across.at(fuel[order[0]]):.1f} {up.at(rough[order[0]]):.1f}"]
            for i in order[1:]:
                steps.append(f"H{across.at(fuel[i]):.1f}V{up.at(rough[i]):.1f}")
            parts.append(svg.tag("path", d="".join(steps), class_="frontline"))
        for i, (few, much, low, high) in spread.items():
            x, y = across.at(fuel[i]), up.at(rough[i])
            parts.append(
                svg.tag(
                    "path",
                    d=f"M{across.at(few):.1f} {y:.1f}H{across.at(much):.1f}"
                    f"M{x:.1f} {up.at(low):.1f}V{up.at(high):.1f}",
                    class_="spread",
                )
            )
        taken = [
            Box(across.at(fuel[i]) - 6.0, up.at(rough[i]) - 6.0,
                across.at(fuel[i]) + 6.0, up.at(rough[i]) + 6.0)
            for i in {*order, *named}
        ]  # fmt: skip
        if limit is not None:
            taken.append(Box(right - 60.0, up.at(limit) - 18.0, right, up.at(limit)))
        bounds = Box(left + 2.0, top, right + 22.0, bottom - 2.0)
        for i in [*order, *(n for n in named if n not in order)]:
            x, y = across.at(fuel[i]), up.at(rough[i])
            hollow = "" if fine[i] else " hollow"
            if i == chosen:
                parts.append(svg.tag("circle", cx=x, cy=y, r=11.0, class_="chosen"))
            parts.append(
                svg.marker(
                    route[i], x, y, 5.4, class_=f"mark{hollow} c{route[i] % 6 + 1}", **reading(i)
                )
            )
        # The named ones first, so that they get the best places.
        for i in sorted({*order, *named}, key=lambda n: (n != chosen, n not in named, n)):
            x, y = across.at(fuel[i]), up.at(rough[i])
            words = named.get(i) or str(order.index(i) + 1)
            place = beside(
                words, x, y, taken, bounds, off_px=12.0 if i == chosen else 9.0,
                reach_px=90.0 if i in named else 0.0,
            )  # fmt: skip
            if place is not None:
                parts.append(leader(place, x, y))
                parts.append(placed_text(place, "label on strong"))
                taken.append(place.box)
        return width, height, "".join(parts)

    return twice(
        "Fuel against comfort",
        "Each mark is one combination of route, departure and speed: further left takes less "
        "fuel, lower is more comfortable. Numbered marks on the stepped line are the best "
        "trade-offs.",
        draw,
        table,
        key=key,
        note=f"No {'' if allowed is None else 'allowed '}combination lies below the line or to its "
        "left; numbers are rows of the table."
        + (" Crosses span 10 to 90 % of the draws." if spread else ""),
        link="leave" if leave is not None else "",
    )


def _from_zero(values: npt.ArrayLike) -> bool:
    """Whether an axis starts at zero: not where all values would be crowded at the top."""
    flat = np.asarray(values, dtype=float).ravel()
    flat = flat[np.isfinite(flat)]
    return flat.size == 0 or float(flat.min()) < 0.6 * float(flat.max())


def window_chart(
    departure_s: npt.ArrayLike,
    fuel_l: npt.ArrayLike,
    comfort: npt.ArrayLike,
    route_names: Sequence[str],
    within_limits: npt.NDArray[np.bool_] | None,
    *,
    comfort_heading: str = "Worst roll, significant, degrees",
    comfort_column: Column | None = None,
    limit: float | None = None,
    chosen_s: float | None = None,
    nights: Sequence[tuple[float, float]] = (),
    odds: npt.ArrayLike | None = None,
    odds_asked: float | None = None,
    key: str = "window",
) -> Chart:
    """The effect of waiting: comfort and fuel of each route against departure time.

    Parameters
    ----------
    fuel_l, comfort, within_limits
        Shape (routes, departures); NaN where the forecast does not reach. Without
        ``within_limits`` nothing is judged.
    nights
        Dark hours to shade, as (start, end) in seconds since 1970.
    odds
        Chance of keeping what is asked, (routes, departures); ``odds_asked`` is the least
        chance asked for. [%]
    """
    likely = None if odds is None else np.asarray(odds, dtype=float)
    times = np.asarray(departure_s, dtype=float)
    fuel, rough = np.asarray(fuel_l, dtype=float), np.asarray(comfort, dtype=float)
    judged = within_limits is not None
    fine = np.ones(fuel.shape, bool) if within_limits is None else np.asarray(within_limits, bool)
    column = comfort_column or Column("worst roll", "deg", 1)
    columns: list[Column] = [Column("departure, UTC")]
    for name in route_names:
        columns += [
            Column(f"{name}: fuel", "l", 0),
            Column(f"{name}: {column.heading}", column.unit, column.decimals),
        ]
        if judged:
            columns.append(Column(f"{name}: allowed"))
        if likely is not None:
            columns.append(Column(f"{name}: odds", "%", 0))
    rows: list[list[object]] = []
    for j, time_s in enumerate(times):
        row: list[object] = [short_utc_text(float(time_s))]
        for r in range(len(route_names)):
            known = bool(np.isfinite(fuel[r, j]))
            row += [float(fuel[r, j]), float(rough[r, j])]
            if judged:
                row.append(bool(fine[r, j]) if known else None)
            if likely is not None:
                row.append(float(likely[r, j]))
        rows.append(row)
    spans = [
        Span(max(a, times[0]), min(b, times[-1]), "dark", "night")
        for a, b in nights
        if b > times[0] and a < times[-1]
    ]
    if chosen_s is not None:
        spans.append(Span(chosen_s, chosen_s, "chosen", "mark"))
    limits = [] if limit is None else [Limit(limit, f"limit {limit:g}")]
    marked = [int(np.argmin(np.abs(times - chosen_s)))] if chosen_s is not None else ()
    return panels_chart(
        "Departure window",
        "Discomfort and fuel of each route against the time of departure."
        f"{' Triangles mark where a limit is exceeded;' if judged else ''} "
        f"{'a' if judged else 'A'} line ends where the forecast does.",
        times,
        [
            Panel(
                comfort_heading,
                [Series(n, rough[r], r, over=True) for r, n in enumerate(route_names)],
                limits=limits,
                height_px=170.0,
            ),
            Panel(
                "Fuel, litres",
                [Series(n, fuel[r], r) for r, n in enumerate(route_names)],
                height_px=130.0,
                from_zero=False,
            ),
            *_odds_panel(route_names, likely, odds_asked),
        ],
        Table(columns, rows, marked=marked, at_s=[float(t) for t in times]),
        axis=XAxis(float(times[0]), float(times[-1])),
        spans=spans,
        key=key,
        link="leave",
        note="Shaded: dark hours." if spans and nights else "",
    )


def _odds_panel(
    names: Sequence[str], odds: npt.NDArray[np.float64] | None, asked: float | None
) -> list[Panel]:
    """Chance of keeping what is asked against departure; empty without odds."""
    if odds is None:
        return []
    limits = [] if asked is None else [Limit(asked, f"asked {asked:g}", "wanted")]
    series = [Series(name, odds[r], r) for r, name in enumerate(names)]
    return [
        Panel("Odds of keeping what is asked, %", series, limits=limits, height_px=110.0, top=100.0)
    ]
