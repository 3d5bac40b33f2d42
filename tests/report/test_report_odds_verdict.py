"""Verdicts that must not say more than is known: odds below even, savings of next to nothing."""

from dataclasses import replace
from pathlib import Path

import pytest

from passage.api.results import SuggestResult
from passage.inputs.route import build_route, read_route
from passage.planning.plan.guesses import ESTIMATED
from passage.planning.plan.plan import PlanOptions, plan_files
from passage.planning.plan.result import Caution
from passage.planning.suggest.files import Suggestion
from passage.planning.suggest.search import Found, SearchOptions
from passage.report.text.chances import odds_words
from passage.report.text.layout import Layout
from passage.report.text.suggest import suggest_lines
from passage.report.text.verdict import number
from passage.report.text.verdict_plan import plan_verdict
from passage.report.text.verdict_suggest import suggest_verdict

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
LEAVE_S = 1779307200.0  # 2026-05-20T20:00Z


@pytest.fixture(scope="module")
def plan():
    return plan_files(
        SAMPLES / "outside.csv",
        SAMPLES / "brambling_may.toml",
        tuple(SAMPLES / f"spring_{part}.nc" for part in ("waves", "wind", "current")),
        PlanOptions(LEAVE_S, speed_kn=11.0, minutes=60.0, draws=0),
    )


def with_odds(plan, percent):
    totals = {**plan.totals, "odds_within_limits_percent": percent, "odds_draws": 64}
    return replace(plan, totals=totals)


def test_odds_below_even_are_in_the_first_sentence_and_on_the_badge(plan):
    likely, unlikely = (plan_verdict(with_odds(plan, p)) for p in (50.0, 31.25))
    assert plan_verdict(plan).state == likely.state == unlikely.state == "within"
    assert likely.do == plan_verdict(plan).do
    assert "less likely than not" in unlikely.do
    assert unlikely.state_words == "Doubtful, odds 31 %"
    assert unlikely.tone == "doubtful"
    # Even odds are no plain green word either; good ones need none.
    assert likely.state_words == "Within the limits, odds 50 %"
    assert plan_verdict(with_odds(plan, 80.0)).state_words == "Within the limits"
    assert likely.tone == "within"


def test_the_range_beside_the_verdict_is_that_of_the_draws_where_it_holds_the_plans_band(plan):
    low, high = (plan.totals[f"fuel_{end}_l"] for end in ("low", "high"))
    fuel = next(one for one in plan_verdict(plan).figures if one.label == "Fuel")
    assert fuel.under == f"{number(low)} to {number(high)} l"
    drawn = {**plan.totals, "fuel_l_p10": 5000.0, "fuel_l_p50": 6000.0, "fuel_l_p90": 7000.0}
    drawn |= {f"eta_utc_p{p}": plan.totals["eta_utc"] for p in (10, 50, 90)}
    drawn |= {f"worst_window_roll_significant_deg_p{p}": 3.0 for p in (50, 90)}
    drawn |= {"odds_source": "draws", "odds_draws": 64, "odds_fuel_lasts_percent": 100.0}
    drawn |= {"odds_within_limits_percent": 80.0, "odds_percent": {}}
    plan = replace(plan, totals=drawn)
    fuel = next(one for one in plan_verdict(plan).figures if one.label == "Fuel")
    assert fuel.under == "80 %: 5,000 to 7,000"
    words = " ".join(odds_words(plan))
    assert "80 % of draws: fuel 5,000 to 7,000 l" in words
    assert (
        f"If the forecast is right, fuel lies between {number(low)} and {number(high)} l (the"
        in words
    )


@pytest.mark.parametrize("code", ["", ESTIMATED])
def test_the_wider_of_two_ranges_of_fuel_is_never_hidden(plan, code):
    low, high, fuel = (plan.totals[key] for key in ("fuel_low_l", "fuel_high_l", "fuel_l"))
    # Draws beyond the band at the upper end, and inside it at the lower.
    odds = {"fuel_l_p10": fuel - 1.0, "fuel_l_p90": high + 100.0}
    odds |= {"odds_within_limits_percent": 80.0, "odds_draws": 64}
    cautions = (*plan.cautions, Caution(code, "caution", (), "")) if code else plan.cautions
    verdict = plan_verdict(replace(plan, totals=plan.totals | odds, cautions=cautions))
    under = next(one.under for one in verdict.figures if one.label == "Fuel")
    assert under == f"band: {number(low)} to {number(high + 100.0)}"
    assert f"{number(low)} to {number(high + 100.0)} l" in verdict.price
    assert f"{number(fuel - 1.0)} to {number(high + 100.0)} l" in verdict.price
    assert ("her estimated numbers" in verdict.price) == bool(code)
    # Nor do odds leave out in silence what the draws leave out.
    assert ("her estimated numbers taken as right" in verdict.why) == bool(code)


def test_what_holding_the_heel_burns_is_shown_beside_the_fuel(plan):
    held = plan.totals | {"fuel_fins_offset_l": 402.4}
    assert (
        "Holding the heel with the fins takes 402 l of this"
        in plan_verdict(replace(plan, totals=held)).price
    )
    none = plan.totals | {"fuel_fins_offset_l": 0.0}
    assert "hold the heel" not in plan_verdict(replace(plan, totals=none)).price


@pytest.mark.parametrize(("saved", "word"), [(6.0, "Keep"), (-3.0, "Keep"), (200.0, "Take")])
def test_a_negligible_saving_is_no_reason_to_leave_the_route(plan, saved, word):
    given = replace(plan, totals={**plan.totals, "fuel_l": plan.totals["fuel_l"] + saved})
    verdict = suggest_verdict(
        {"suggested": plan, "as given (outside)": given}, SearchOptions(LEAVE_S, 11.0)
    )
    assert verdict.do.startswith(word)
    assert verdict.state == "within"


def test_a_suggestion_over_a_limit_is_not_to_be_taken(plan):
    rough = {**plan.legs[0], "motion_sickness_percent": 60.0}
    legs = ({key: (61.0 if "motion_sickness" in key else v) for key, v in rough.items()},)
    over = replace(plan, legs=(*legs, *plan.legs[1:]))
    verdict = suggest_verdict({"suggested": over}, SearchOptions(LEAVE_S, 11.0))
    assert verdict.state == "over"
    assert verdict.do.startswith("Not yet")
    assert "motion sickness" in verdict.do
    assert verdict.price.startswith("The best route found would take")


def test_a_plan_over_a_limit_gives_no_order_to_leave(plan):
    # Just over the limit: rounded to it, the value would read as kept.
    legs = ({**plan.legs[0], "motion_sickness_percent": 55.2}, *plan.legs[1:])
    marks = {**plan.marks, "limits": {"underway": {"motion_sickness_percent": 55.0}}}
    verdict = plan_verdict(replace(plan, legs=legs, marks=marks))
    assert verdict.state == "over"
    assert "Leave" not in verdict.do
    assert "leaving Wed 20 May 20:00Z" in verdict.do
    assert "motion sickness 55.2 %" in verdict.why


def test_decisions_about_heel_do_not_contradict_the_cautions(plan):
    short = {leg for one in plan.cautions if one.code == "heel_shortfall" for leg in one.legs}
    assert short
    text = next(one["text"] for one in plan.decisions if one["kind"] == "heel")
    assert f"as far as they can (up to 0.2 deg remain on leg {min(short)})" in text


def test_without_limits_a_suggestion_claims_none(plan):
    bare = replace(plan, marks={**plan.marks, "limits": {}})
    verdict = suggest_verdict({"suggested": bare}, SearchOptions(LEAVE_S, 11.0))
    assert verdict.state == "unknown"
    assert verdict.do.startswith("No limit is set")


def test_the_figures_are_those_of_the_route_that_is_kept(plan):
    from passage.report.text.verdict_suggest import advised

    given = replace(plan, totals={**plan.totals, "fuel_l": plan.totals["fuel_l"] + 6.0})
    plans = {"suggested": plan, "as given (outside)": given}
    options = SearchOptions(LEAVE_S, 11.0)
    assert advised(plans, options) == "as given (outside)"
    shown = {figure.label: figure.value for figure in suggest_verdict(plans, options).figures}
    assert shown["Fuel"] == f"{given.totals['fuel_l']:,.0f}"
    # A route given that breaks a limit of the search, or of the owner's alone, is not kept.
    assert advised(plans, options, ("too near the land",)) == "suggested"
    rough = tuple({**leg, "window_roll_significant_deg": 9.0} for leg in given.legs)
    plans["as given (outside)"] = replace(given, legs=rough)
    assert advised(plans, options) == "suggested"
    assert "over a limit" in suggest_verdict(plans, options).why


@pytest.mark.parametrize(("saved_l", "title"), [(6.0, "the route as given"), (600.0, "found")])
def test_waypoints_and_file_are_those_of_the_route_in_the_verdict(plan, tmp_path, saved_l, title):
    given = read_route(SAMPLES / "outside.csv")
    back = [replace(one, stay_h=0.0) for one in given.waypoints[::-1]]
    found = build_route("found", "found", back)
    mine = replace(plan, totals={**plan.totals, "fuel_l": plan.totals["fuel_l"] - saved_l})
    name = f"as given ({given.name})"
    made = Suggestion(
        Found(found, None, 0, 0, 1.0, ()),
        {"suggested": mine, name: plan},
        SearchOptions(LEAVE_S, 11.0),
        routes={"suggested": found, name: given},
    )
    kept = title != "found"
    answer = SuggestResult(made)
    assert ("Keep the route as given" in answer.to_dict()["verdict"]["do"]) is kept
    mark = (given if kept else found).waypoints[0].name
    written = read_route(answer.write_route(tmp_path / "new.csv"))
    lines = suggest_lines(made, made.options, Layout())
    at = next(i for i, line in enumerate(lines) if line.startswith("Waypoints"))
    assert lines[at + 1].strip().startswith(f"{mark}:")
    assert [answer.to_dict()["waypoints"][0]["name"], written.waypoints[0].name] == [mark, mark]
    assert answer.route.name.startswith(title)


@pytest.mark.parametrize(("percent", "word", "tone"), [
    (31.25, "Doubtful, odds 31 %", "doubtful"),
    (53.1, "Within the limits, odds 53 %", "within"),
    (90.0, "Within the limits", "within"),
])  # fmt: skip
def test_a_suggestion_has_the_badge_and_the_roll_of_a_plan_of_the_same_way(
    plan, percent, word, tone
):
    drawn = with_odds(plan, percent)
    verdict = suggest_verdict({"suggested": drawn}, SearchOptions(LEAVE_S, 11.0))
    assert (verdict.state_words, verdict.tone) == (word, tone)
    assert verdict.state_words == plan_verdict(drawn).state_words
    rolls = [
        next(one.value for one in made.figures if one.label.startswith("Roll"))
        for made in (verdict, plan_verdict(drawn))
    ]
    assert rolls[0] == rolls[1]
    assert f"worst roll {rolls[0]} deg" in verdict.do
