"""The passage over time: sea, periods, roll, fins and fuel.

All functions take plain arrays over the points of one plan, in order of time, and
give a :class:`~passage.report.drawing.blocks.Chart` with its table. NaN leaves a gap.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from passage.report.drawing.blocks import Chart, Column, Table
from passage.report.drawing.charts_panel import (
    Band,
    Bar,
    Limit,
    Panel,
    Series,
    Span,
    XAxis,
    panels_chart,
)
from passage.report.drawing.svg_scale import short_utc_text
from passage.units import HOUR_S

#: A yacht rolls most within this share on either side of the natural period.
RESONANCE_SHARE = 0.15


def _axis(time_s: npt.NDArray[np.float64], spans: Sequence[Span]) -> XAxis:
    edges = [float(np.nanmin(time_s)), float(np.nanmax(time_s))]
    edges += [edge for span in spans for edge in (span.start, span.end)]
    low, high = min(edges), max(edges)
    return XAxis(low, high if high > low else low + HOUR_S)


def _along(time_s: npt.NDArray[np.float64], spans: Sequence[Span], key: str) -> dict[str, Any]:
    """Arguments common to all strips: the time axis, the legs above it, the key of the ids."""
    return {"axis": _axis(time_s, spans), "spans": spans, "key": key}


def _table(time_s: npt.ArrayLike, columns: Sequence[tuple[Column, npt.ArrayLike]]) -> Table:
    times = [float(t) for t in np.asarray(time_s, dtype=float)]
    rows = [
        [short_utc_text(t), *(float(np.asarray(values, dtype=float)[i]) for _, values in columns)]
        for i, t in enumerate(times)
    ]
    return Table([Column("UTC"), *(c for c, _ in columns)], rows, at_s=times)


def leg_spans(
    start_s: npt.ArrayLike, end_s: npt.ArrayLike, is_stay: Sequence[bool] | None = None
) -> list[Span]:
    """Legs as spans along the top of a strip; stays are labelled "at anchor"."""
    starts, ends = np.asarray(start_s, dtype=float), np.asarray(end_s, dtype=float)
    stays = is_stay or [False] * starts.size
    return [
        Span(float(a), float(b), "at anchor" if stay else f"leg {i + 1}", "stay" if stay else "leg")
        for i, (a, b, stay) in enumerate(zip(starts, ends, stays, strict=True))
    ]


def gap_spans(time_s: npt.ArrayLike, known: npt.NDArray[np.bool_]) -> list[Span]:
    """Spans of time without forecast, for shading."""
    times = np.asarray(time_s, dtype=float)
    spans: list[Span] = []
    for i in np.flatnonzero(~np.asarray(known, dtype=bool)):
        a = times[i] if i == 0 else 0.5 * (times[i - 1] + times[i])
        b = times[i] if i == times.size - 1 else 0.5 * (times[i] + times[i + 1])
        if spans and abs(spans[-1].end - a) < 1.0:
            spans[-1] = Span(spans[-1].start, float(b), "no forecast", "gap")
        else:
            spans.append(Span(float(a), float(b), "no forecast", "gap"))
    return spans


def sea_strip(
    time_s: npt.ArrayLike,
    total_m: npt.ArrayLike,
    systems: Mapping[str, npt.ArrayLike] | None = None,
    *,
    wind_kn: npt.ArrayLike | None = None,
    fan_m: tuple[npt.ArrayLike, npt.ArrayLike] | None = None,
    spans: Sequence[Span] = (),
    key: str = "sea",
) -> Chart:
    """Significant height met, of the whole sea and of each system, and the wind.

    ``fan_m`` holds the 10 and 90 % values of the draws' heights.
    """
    times = np.asarray(time_s, dtype=float)
    series = [Series("whole sea", np.asarray(total_m, dtype=float), 0, fill=True)]
    columns = [(Column("whole sea", "m", 2), total_m)]
    for i, (name, heights) in enumerate((systems or {}).items()):
        series.append(Series(name, np.asarray(heights, dtype=float), i + 1))
        columns.append((Column(name, "m", 2), heights))
    fan = _fan(fan_m, "m", 2, columns)
    panels = [Panel("Significant height, m", series, fan, height_px=130.0)]
    if wind_kn is not None:
        panels.append(
            Panel(
                "True wind, kn",
                [Series("wind", np.asarray(wind_kn, dtype=float), 4)],
                height_px=70.0,
            )
        )
        columns.append((Column("wind", "kn", 0), wind_kn))
    return panels_chart(
        "Sea and wind met",
        "Significant wave height along the passage, in metres, against time in UTC.",
        times,
        panels,
        _table(times, columns),
        **_along(times, spans, key),
    )


def period_strip(
    time_s: npt.ArrayLike,
    encounter_period_s: npt.ArrayLike,
    natural_roll_period_s: float,
    *,
    spans: Sequence[Span] = (),
    longest_s: float = 20.0,
    key: str = "period",
) -> Chart:
    """Encounter period against the natural roll period.

    Following seas give very long periods; the plot ends at ``longest_s``, the table has
    the numbers.
    """
    times = np.asarray(time_s, dtype=float)
    period = np.asarray(encounter_period_s, dtype=float)
    table = _table(
        times,
        [
            (Column("encounter period", "s", 1), period),
            (Column("natural roll period", "s", 1), np.full(times.shape, natural_roll_period_s)),
        ],
    )
    panel = Panel(
        "Mean encounter period, s",
        [Series("all waves", period, 1)],
        limits=[
            Limit(
                natural_roll_period_s,
                f"natural roll period {natural_roll_period_s:.1f} s",
                "natural",
                RESONANCE_SHARE * natural_roll_period_s,
            )
        ],
        height_px=110.0,
        top=longest_s if np.any(period > longest_s) else None,
    )
    return panels_chart(
        "Encounter period against natural roll period",
        "The nearer the encounter period comes to the natural roll period, the more she rolls; "
        "the shaded strip is within 15 per cent of it.",
        times,
        [panel],
        table,
        **_along(times, spans, key),
        note="Mean over all waves met, short ones included. Cautions and the watch sheet give the "
        "period of the highest waves instead."
        + (
            f" Periods above {longest_s:.0f} s are off the chart; the table has them."
            if panel.top is not None
            else ""
        ),
    )


def roll_strip(
    time_s: npt.ArrayLike,
    centred_significant_deg: npt.ArrayLike,
    active_significant_deg: npt.ArrayLike,
    limit_deg: float | None = None,
    *,
    low_deg: npt.ArrayLike | None = None,
    high_deg: npt.ArrayLike | None = None,
    fan_deg: tuple[npt.ArrayLike, npt.ArrayLike] | None = None,
    spans: Sequence[Span] = (),
    key: str = "roll",
) -> Chart:
    """Roll with the fins centred and active against the owner's limit.

    ``low_deg`` and ``high_deg`` are the ends of the band about the active roll; ``fan_deg``
    holds the 10 and 90 % values of the draws' roll, with the fins as used.
    """
    times = np.asarray(time_s, dtype=float)
    centred = np.asarray(centred_significant_deg, dtype=float)
    active = np.asarray(active_significant_deg, dtype=float)
    columns = [
        (Column("fins centred", "deg", 1), centred),
        (Column("fins active", "deg", 1), active),
    ]
    bands = []
    if low_deg is not None and high_deg is not None:
        bands = [Band("likely range", np.asarray(low_deg, float), np.asarray(high_deg, float), 0)]
        columns.append((Column("low", "deg", 1), bands[0].low))
        columns.append((Column("high", "deg", 1), bands[0].high))
    note = ""
    if bands and fan_deg is not None:
        note = (
            "Likely range: the doubt in the formulas, or by her record, with the forecast taken "
            "as right. The draws include the forecast's errors."
        )
    bands += _fan(fan_deg, "deg", 1, columns)
    limits = [] if limit_deg is None else [Limit(limit_deg, f"limit {limit_deg:g} deg")]
    panel = Panel(
        "Roll, significant single amplitude, degrees",
        [
            Series("fins centred", centred, 1, over=True),
            Series("fins active", active, 0, over=True),
        ],
        bands,
        limits,
        height_px=160.0,
    )
    return panels_chart(
        "Roll, fins centred and active",
        "Significant single amplitude of roll in degrees"
        + ("; triangles mark where a line is over the limit." if limits else "."),
        times,
        [panel],
        _table(times, columns),
        note=note,
        **_along(times, spans, key),
    )


def _fan(
    ends: tuple[npt.ArrayLike, npt.ArrayLike] | None,
    unit: str,
    places: int,
    columns: list[tuple[Column, Any]],
) -> list[Band]:
    """The band of the draws, also added to ``columns``; empty without ends."""
    if ends is None:
        return []
    low, high = (np.asarray(one, dtype=float) for one in ends)
    columns += [(Column("10 % of draws", unit, places), low),
                (Column("90 % of draws", unit, places), high)]  # fmt: skip
    return [Band("10 to 90 % of draws", low, high, 2)]


def fin_strip(
    time_s: npt.ArrayLike,
    angle_rms_deg: npt.ArrayLike,
    at_limit_percent: npt.ArrayLike,
    max_angle_deg: float | None = None,
    *,
    offset_deg: npt.ArrayLike | None = None,
    spans: Sequence[Span] = (),
    key: str = "fins",
) -> Chart:
    """Fin angle, offset held, and time at a limit."""
    times = np.asarray(time_s, dtype=float)
    series = [Series("angle, rms", np.asarray(angle_rms_deg, dtype=float), 0)]
    columns = [(Column("fin angle rms", "deg", 1), angle_rms_deg)]
    if offset_deg is not None:
        series.append(Series("offset", np.asarray(offset_deg, dtype=float), 3))
        columns.append((Column("offset", "deg", 1), offset_deg))
    columns.append((Column("at a limit", "% of time", 1), at_limit_percent))
    limits = [] if max_angle_deg is None else [Limit(max_angle_deg, f"stops {max_angle_deg:g} deg")]
    return panels_chart(
        "Fin activity",
        "Fin angle in degrees, and the share of time they are at a limit: out of "
        "angle, or turning as fast as they can.",
        times,
        [
            Panel("Fin angle, degrees", series, limits=limits, height_px=110.0),
            Panel(
                "Time at a limit, %",
                [Series("at limit", np.asarray(at_limit_percent, dtype=float), 1, fill=True)],
                height_px=60.0,
            ),
        ],
        _table(times, columns),
        **_along(times, spans, key),
    )


def fuel_strip(
    start_s: npt.ArrayLike,
    end_s: npt.ArrayLike,
    parts_l: Mapping[str, npt.ArrayLike],
    names: Sequence[str],
    *,
    spans: Sequence[Span] = (),
    key: str = "fuel",
) -> Chart:
    """Litres an hour by leg, stacked by cause; the area of a bar is litres.

    ``parts_l`` maps a cause (still water, waves, wind, ...) to litres by leg.
    """
    starts, ends = np.asarray(start_s, dtype=float), np.asarray(end_s, dtype=float)
    hours = np.maximum((ends - starts) / HOUR_S, 1e-9)
    parts = {name: np.asarray(v, dtype=float) for name, v in parts_l.items()}
    bars = [
        Bar(float(a), float(b), [float(v[i] / hours[i]) for v in parts.values()])
        for i, (a, b) in enumerate(zip(starts, ends, strict=True))
    ]
    rows: list[list[object]] = [
        [name, *(float(v[i]) for v in parts.values()), float(sum(v[i] for v in parts.values()))]
        for i, name in enumerate(names)
    ]
    sums = [float(np.sum(v)) for v in parts.values()]
    table = Table(
        [Column("leg"), *(Column(p, "l", 0) for p in parts), Column("fuel", "l", 0)],
        rows,
        sums=["passage", *sums, float(np.sum(sums))],
    )
    panel = Panel("Fuel, litres an hour", bars=bars, bar_labels=list(parts), height_px=140.0)
    return panels_chart(
        "Fuel by what burns it",
        "Stacked bars, one for each leg: height is litres an hour, width is time, so area is "
        "litres. Parts below zero are savings.",
        starts,
        [panel],
        table,
        **_along(np.array([starts.min(), ends.max()]), spans, key),
    )
