"""Verdicts: the choice and its price are the numbers of the result; text fits the screen."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner

from passage.cli.main import group
from passage.planning.compare.compare import CompareOptions
from passage.planning.compare.files import CompareFiles, compare_files
from passage.planning.plan.cautions import STANDING
from passage.planning.plan.cautions_time import arrival_cautions
from passage.planning.plan.plan import PlanOptions, plan_files
from passage.planning.plan.result import Caution
from passage.report.drawing.svg_labels import Box, beside
from passage.report.pages.compare import compare_page
from passage.report.text.compare import compare_dict, compare_table
from passage.report.text.layout import Layout, TextColumn, fitted, screen_width
from passage.report.text.plan import plan_table
from passage.report.text.standing import grouped
from passage.report.text.verdict import Verdict, by_route, gaps, legs_words, number, when
from passage.report.text.verdict_compare import compare_verdict
from passage.report.text.verdict_plan import judged_limits, plan_verdict

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
SPRING = tuple(SAMPLES / f"spring_{part}.nc" for part in ("waves", "wind", "current"))
ROUTES = tuple(SAMPLES / f"{name}.csv" for name in ("straight", "outside", "inside"))
VESSEL = SAMPLES / "brambling_may.toml"
HOUR = 3600.0
START_S = 1779264000.0  # 2026-05-20T08:00Z


@pytest.fixture(scope="module")
def found():
    """A day and a half of departures after the blow, as the README has them."""
    options = CompareOptions(
        tuple(START_S + 6.0 * HOUR * i for i in range(7)),
        (11.0, 12.0),
        arrive_by_s=START_S + 42.5 * HOUR,
        minutes=60.0,
    )
    return compare_files(CompareFiles(ROUTES, VESSEL, SPRING), options)


@pytest.fixture(scope="module")
def plan():
    return plan_files(
        SAMPLES / "western.csv",
        SAMPLES / "brambling.toml",
        tuple(SAMPLES / f"biscay_{part}.nc" for part in ("waves", "wind", "current")),
        PlanOptions(1773468000.0, minutes=60.0),
    )


@pytest.mark.parametrize(
    ("name", "words"),
    [("outside", "by route outside"), ("route", "by the route"), ("Route_2", "by Route_2")],
)
def test_the_word_route_comes_once(name, words):
    assert by_route(name) == words


def test_in_the_sample_the_best_is_not_the_shortest_and_waiting_pays(found):
    """Some allowed and some not, the best not the shortest, waiting pays."""
    assert 0 < found.open.sum() < len(found)
    chosen = found.chosen
    lengths = [sum(leg.distance_m for leg in route.legs) for route in found.routes]
    assert found.cell_of(chosen).route != int(np.argmin(lengths))
    assert found.departure_s[chosen] > START_S
    first = (found.departure_s == START_S) & (found.cell == found.cell[chosen])
    assert found.totals["fuel_l"][first][0] > found.totals["fuel_l"][chosen]
    assert not found.open[first][0]
    # The shortest at the same time and speed burns less, and is ruled out by roll.
    straight = compare_verdict(found).price
    assert re.search(r"shortest route, straight, costs [\d,]+ l less but rolls", straight)


def test_no_verdict_within_limits_while_wind_is_missing(plan):
    rest = tuple(c for c in plan.cautions if c.severity == "note")
    wide = {"underway": {"roll_significant_deg": 60.0}, "at_rest": {}}
    legs = tuple({**leg, "coverage": "ok"} for leg in plan.legs)
    calm = replace(plan, legs=legs, cautions=rest, marks={**plan.marks, "limits": wide})
    assert ": every leg stays" in plan_verdict(calm).do
    words = "no wind is known on 100 % of the passage: no file gives it"
    gone = replace(calm, cautions=(*rest, Caution("wind_none", "caution", (), words)))
    assert ": as far as is known without the wind, every leg stays" in plan_verdict(gone).do


def test_a_comparison_without_wind_is_qualified_as_a_plan_is(found):
    bare = [replace(cell, wind_gap=np.ones_like(cell.wind_gap)) for cell in found.cells]
    assert "as far as is known without the wind, " in compare_verdict(replace(found, cells=bare)).do
    assert "as far as is known" not in compare_verdict(found).do


def test_speeds_by_leg_read_as_speeds(found):
    text = [replace(cell, speed_text="by leg 10.5, 9 kn") for cell in found.cells]
    assert "at 10.5, 9 kn by leg: " in compare_verdict(replace(found, cells=text)).do


def test_the_verdict_holds_the_numbers_of_the_choice(found):
    verdict = compare_verdict(found)
    chosen = found.chosen
    assert verdict.state == "within"
    assert when(float(found.departure_s[chosen])) in verdict.do
    assert f"{number(float(found.totals['fuel_l'][chosen]))} l" in verdict.do
    roll = float(found.totals["worst_window_roll_significant_deg"][chosen])
    assert f"roll {roll:.1f} deg significant against your limit of 4" in verdict.do
    first = next(
        i for i in range(len(found))
        if found.departure_s[i] == START_S and found.cell[i] == found.cell[chosen]
    )  # fmt: skip
    more = found.totals["fuel_l"][first] - found.totals["fuel_l"][chosen]
    assert f"costs {number(float(more))} l more" in verdict.price
    assert f"{int(found.open.sum())} of {len(found)} combinations" in verdict.why


def test_cards_table_and_json_say_the_same(found):
    page, data = compare_page(found), compare_dict(found)
    verdict = compare_verdict(found)
    assert data["verdict"]["text"] == verdict.text
    assert data["verdict"]["state"] == "within"
    cards = re.findall(r'<li class="card [^"]*">(.*?)</li>', page, re.S)
    assert 2 <= len(cards) <= 5
    assert "Chosen, least fuel" in cards[0]
    fuels = {number(float(found.totals["fuel_l"][i])) for i in found.names.values()}
    for fuel in fuels:
        assert any(f"{fuel} l" in card for card in cards)
    # The same names are on the chart and on the map.
    for name in ("most comfortable", "chosen, least fuel"):
        assert page.count(name) >= 4, name


def test_a_stricter_limit_never_makes_a_go(plan):
    order = {"within": 0, "unknown": 1, "over": 2}
    before = None
    for limit in (20.0, 7.0, 4.0, 1.0):
        sets = {key: {**plan.marks["limits"][key], "roll_significant_deg": limit,
                      "motion_sickness_percent": None, "vertical_acceleration_rms_g": None,
                      "lateral_acceleration_rms_g": None}
                for key in ("underway", "at_rest")}  # fmt: skip
        quiet = tuple(c for c in plan.cautions if c.severity != "warning")
        state = plan_verdict(
            replace(plan, marks={**plan.marks, "limits": sets}, cautions=quiet)
        ).state
        assert before is None or order[state] >= order[before]
        before = state
    assert before == "over"


def test_a_missing_value_is_never_a_go(plan):
    quiet = tuple(c for c in plan.cautions if c.severity != "warning")
    wide = {key: {**plan.marks["limits"][key], "roll_significant_deg": 90.0}
            for key in ("underway", "at_rest")}  # fmt: skip
    only = {key: {k: (v if k == "roll_significant_deg" else None) for k, v in one.items()}
            for key, one in wide.items()}  # fmt: skip
    fine = replace(plan, marks={**plan.marks, "limits": only}, cautions=quiet)
    assert plan_verdict(fine).state == "within"
    for bad in (None, float("nan")):
        legs = tuple(
            {**leg, "window_roll_significant_deg": bad} if leg["leg"] == 3 else leg
            for leg in fine.legs
        )
        verdict = plan_verdict(replace(fine, legs=legs))
        assert verdict.state == "unknown"
        assert "leg 3" in verdict.do
    gap = tuple({**leg, "coverage": "after_forecast"} if leg["leg"] == 4 else leg
                for leg in fine.legs)  # fmt: skip
    assert plan_verdict(replace(fine, legs=gap)).state == "unknown"


def test_an_early_arrival_is_in_the_verdict(plan):
    options = PlanOptions(plan.departure_s, arrive_s=plan.departure_s + 20.0 * HOUR)
    way = SimpleNamespace(hours=np.array([12.0]), speed_through_water_m_s=np.array([4.0]))
    early = replace(plan, cautions=(*plan.cautions, *arrival_cautions(options, way)))
    assert "She arrives 8.0 h before the time asked." in plan_verdict(early).why
    assert "before the time asked" not in plan_verdict(plan).why


def test_gaps_are_given_by_share_and_reason():
    def gap(leg, share, word="after_forecast", where="after the forecast ends"):
        text = f"{share} % of the leg lies {where}; no roll."
        return Caution(f"coverage_{word}", "warning", (leg,), text)

    sea = ("masked", "where the forecast has no sea")
    some = [gap(1, 11, *sea), gap(2, 43), gap(3, 100), gap(4, 100)]
    assert gaps(some) == (
        "11 % of leg 1 lies where the forecast has no sea. "
        "43 % of leg 2 and all of legs 3 and 4 lie after the forecast ends."
    )
    many = [gap(leg, 10 * leg) for leg in range(1, 6)]
    assert gaps(many) == "Up to 50 % of legs 1 to 5 lie after the forecast ends."
    assert gaps([gap(1, 5, "sheltered", "taken as sheltered")]) == ""


def test_the_worst_limit_is_named_first(plan):
    limits = judged_limits(plan)
    shares = [one.share for one in limits if one.share == one.share]
    assert shares == sorted(shares, reverse=True)
    assert f"leg {limits[0].leg}" in plan_verdict(plan).why


@pytest.mark.parametrize("width", [80, 100])
@pytest.mark.parametrize("detail", ["quiet", "usual", "verbose"])
def test_text_fits_the_screen(plan, found, width, detail):
    layout = Layout(width, detail=detail)
    for text in (plan_table(plan, layout), compare_table(found, layout)):
        long = [line for line in text.splitlines() if len(line) > width]
        assert long == []
        words = " ".join(text.split())
        assert words.count("the master decides") == 1
        assert words.count("not for navigation") == 1
    if detail == "quiet":
        assert len(plan_table(plan, layout).splitlines()) <= 20


def test_wide_has_every_column_and_verbose_the_method(plan):
    narrow, wide = plan_table(plan, Layout(80)), plan_table(plan, Layout(80, wide=True))
    assert "Left out to fit" in narrow
    assert "Left out to fit" not in wide
    assert "offset" in wide
    assert "How it was computed" not in narrow
    verbose = plan_table(plan, Layout(100, detail="verbose"))
    assert "How it was computed" in verbose
    for line in plan.provenance["estimated"]:
        assert str(line)[:30] in verbose


def test_cautions_are_grouped_by_leg_worst_first(plan):
    groups = grouped(plan.cautions)
    order = {"warning": 0, "caution": 1, "note": 2}
    worst = [min(order[c.severity] for c in items) for _, items in groups]
    assert worst == sorted(worst)
    count = sum(len(items) for _, items in groups)
    assert count == len(plan.cautions) - len(STANDING)
    graves = sum(c.severity == "warning" for _, items in groups for c in items)
    first = plan_table(plan, Layout(100, detail="quiet")).splitlines()[0]
    assert f"({graves} warnings, {count - graves} cautions left out)" in first


def test_remarks_are_in_the_answer_once_and_columns_is_followed(monkeypatch):
    words = ["plan", str(SAMPLES / "western.csv"), "--vessel", str(SAMPLES / "brambling.toml"),
             "--departure", "2026-03-14T06:00Z", "--minutes", "120"]  # fmt: skip
    for part in ("waves", "wind", "current"):
        words += ["--forecast", str(SAMPLES / f"biscay_{part}.nc")]
    monkeypatch.setenv("COLUMNS", "80")
    made = CliRunner().invoke(group, words)
    assert made.stdout.count("12 kn taken") == 1
    assert "12 kn taken" not in made.stderr
    assert max(map(len, made.stdout.splitlines())) <= 80
    data = json.loads(CliRunner().invoke(group, [*words, "--format", "json"]).stdout)
    assert list(data)[3] == "verdict"
    assert data["verdict"]["state"] == "over"


@pytest.mark.parametrize(
    ("columns", "width"), [(None, 100), (0, 100), (40, 80), (80, 80), (93, 93), (300, 100)]
)
def test_screen_width(columns, width):
    assert screen_width(columns) == width


def test_a_table_fills_the_width_by_rank():
    columns = [TextColumn("a"), TextColumn("bb", 2), TextColumn("cc", 1), TextColumn("dd", 3)]
    rows = [["1", "22", "33", "44"]]
    got = fitted(columns, rows, Layout(8))
    assert got[0].splitlines()[0] == "a  cc"
    assert "bb, dd" in " ".join(got[1].split())
    assert fitted(columns, rows, Layout(8, wide=True))[0].splitlines()[0] == "a  bb  cc  dd"


def test_words_too_long_go_on_below_and_none_are_lost():
    columns = [TextColumn("no"), TextColumn("state", left=True), TextColumn("n")]
    state = "chosen, least fuel, balanced, arrives too late, over a limit"
    got = fitted(columns, [["17", state, "1"], ["18", "allowed", "2"]], Layout(30))[0]
    assert max(map(len, got.splitlines())) <= 30
    _, rule, *below = got.splitlines()
    width = len(rule.split()[1])
    assert " ".join(line[4 : 4 + width].strip() for line in below) == f"{state} allowed"
    assert [line.split()[-1] for line in below if line[:2].strip()] == ["1", "2"]


@pytest.mark.parametrize(
    ("legs", "words"),
    [((3,), "leg 3"), ((1, 2), "legs 1 and 2"), ((1, 2, 3), "legs 1 to 3"),
     ((1, 3, 4, 5, 8), "legs 1, 3 to 5 and 8")],
)  # fmt: skip
def test_legs_words(legs, words):
    assert legs_words(legs) == words


def test_an_unknown_verdict_is_refused_and_missing_numbers_are_unknown():
    with pytest.raises(ValueError, match="state"):
        Verdict("maybe", "Go.")
    assert number(None) == "unknown"
    assert number(float("nan")) == "unknown"
    assert number(1030.4) == "1,030"


def test_labels_beside_one_another_never_meet():
    rng = np.random.default_rng(5)
    bounds, taken = Box(0.0, 0.0, 400.0, 300.0), []
    for x, y in rng.uniform([20.0, 20.0], [380.0, 280.0], (30, 2)):
        place = beside("least fuel", float(x), float(y), taken, bounds)
        if place is not None:
            assert place.box.within(bounds)
            assert not any(place.box.meets(other) for other in taken)
            taken.append(place.box)
    assert len(taken) > 15
