"""Limits are judged alike however the passage is given, and where none is set nothing is."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace

import pytest
from restatement_case import SAMPLES

import passage as api
from passage.errors import VesselError
from passage.planning.compare.files import _refuse_hours_of_nothing
from passage.planning.plan.result import Caution
from passage.report.text.compare import compare_table
from passage.report.text.heel import heel_text
from passage.report.text.plan import plan_table
from passage.report.text.season import season_table
from passage.report.text.suggest_odds import expected_dict, finalist_lines
from passage.report.text.verdict_compare import compare_verdict
from passage.report.text.verdict_heel import heel_verdict
from passage.report.text.verdict_plan import plan_verdict
from passage.report.text.verdict_season import season_verdict

LEAVE = "2026-03-14T06:00Z"
SEA = [SAMPLES / f"biscay_{part}.nc" for part in ("waves", "wind", "current")]


def vessel_text(limits: str = "") -> str:
    """The sample vessel file with its limits replaced."""
    text = (SAMPLES / "brambling.toml").read_text(encoding="utf-8")
    return re.sub(r"(?ms)^\[limits[^\n]*$.*?(?=^\[(?!limits))", "", text) + "\n" + limits


@pytest.fixture(scope="module")
def unlimited(tmp_path_factory):
    """Every command's answer for a vessel file without limits."""
    path = tmp_path_factory.mktemp("free") / "free.toml"
    path.write_text(vessel_text(), encoding="utf-8")
    vessel, route = api.read_vessel(path), api.read_route(SAMPLES / "direct.csv")
    with api.open_forecast(SEA) as sea:
        return {
            "plan": api.plan(route, vessel, sea, departure=LEAVE, speed_kn=12),
            "compare": api.compare([route], vessel, sea, window=(LEAVE, LEAVE, 6), speeds_kn=[12]),
            "heel": api.heel(route, vessel, sea, departure=LEAVE, speed_kn=12),
            "season": api.season(
                route, vessel, sea, first="2026-03-14", last="2026-03-14", every_h=6, speeds_kn=[12]
            ),
        }


VERDICTS = {
    "plan": plan_verdict,
    "compare": compare_verdict,
    "heel": heel_verdict,
    "season": season_verdict,
}
TABLES = {"plan": plan_table, "compare": compare_table, "heel": heel_text, "season": season_table}


@pytest.mark.parametrize("command", TABLES)
def test_without_limits_nothing_is_reported_to_keep_them(unlimited, command):
    text = " ".join(TABLES[command](unlimited[command].answer).split())
    assert len(re.findall(r"(?i)no limit (?:is set|of steady heel is set)", text)) == 1
    for words in ("within the limit", "hours over the owner", "within the owner",
                  "keep the limits", "over limit never", "of limit 0",
                  "is set to judge", "allowed"):  # fmt: skip
        assert words not in text.lower(), words


@pytest.mark.parametrize("command", TABLES)
def test_without_limits_a_page_says_so_once_and_has_no_columns_for_them(unlimited, command):
    page = re.sub(r"(?s)<(script|style).*?</\1>", "", unlimited[command].page())
    text = " ".join(re.sub(r"<[^>]+>", " ", page).split()).lower()
    assert len(re.findall("no limit (?:is set|of steady heel is set)", text)) == 1
    for words in ("allowed", "limit kept", "keeps the limit", "tightest limit", "over the limit",
                  "over roll limit", "within the limit"):  # fmt: skip
        assert words not in text, words


def test_without_a_limit_of_roll_no_hours_over_it_are_asked_for(unlimited):
    answer = unlimited["compare"].answer
    with pytest.raises(VesselError, match="roll_significant_deg: is not set"):
        _refuse_hours_of_nothing(
            answer.vessel, answer.routes, replace(answer.options, comfort="hours")
        )


def test_without_limits_the_finalists_of_a_search_have_no_odds_of_keeping_them():
    one = SimpleNamespace(price=2500.0, low=2400.0, high=2600.0, fuel_l=2500.0, odds=100.0)
    candidates = {"grid": SimpleNamespace(over=())}
    found = SimpleNamespace(
        expected={"grid": one}, best="grid", odds_source="made", candidates=candidates
    )
    options = SimpleNamespace(objective="fuel")
    for limits_set in (False, True):
        text = " ".join(finalist_lines(found, options, 64, limits_set=limits_set))
        assert ("limit" in text) == limits_set
        odds = expected_dict(found, limits_set=limits_set)["grid"]["odds_percent"]
        assert (odds is not None) == limits_set


@pytest.mark.parametrize("command", ["plan", "compare", "heel", "season"])
def test_without_limits_no_verdict_is_within(unlimited, command):
    answer = unlimited[command].answer
    assert VERDICTS[command](answer).state in ("unknown", "over")


def test_heel_gives_no_verdict_where_the_fins_hunt(unlimited):
    answer = unlimited["heel"].answer
    hunting = Caution("fins_hunt", "warning", (2,), "the fins hunt with these gains")
    verdict = heel_verdict(replace(answer, cautions=(*answer.cautions, hunting)))
    assert verdict.state == "unknown"
    assert verdict.text.startswith("No verdict: the fins hunt with these gains on leg 2,")


def test_without_limits_centring_is_not_advised(unlimited):
    lines = unlimited["heel"].answer.fin_use_words
    assert lines
    assert not [line for line in lines if line.startswith("centred") and "required" not in line]


def test_without_limits_no_share_and_no_hours_over(unlimited):
    totals = unlimited["compare"].answer.totals
    assert not any(value == value for value in totals["limit_share"])
    assert not any(value == value for value in totals["hours_over_roll_limit"])
    assert unlimited["season"].answer.numbers["within_limits"].max() == -1
