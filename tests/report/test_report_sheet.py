"""The watch sheet: its rows are the plan's, like legs merge, sums stay, words follow numbers."""

from __future__ import annotations

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from passage.planning.plan.plan import PlanOptions, plan_files
from passage.planning.plan.watch import WatchLeg, watch_legs
from passage.report.pages.sheet import MOST_LEGS, sheet_page
from passage.report.text.watch_words import (
    change_words,
    lean_words,
    offset_words,
    sea_kind,
    sensitivity_words,
    span_words,
    then_words,
)
from passage.units import G_M_S2, KNOT_M_S

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
FORECASTS = tuple(SAMPLES / f"biscay_{part}.nc" for part in ("waves", "wind", "current"))
LEAVE_S = 1773468000.0  # 2026-03-14T06:00Z


@pytest.fixture(scope="module")
def plan():
    return plan_files(
        SAMPLES / "western.csv",
        SAMPLES / "brambling.toml",
        FORECASTS,
        PlanOptions(LEAVE_S, minutes=60.0, weighting=True),
    )


class Cells(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.inside = False

    def handle_starttag(self, tag, attrs):
        if tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
            self.inside = True

    def handle_endtag(self, tag):
        if tag in ("td", "th"):
            self.inside = False

    def handle_data(self, data):
        if self.inside:
            self.rows[-1][-1] += data


def leg(**changes) -> WatchLeg:
    base = WatchLeg(
        legs=(1,), to="B", stay=False, courses_deg=(200.0,), steer_deg=201.0, speed_kn=12.0,
        start_s=0.0, end_s=7200.0, hours=2.0, distance_nm=24.0, height_m=2.0,
        wave_angle_deg=90.0, wave_side="port", encounter_period_s=8.0, fin_use="active",
        rate_percent=80.0, sensitivity_percent=100.0, sensitivity_too_high=False,
        roll_as_set_deg=None, roll_advised_deg=None, at_stops_percent=2.0,
        roll_significant_deg=4.0, roll_largest_deg=7.5, roll_beyond_deg=9.2, heel_low_deg=0.2,
        heel_high_deg=0.9, offset_low_deg=3.0, offset_high_deg=3.0, fuel_l=400.0,
        fuel_left_l=1000.0, roll_limit_deg=None,
    )  # fmt: skip
    return replace(base, **changes)


def test_a_row_for_every_leg_with_the_numbers_of_the_plan(plan):
    read = Cells()
    read.feed(sheet_page(plan))
    rows = [row for row in read.rows[1:] if len(row) > 2]
    assert len(rows) == len(plan.legs)
    for row, one in zip(rows, plan.legs, strict=True):
        assert row[0] == str(one["leg"])
        assert f"{one['window_roll_significant_deg']:.1f}" in row
        assert f"{one['fuel_l']:,.0f}" in row
    # No liquid is moved, and the sheet says what it takes the fins to do, at what price.
    litres = f"{plan.totals['fuel_fins_offset_l']:,.0f}"
    assert f"None: the fins hold the heel as far as they can, {litres} l in all" in sheet_page(plan)
    # What is left falls by what is burnt, from leg to leg.
    left = [float(row[-2].replace(",", "")) for row in rows]
    burnt = [one["fuel_l"] for one in plan.legs]
    np.testing.assert_allclose(np.diff(left), -np.array(burnt[1:]), atol=1.0)


def test_the_largest_roll_is_above_the_significant_one(plan):
    for one in watch_legs(plan):
        # A leg's largest of some hundreds of rolls is 1.7 to 2.0 times its significant one if
        # the sea is steady (Rayleigh), more where it grows on the leg.
        assert one.roll_largest_deg > 1.6 * one.roll_significant_deg
        assert one.roll_beyond_deg >= 1.2 * one.roll_largest_deg


def many(plan, count):
    """The plan with its legs repeated, as a long route has them."""
    legs = tuple(
        {**plan.legs[i * len(plan.legs) // count], "leg": i + 1, "to": f"W{i + 1}"}
        for i in range(count)
    )
    points = {
        name: np.concatenate([np.asarray(values)[:6]] * count)
        for name, values in plan.points.items()
        if np.ndim(values) == 1
    }
    points["leg"] = np.repeat(np.arange(1, count + 1), 6)
    return replace(plan, legs=legs, points=points, decisions=())


@pytest.mark.parametrize("count", [5, 12, 60])
def test_long_routes_merge_like_legs_and_keep_the_sums(plan, count):
    long = many(plan, count)
    rows = watch_legs(long, MOST_LEGS)
    assert len(rows) <= MOST_LEGS
    assert [n for row in rows for n in row.legs] == list(range(1, count + 1))
    assert sum(row.fuel_l for row in rows) == pytest.approx(
        sum(one["fuel_l"] for one in long.legs), rel=1e-12
    )
    assert max(row.roll_significant_deg for row in rows) == pytest.approx(
        max(one["window_roll_significant_deg"] for one in long.legs), rel=1e-6
    )
    assert rows[0].start_s is not None
    assert rows[-1].to == f"W{count}"


def test_the_sheet_says_the_numbers_of_the_verdict_and_of_the_cautions(plan):
    rows = watch_legs(plan)
    worst = plan.totals["worst_window_roll_significant_deg"]
    assert max(row.roll_significant_deg for row in rows) == pytest.approx(worst, rel=1e-6)
    for row, one in zip(rows, plan.legs, strict=True):
        if row.stay:
            continue
        # w_e = w - w^2 U cos(mu) / g, deep water.
        w = 2.0 * np.pi / one["peak_period_s"]
        along = one["speed_through_water_kn"] * KNOT_M_S * np.cos(
            np.radians(one["encounter_angle_deg"])
        )  # fmt: skip
        met = 2.0 * np.pi / abs(w - w**2 * along / G_M_S2)
        assert row.encounter_period_s == pytest.approx(met, rel=1e-4)


def test_missing_values_stay_missing(plan):
    holed = tuple(
        {**one, "roll_active_significant_deg": None, "window_roll_significant_deg": None,
         "fuel_l": None, "peak_period_s": None}
        if one["leg"] == 2 else one
        for one in plan.legs
    )  # fmt: skip
    here = np.asarray(plan.points["leg"]) == 2
    rms = np.where(here, np.nan, plan.points["roll_active_rms_deg"])
    points = {**plan.points, "roll_active_rms_deg": rms}
    rows = watch_legs(replace(plan, legs=holed, points=points))
    assert rows[1].roll_largest_deg is None
    assert rows[1].roll_significant_deg is None
    assert rows[1].encounter_period_s is None
    assert "No roll is known" in then_words(rows[1], 7.8)
    assert rows[0].fuel_left_l is not None
    assert rows[1].fuel_left_l is None
    assert rows[2].fuel_left_l is None


def test_words_follow_the_trade():
    assert "favour roll rate" in lean_words(leg())
    assert "favour roll angle" in lean_words(leg(rate_percent=30.0))
    assert "rate 30 : angle 70" in lean_words(leg(rate_percent=30.0))
    assert lean_words(leg(fin_use="centred")) == "Fins centred."
    assert "jerky" in sensitivity_words(leg(sensitivity_too_high=True))
    assert "as set" in sensitivity_words(leg(sensitivity_percent=95.0))
    assert "down to 70 %" in sensitivity_words(leg(sensitivity_percent=70.0))
    assert [sea_kind(leg(encounter_period_s=s), 8.0) for s in (8.0, 15.0, 4.0, None)] == [
        "near", "slow", "short", "none",
    ]  # fmt: skip
    assert "beyond 10 deg" in then_words(leg(), 8.0)  # rounded up, never down
    # Below the owner's limit nobody is called; above it what was planned goes before it.
    calm = leg(roll_largest_deg=1.6, roll_beyond_deg=1.9, roll_limit_deg=4.0)
    assert "beyond 4 deg" in then_words(calm, 8.0)
    assert "beyond 10 deg" in then_words(leg(roll_limit_deg=4.0), 8.0)
    assert span_words(-0.5, 0.5) == "0.5 port to 0.5 stbd"
    assert offset_words(leg(offset_low_deg=-2.0, offset_high_deg=-2.0)) == "2.0 to port"


def test_the_next_change_names_turn_and_side():
    after = leg(courses_deg=(170.0,), fin_use="centred", roll_significant_deg=2.0)
    words = change_words(leg(), after, 8.0)
    assert "alter 30 deg to port, course 170" in words
    assert "fins centred" in words
    assert "eases to 2.0" in words
    assert "End of the passage" in change_words(leg(), None, 8.0)
    assert "alter 20 deg to starboard" in change_words(
        leg(courses_deg=(350.0,)), leg(courses_deg=(10.0,)), 8.0
    )


def test_hostile_names_are_text(plan):
    made = sheet_page(replace(plan, route_name="<script>alert(1)</script>"))
    assert "<script>alert" not in made
    assert len(re.findall("<script>", made)) == 1
