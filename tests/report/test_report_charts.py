"""Charts: the drawing and the table hold the numbers that were given."""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from passage.report.drawing.blocks import Chart, Column
from passage.report.drawing.charts_choice import front_chart, non_dominated, window_chart
from passage.report.drawing.charts_heel import break_even_chart, heel_strip, policy_chart
from passage.report.drawing.charts_season import month_chart
from passage.report.drawing.charts_strip import (
    fuel_strip,
    gap_spans,
    leg_spans,
    period_strip,
    roll_strip,
    sea_strip,
)

HOUR = 3600.0


def path_of(chart: Chart, style: str) -> npt.NDArray[np.float64]:
    """Points of the first line of a style in the wide drawing."""
    found = re.search(rf'<path d="([^"]*)" class="line {style}"', chart.wide)
    assert found is not None
    return np.array([[float(v) for v in re.findall(r"-?\d+\.?\d*", found[1])]]).reshape(-1, 2)


def test_two_points_are_drawn_where_the_axes_say() -> None:
    times = np.array([0.0, 10 * HOUR])
    chart = sea_strip(times, [1.0, 3.0])
    points = path_of(chart, "c1 d1")
    assert chart.axis is not None
    left, right = chart.axis[:2]
    assert points[0, 0] == pytest.approx(left, abs=0.1)
    assert points[1, 0] == pytest.approx(right, abs=0.1)
    ys = {
        float(label): float(y) - 4.0
        for y, label in re.findall(
            r'<text class="tick" text-anchor="end" x="\S+" y="(\S+)">(\d+)</text>', chart.wide
        )
    }
    top, bottom = ys[max(ys)], ys[0.0]
    expected = bottom + (top - bottom) * 3.0 / max(ys)
    assert points[1, 1] == pytest.approx(expected, abs=0.2)


def test_table_of_a_strip_keeps_raw_numbers_and_times() -> None:
    times = np.array([0.0, HOUR, 2 * HOUR])
    chart = roll_strip(times, [4.0, np.nan, 6.0], [1.0, 2.0, 3.0], 2.5)
    assert chart.table.at_s == list(times)
    assert chart.table.rows[2][1:] == [6.0, 3.0]
    assert chart.table.texts()[1] == ["1 Jan 01:00", "\u2013", "2.0"]


def test_marks_are_drawn_only_over_the_limit() -> None:
    times = HOUR * np.arange(10.0)
    over = np.where(np.arange(10) < 5, 1.0, 4.0)
    chart = roll_strip(times, over, np.full(10, 0.5), 2.5)
    assert len(re.findall(r'class="mark c2"', chart.wide)) == 5
    assert 'class="mark c1"' not in chart.wide
    calm = roll_strip(times, np.full(10, 2.5), np.full(10, 0.5), 2.5)
    assert 'class="mark' not in calm.wide


def test_long_periods_run_off_the_top_and_the_table_has_them() -> None:
    times = HOUR * np.arange(5.0)
    chart = period_strip(times, [7.0, 8.0, 120.0, 8.0, 7.0], 6.8)
    assert "the table has them" in chart.note
    assert chart.table.rows[2][1] == 120.0
    found = re.search(r'<path d="([^"]*)" class="line c2 d2"', chart.wide)
    assert found is not None
    assert found[1].count("M") == 2
    short = period_strip(times, [7.0, 8.0, 9.0, 8.0, 7.0], 6.8).note
    assert "run off the top" not in short
    # It is the mean of all waves, where cautions are about the highest.
    assert "Mean over all waves" in short


def test_fuel_bars_have_the_litres_as_area() -> None:
    starts, ends = np.array([0.0, 2 * HOUR]), np.array([2 * HOUR, 10 * HOUR])
    chart = fuel_strip(starts, ends, {"a": [200.0, 200.0], "b": [100.0, -50.0]}, ["one", "two"])
    bars = re.findall(
        r'<rect x="(\S+)" y="(\S+)" width="(\S+)" height="(\S+)" class="bar p(\d)"', chart.wide
    )
    assert len(bars) == 4
    areas = [(float(w) + 3.0) * float(h) for _, _, w, h, _ in bars]
    assert areas[0] == pytest.approx(areas[2], rel=0.02)
    assert areas[1] == pytest.approx(0.5 * areas[0], rel=0.05)
    assert chart.table.sums == ["passage", 400.0, 50.0, 450.0]
    assert chart.table.rows[1] == ["two", 200.0, -50.0, 150.0]


def test_gaps_are_named() -> None:
    times = HOUR * np.arange(6.0)
    spans = gap_spans(times, np.array([1, 1, 0, 0, 1, 1], dtype=bool))
    assert [(s.start / HOUR, s.end / HOUR, s.label) for s in spans] == [(1.5, 3.5, "no forecast")]
    assert gap_spans(times, np.ones(6, dtype=bool)) == []
    chart = sea_strip(times, [1.0, 1.0, np.nan, np.nan, 1.0, 1.0], spans=spans)
    assert "no forecast" in chart.wide
    legs = leg_spans([0.0, HOUR], [HOUR, 5 * HOUR], [False, True])
    assert [s.label for s in legs] == ["leg 1", "at anchor"]


def test_a_strip_with_nothing_known_is_drawn_empty() -> None:
    chart = sea_strip(HOUR * np.arange(3.0), [np.nan] * 3)
    assert "nan" not in chart.wide
    assert chart.table.texts()[0][1] == "\u2013"


values = st.lists(
    st.tuples(
        st.one_of(st.integers(0, 5).map(float), st.just(float("nan"))),
        st.one_of(st.integers(0, 5).map(float), st.just(float("nan"))),
    ),
    max_size=12,
)


@given(values)
def test_front_against_brute_force(pairs: list[tuple[float, float]]) -> None:
    cost = np.array([p[0] for p in pairs])
    rough = np.array([p[1] for p in pairs])
    expected = [
        not (np.isnan(a) or np.isnan(b))
        and not any(
            x <= a and y <= b and (x < a or y < b)
            for x, y in pairs
            if not (np.isnan(x) or np.isnan(y))
        )
        for a, b in pairs
    ]
    assert non_dominated(cost, rough).tolist() == expected


def test_front_table_is_in_order_and_marks_the_chosen() -> None:
    fuel, rough = np.array([5.0, 3.0, 4.0, 6.0]) * 1000, np.array([1.0, 4.0, 2.0, 5.0])
    front = non_dominated(fuel, rough)
    chart = front_chart(
        fuel, rough, [0, 1, 0, 1], ["direct", "western"], front,
        labels=["a", "b", "c", "d"], allowed=rough < 3.0, chosen=2, limit=3.0,
    )  # fmt: skip
    assert [row[:5] for row in chart.table.rows] == [
        [1, "western", "b", 3000.0, 4.0],
        [2, "direct", "c", 4000.0, 2.0],
        [3, "direct", "a", 5000.0, 1.0],
    ]
    assert chart.table.marked == [1]
    assert ">chosen<" in chart.wide
    assert ">1<" in chart.wide
    # Shapes differ by route, hollow marks are over the limit: no need of colour.
    assert "hollow: ruled out" in chart.wide


def test_window_table_has_every_departure() -> None:
    times = HOUR * np.arange(4.0)
    fuel = np.array([[5.0, 6.0, 7.0, np.nan]]) * 1000
    chart = window_chart(
        times, fuel, fuel / 1000, ["direct"], fuel < 6500, limit=6.5, chosen_s=HOUR
    )
    assert chart.table.marked == [1]
    assert chart.table.texts()[3] == ["1 Jan 03:00", "\u2013", "\u2013", "\u2013"]
    assert chart.table.texts()[2] == ["1 Jan 02:00", "7000", "7.0", "no"]


def test_heel_lines_step_at_legs() -> None:
    chart = heel_strip([0.0, HOUR], [HOUR, 3 * HOUR], [1.5, -1.0], [0.2, 0.1], ["a", "b"])
    points = path_of(chart, "c2 d2")
    assert points[1, 0] == points[2, 0]
    assert points[0, 1] == points[1, 1] < points[2, 1]  # starboard is up
    assert chart.table.rows[1][2:] == [-1.0, 0.1]


def test_policies_are_summed_and_judged() -> None:
    chart = policy_chart(
        ["never", "fins"], {"fins": [0.0, 30.0], "drag": [12.0, 4.5]}, advised=0,
        feasible=[True, False],
    )  # fmt: skip
    assert [row[3] for row in chart.table.rows] == [12.0, 34.5]
    assert "never \u2013 advised" in chart.wide
    assert "fins \u2013 over the limit" in chart.narrow
    widths = [float(w) for w in re.findall(r'width="(\S+)" height="20" class="bar', chart.wide)]
    assert widths[1] / widths[2] == pytest.approx(30.0 / 4.5, rel=0.01)


def test_break_even_without_end_is_a_gap() -> None:
    chart = break_even_chart([0.5, 1.0, 2.0], [9.0], [[np.inf, 400.0, 100.0]], here=(1.0, 311.0))
    assert chart.table.texts()[0] == ["0.50", "\u2013"]
    assert "311 nm" in chart.wide


def test_month_glyphs_are_left_out_where_nothing_sailed() -> None:
    percentiles = np.tile(np.arange(1.0, 6.0), (1, 12, 1))
    percentiles[0, 3] = np.nan
    chart = month_chart("t", "h", ["direct"], percentiles, column=Column("roll", "deg", 1))
    assert chart.wide.count('class="box') == 11
    assert len(chart.table.rows) == 12
    assert chart.table.texts()[3][2:] == ["\u2013"] * 5
