"""Pieces of drawings: scales, ticks, gaps, escaping, the map's geometry."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passage.report.drawing import svg
from passage.report.drawing.map import barb
from passage.report.drawing.map_coast import box_of, degree_text, fit, land_path
from passage.report.drawing.svg_scale import (
    Scale,
    nice_range,
    nice_step,
    short_utc_text,
    tick_text,
    ticks,
    time_ticks,
)


def test_scale_maps_two_points_and_keeps_gaps() -> None:
    scale = Scale(0.0, 10.0, 300.0, 100.0)
    assert scale.at(0.0) == 300.0
    assert scale.at(2.5) == 250.0
    assert np.isnan(scale([np.nan])[0])


@given(st.floats(1e-6, 1e6), st.integers(2, 12))
def test_steps_are_one_two_or_five(span: float, count: int) -> None:
    step = nice_step(span, count)
    lead = float(f"{step:e}".split("e")[0])
    assert round(lead, 6) in (1.0, 2.0, 5.0)
    assert span / step <= count + 1e-6


@given(st.lists(st.floats(-1e5, 1e5), min_size=1, max_size=20), st.booleans())
def test_range_holds_every_value(values: list[float], from_zero: bool) -> None:
    low, high = nice_range(values, from_zero=from_zero)
    margin = 1e-6 * max(1.0, abs(low), abs(high))
    assert low - margin <= min(values)
    assert high + margin >= max(values)
    assert low < high
    marks = ticks(low, high)
    assert all(low - margin <= t <= high + margin for t in marks)
    assert 2 <= len(marks) <= 8


def test_range_of_nothing_and_of_gaps() -> None:
    assert nice_range([]) == (0.0, 1.0)
    assert nice_range([np.nan, np.inf]) == (0.0, 1.0)
    assert nice_range([0.0, 0.0]) == (0.0, 1.0)
    low, high = nice_range([-1.0, 2.2], symmetric=True)
    assert low == -high


def test_tick_words() -> None:
    assert tick_text(-0.5, 0.5) == "\u22120.5"
    assert tick_text(20.0, 10.0) == "20"
    assert tick_text(0.1 + 0.2, 0.1) == "0.3"


def test_time_ticks_fall_on_whole_utc_hours() -> None:
    start = datetime(2026, 3, 14, 5, 17, tzinfo=UTC).timestamp()
    found = time_ticks(start, start + 30 * 3600.0, 12)
    assert [t.hour for t in found][:3] == ["06:00", "09:00", "12:00"]
    assert found[0].date == "14 Mar"
    assert next(t.date for t in found if t.hour == "00:00") == "15 Mar"
    assert len(found) <= 12
    days = time_ticks(start, start + 10 * 86400.0, 12)
    assert days[0].date == "15 Mar"
    assert days[0].hour == ""


def test_time_words() -> None:
    assert short_utc_text(datetime(2026, 3, 4, 6, 5, tzinfo=UTC).timestamp()) == "4 Mar 06:05"
    assert short_utc_text(None) == short_utc_text(float("nan")) == "\u2013"


def test_line_breaks_at_gaps_and_keeps_lone_points() -> None:
    drawn = svg.line(np.arange(6.0), np.array([1.0, 2.0, np.nan, 4.0, np.nan, np.nan]))
    assert drawn == '<path d="M0 1L1 2M1 4h4"/>'
    assert svg.line(np.arange(2.0), np.array([np.nan, np.nan])) == ""


def test_band_closes_each_stretch() -> None:
    low, high = np.array([0.0, 0.0, np.nan, 0.0, 0.0]), np.array([1.0, 2.0, 3.0, 4.0, 5.0])
    assert svg.band(np.arange(5.0), low, high) == ('<path d="M0 1L1 2L1 0L0 0ZM3 4L4 5L4 0L3 0Z"/>')


def test_line_leaves_at_the_top() -> None:
    x, y = svg.cut_above(np.arange(4.0), np.array([0.0, 30.0, 30.0, 10.0]), 20.0)
    assert np.allclose(x[:2], [0.0, 2.0 / 3.0], rtol=1e-5, atol=1e-8)
    assert y[1] == 20.0
    assert np.nanmax(y) == 20.0
    assert np.allclose(x[-2:], [2.5, 3.0], rtol=1e-5, atol=1e-8)
    kept = svg.cut_above(np.arange(3.0), np.array([1.0, np.nan, 2.0]), 20.0)[1]
    assert np.array_equal(kept, [1.0, np.nan, 2.0], equal_nan=True)


@given(st.lists(st.floats(0, 100), min_size=1, max_size=6))
def test_labels_do_not_overlap(wanted: list[float]) -> None:
    placed = svg.spread_apart(wanted, 14.0, 0.0, 200.0)
    gaps = np.diff(sorted(placed))
    assert np.all(gaps >= 14.0 - 1e-6)
    assert min(placed) >= -1e-6


def test_everything_is_escaped() -> None:
    drawn = svg.text(1.0, 2.0, "<b>&\"'", class_='x" onload="y')
    assert "<b>" not in drawn
    assert 'x" onload' not in drawn
    assert drawn.startswith("<text ")
    outer = svg.drawing(10.0, 10.0, "", title="<i>", description="</desc><script>", key="k")
    assert "<i>" not in outer
    assert "<script>" not in outer


def ends(path: str) -> tuple[float, float]:
    """Vector of the shaft of a barb."""
    found = re.search(r"M\S+ \S+l(\S+) ([^\sM\"]+)", path)
    assert found is not None
    return float(found[1]), float(found[2])


def test_barb_points_to_where_the_wind_comes_from() -> None:
    # A westerly of 15 kn blows towards the east: the shaft points west, to the left.
    dx, dy = ends(barb(0.0, 0.0, 15.0, 0.0))
    assert dx < -15.0
    assert dy == 0.0
    # A southerly: the shaft points south, down the page.
    dx, dy = ends(barb(0.0, 0.0, 0.0, 15.0))
    assert dx == 0.0
    assert dy > 15.0


@pytest.mark.parametrize(
    ("knots", "strokes", "flags"),
    # Common practice of wind barbs: half feather 5 kn, feather 10, flag 50.
    [(5, 1, 0), (10, 1, 0), (15, 2, 0), (23, 3, 0), (48, 0, 1), (65, 2, 1), (100, 0, 2)],
)
def test_barb_feathers(knots: float, strokes: int, flags: int) -> None:
    drawn = barb(0.0, 0.0, -knots, 0.0)
    assert drawn.count("Z") == flags
    assert drawn.count("M") == 1 + strokes + flags
    assert barb(0.0, 0.0, 1.0, 1.0).startswith("<circle")


def test_barb_feathers_are_on_the_side_of_low_pressure() -> None:
    # Northern hemisphere, wind from the west: low pressure to the north, up the page.
    feather = re.findall(r"l(\S+) ([^\sM\"]+)", barb(0.0, 0.0, 20.0, 0.0))[1]
    assert float(feather[1]) < 0.0
    south = re.findall(r"l(\S+) ([^\sM\"]+)", barb(0.0, 0.0, 20.0, 0.0, south=True))[1]
    assert float(south[1]) > 0.0


def test_mercator_against_the_closed_form() -> None:
    # Ordinate of 60 N on the sphere: ln(tan(75 deg)) = 1.3169579 rad (arcosh 2).
    p = fit([0.0, 60.0], [0.0, 60.0], 600.0, 0.0)
    per_rad = p.px_per_deg * 180.0 / np.pi
    assert float(p.y(0.0) - p.y(60.0)) == pytest.approx(np.arccosh(2.0) * per_rad, rel=1e-6)


def test_map_across_the_antimeridian() -> None:
    p = fit([-17.0, -18.0], [178.0, -178.0], 400.0, 1.0)
    xs = p.x([178.0, 179.9, -179.9, -178.0])
    assert np.all(np.diff(xs) > 0.0)
    assert xs[0] > 0.0
    assert xs[-1] < 400.0
    south, north, west, east = box_of(p)
    assert south < -18.0 < -17.0 < north
    assert west > 170.0
    assert east < -170.0


def test_land_is_clipped_to_the_frame() -> None:
    p = fit([45.0, 47.0], [-8.0, -5.0], 400.0, 0.5)
    square = np.array([(-6.0, 46.0), (20.0, 46.0), (20.0, 60.0), (-6.0, 60.0), (-6.0, 46.0)])
    numbers = [float(v) for v in re.findall(r"-?\d+\.?\d*", land_path([square], p))]
    xs, ys = np.array(numbers[::2]), np.array(numbers[1::2])
    assert xs.min() == pytest.approx(float(p.x(-6.0)), abs=0.1)
    assert xs.max() == pytest.approx(406.0, rel=1e-6)
    assert ys.min() == pytest.approx(-6.0, rel=1e-6)
    assert ys.max() == pytest.approx(float(p.y(46.0)), abs=0.1)
    far = square + np.array([60.0, 0.0])
    assert land_path([far], p) == ""


def test_degrees_and_minutes() -> None:
    assert degree_text(-5.75, ("E", "W")) == "5\u00b045'W"
    assert degree_text(47.9999, ("N", "S")) == "48\u00b0N"
