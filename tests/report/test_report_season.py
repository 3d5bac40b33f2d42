"""The season page's cards: the numbers of the records, the one advised first, no more than five."""

from __future__ import annotations

import re
from types import SimpleNamespace

import pytest

from passage.report.drawing.charts_season import share_chart
from passage.report.pages.cards import MOST_CARDS
from passage.report.pages.season_cards import season_options
from passage.report.text.season import lead_lines
from passage.report.text.season_list import turning
from passage.report.text.season_rank import (
    FEW_MARK,
    closing_rows,
    need_lines,
    rank_lines,
    where_text,
    years_text,
)
from passage.report.text.verdict_season import best_of, season_verdict


def record(route, speed, month, within, fuel):
    five = [0.9, 0.95, 1.0, 1.05, 1.1]
    return {
        "route": route, "speed_kn": speed, "month": month, "covered": 20, "judged": 20,
        "few": False,
        "within_limits_percent": within, "longest_wait_h": 73.0, "longest_wait_open": True,
        "fuel_l": [fuel * f for f in five], "hours": [30.0] * 5,
        "worst_window_roll_significant_deg": [3.3] * 5,
        "worst_leg_motion_sickness_percent": None,
    }  # fmt: skip


def season(*labels, limits_set=True):
    """Two months of each label: (route, speed, share in May, fuel in May)."""
    made = []
    for route, speed, within, fuel in labels:
        for month in (0, 1, 5):
            share = within if month == 5 else 8.0
            made.append(record(route, speed, month, share if limits_set else None, fuel))
    return SimpleNamespace(
        labels=[{"route": r, "speed_kn": s} for r, s, *_ in labels],
        records=made,
        provenance={"limits_set": limits_set},
    )


def test_cards_have_the_numbers_of_the_month_advised_and_the_names_of_the_charts():
    result = season(("outside", 12.0, 92.0, 7000.0), ("straight", 10.0, 90.0, 5246.0))
    names = ["outside, 12 kn", "straight, 10 kn"]
    section = season_options(result, names, best_of(result))[0]
    first, second = section.blocks[0].items
    # Within five points of the best share the one of least fuel is advised.
    assert first.name == "straight, 10 kn, advised"
    assert (first.chosen, second.chosen) == (True, False)
    assert (first.style, second.style) == (1, 0)
    assert dict(first.rows)["within limits"] == "90 %"
    assert dict(first.rows)["fuel"] == "5,246 l"
    assert dict(first.rows)["sickness"] == "unknown"
    assert dict(first.rows)["longest wait"] == "over 73 h"
    assert first.note == "Within limits, best month May 90 %, worst Jan 8 %."
    assert "May" in section.intro


@pytest.mark.parametrize(("share", "state"), [(75.0, "good"), (74.0, "limit")])
def test_the_colour_of_a_card_follows_the_share(share, state):
    result = season(("straight", 10.0, share, 5000.0))
    [section] = season_options(result, ["straight, 10 kn"], best_of(result))
    assert section.blocks[0].items[0].state == state


def test_of_many_the_surest_are_shown_and_the_others_named():
    rows = [(f"r{i}", 10.0, 90.0 - 3 * i, 5000.0 + i) for i in range(8)]
    result = season(*rows)
    [section] = season_options(result, [f"{r}, 10 kn" for r, *_ in rows], best_of(result))
    assert len(section.blocks[0].items) == MOST_CARDS
    assert "3 others" in section.intro


def test_without_limits_the_cards_are_of_the_whole_period_and_judge_nothing():
    result = season(("straight", 10.0, 0.0, 5000.0), limits_set=False)
    [section] = season_options(result, ["straight, 10 kn"], best_of(result))
    [card] = section.blocks[0].items
    assert "whole period" in section.intro
    assert (card.state, card.note) == ("note", "")
    assert "within limits" not in dict(card.rows)


@pytest.mark.parametrize(
    ("count", "words"),
    [(0.0, "the first passage"), (1.0, "the first passage"), (3.3, "4 passages"),
     (3.0, "3 passages"), (12.01, "13 passages")],
)  # fmt: skip
def test_break_even_is_rounded_up(count, words):
    # At 121 saved a passage, 400 written off a year are not paid for by three: 363.
    one = SimpleNamespace(
        breakeven={"fins": count},
        breakeven_sure={"fins": count},
        ways={"permanent": SimpleNamespace(fixed_l=363.6)},
    )
    assert f"from {words}" in turning(None, one)


def test_break_even_of_most_years_is_given_where_it_asks_for_more():
    one = SimpleNamespace(
        breakeven={"fins": 5.0, "transfer": 30.0},
        breakeven_sure={"fins": 12.0, "transfer": None},
        ways={"permanent": SimpleNamespace(fixed_l=363.6)},
    )
    text = turning(None, one)
    assert (
        "fins for all of it from 5 passages a year on the mean (in 9 years of 10 from 12)" in text
    )
    assert "from 30 passages a year on the mean (in 9 years of 10 not within 400)" in text


def judged(route, month, within, fuel, count=120):
    return record(route, 12.0, month, within, fuel) | {
        "judged": count, "spells": count // 4 or 1, "few": count < 20, "closed_percent": {},
        "within_low_percent": None, "within_high_percent": None,
    }  # fmt: skip


def verdict_of(*records):
    return season_verdict(SimpleNamespace(records=records, provenance={"limits_set": True}))


def test_months_as_good_are_called_better_only_where_they_keep_more():
    verdict = verdict_of(
        judged("a", 0, 60.0, 6500.0), judged("a", 5, 95.0, 6000.0), judged("a", 6, 97.0, 6414.0),
        judged("a", 7, 92.0, 6100.0), judged("a", 1, 8.0, 9000.0),
    )  # fmt: skip
    assert verdict.do.startswith("Go in May, route a at 12 kn: 95 % of departures")
    assert "June is a little better, for more fuel: 97 %." in verdict.why
    assert "July is nearly as good: 92 %." in verdict.why
    assert verdict.price == "June, the surest, takes 414 l more."
    assert "The worst month is January, 8 %." in verdict.why


@pytest.mark.parametrize(("fuel", "words"), [(5586.0, "414 l less"), (6764.0, "764 l more")])
def test_another_route_of_the_month_has_its_share_and_litres_more_or_less(fuel, words):
    verdict = verdict_of(judged("a", 5, 95.0, 6000.0), judged("b", 5, 40.0, fuel))
    assert verdict.price == f"By b, May gives 40 % for {words}."
    alone = verdict_of(judged("a", 5, 95.0, 6000.0))
    assert alone.price == "Nine passages of ten take 6,600 l or less."


@pytest.mark.parametrize(
    ("count", "words"), [(1, "is only 1 departure in 1 spell"), (8, "are only 8 departures in 2")]
)
def test_one_departure_is_counted_in_the_singular(count, words):
    verdict = verdict_of(*(judged("a", month, 95.0, 6000.0, count) for month in (0, 5)))
    assert f"Behind that month {words}" in verdict.doubt
    assert verdict.price == "The passage takes 6,000 l."
    noun = "1 departure" if count == 1 else "8 departures"
    assert verdict.figures[0].under.startswith(f"of {noun} in {count // 4 or 1} spell")
    assert verdict.figures[1].under == f"of {noun} (few)"


def test_one_departure_has_no_order_of_months():
    only = judged("a", 5, 95.0, 6000.0, 1) | {"worst_window_roll_significant_deg": [3.3] * 5}
    result = SimpleNamespace(
        labels=[{"route": "a", "speed_kn": 12.0}],
        records=[only],
        provenance={"limits_set": True},
        calendar={"weeks": [[]], "hours": [[]]},
    )
    assert not lead_lines(result, SimpleNamespace(width=100, quiet=False))


@pytest.mark.parametrize("count", [8, 120])
def test_odds_of_few_departures_bear_the_mark_of_few(count):
    """Every share that the departures give, as the share within limits does."""
    five = [0.0, 0.0, 1.0, 2.0, 3.0]
    needs = judged("a", 0, 95.0, 6000.0, count) | {
        "fins_at_limit_share_percent": 5.0, "slamming_share_percent": 1.0,
        "slamming_hours": five, "fin_hours_at_rest": five, "tank_fuel_l": 6900.0,
        "closed_percent": {"roll": 5.0}, "closed_alone_percent": {"roll": 2.0},
    }  # fmt: skip
    lines = need_lines(needs, None)
    [(month, _)] = closing_rows([needs], ["roll"])
    assert len(lines) == 4 + (count == 8)
    assert all(("(few)" in text) == (count == 8) for text in [*lines, month])


def few_and_enough():
    """May of six departures has the best share, April the worst; neither has enough."""
    rows = [(0, 84.0, 200), (4, 0.0, 6), (5, 100.0, 6), (6, 78.0, 80), (7, 92.0, 120)]
    extra = {
        "worst_window_roll_significant_deg": [3.3] * 5, "spell_h": 96.0,
        "longest_wait_h": None, "by_year": [],
    }  # fmt: skip
    return SimpleNamespace(
        labels=[{"route": "a", "speed_kn": 12.0}],
        records=[judged("a", m, share, 6000.0 + m, n) | extra for m, share, n in rows],
        provenance={"limits_set": True},
        calendar={"weeks": [[]], "hours": [[]]},
    )


def unmarked(text, share):
    """Whether a share is given without the mark of few."""
    return re.search(rf"\b{share} %(?! \(few\))", text) is not None


def test_a_month_of_few_is_neither_best_nor_worst_and_bears_its_mark_wherever_it_is_shown():
    result = few_and_enough()
    verdict = season_verdict(result)
    assert verdict.do.startswith("Go in July")
    assert "The worst month is June, 78 %." in verdict.why
    assert "Of too few departures to count: April 0 % (few) and May 100 % (few)." in verdict.why
    assert "better" not in verdict.why
    [months] = rank_lines(result, 0)
    assert "Jul 92 %; worst Jun 78 %. Not ranked: May 100 % (few)" in months
    [section] = season_options(result, ["a, 12 kn"], best_of(result))
    [card] = section.blocks[0].items
    assert "best month Jul 92 %, worst Jun 78 %" in card.note
    for text in (verdict.do, verdict.why, verdict.price, months, card.note):
        assert not unmarked(text, 100)
        assert not unmarked(text, 0)


def test_where_no_month_has_enough_the_verdict_bears_the_mark():
    result = few_and_enough()
    result.records = [r | {"few": True} for r in result.records]
    verdict = season_verdict(result)
    assert verdict.state == "unknown"
    assert "100 % (few) of departures" in verdict.do
    assert verdict.word == "100 % (few) within limits"
    texts = [verdict.do, verdict.why, *rank_lines(result, 0)]
    assert not any(unmarked(text, share) for text in texts for share in (0, 78, 92, 100))


def test_a_share_of_few_is_marked_in_the_chart_its_figures_and_its_read_out():
    chart = share_chart(
        "Within", "Within, %", ["a"], [[100.0, 78.0]], months=(5, 6), few=[[True, False]],
        few_mark=FEW_MARK,
    )  # fmt: skip
    assert chart.table.rows == [["May", "100 (few)"], ["Jun", 78.0]]
    for drawing in (chart.wide, chart.narrow):
        assert "May: a 100 % (few)" in drawing
        assert "Jun: a 78 %" in drawing
        assert drawing.count("hollow") == 1
    assert FEW_MARK in chart.note


def test_a_year_of_few_departures_marks_the_span_of_years():
    span = {"year_lowest_percent": 40.0, "year_highest_percent": 90.0}
    years = [{"few": False}, {"few": True}]
    assert years_text(span | {"by_year": years}) == "40-90 (few)"
    assert years_text(span | {"by_year": years[:1]}) == "40-90"


LEGS = [
    {"name": "A to B", "at_rest": False}, {"name": "stay at B", "at_rest": True},
    {"name": "B to C", "at_rest": False},
]  # fmt: skip


def test_the_limit_that_rules_out_says_where():
    only = judged("a", 5, 0.0, 6000.0) | {
        "closed_percent": {"roll_significant_deg": 100.0},
        "closed_at_rest_percent": {"roll_significant_deg": 100.0},
        "closed_under_way_percent": {"roll_significant_deg": 12.0},
        "closed_leg_at_rest": {"roll_significant_deg": 2},
        "closed_leg_at_rest_percent": {"roll_significant_deg": 100.0},
        "closed_leg_under_way": {"roll_significant_deg": 3},
        "closed_leg_under_way_percent": {"roll_significant_deg": 70.0},
        "closed_at_rest_only_percent": 80.0,
    }  # fmt: skip
    label = {"route": "a", "speed_kn": 12.0}
    result = SimpleNamespace(
        labels=[label], records=[only], provenance={"limits_set": True, "legs": [LEGS]}
    )
    assert (
        "In May significant roll rules out 100 % of departures: at rest 100 %, on leg 2, stay at "
        "B; under way 12 %, most often on leg 3, B to C. 80 % of departures are over limits at "
        "rest only."
    ) in season_verdict(result).why
    ways = [LEGS[0], LEGS[2], LEGS[2]]
    only["closed_at_rest_percent"] = {"roll_significant_deg": 0.0}
    assert where_text(only, "roll_significant_deg", ways) == "most often on leg 3, B to C"
