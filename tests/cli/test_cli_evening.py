"""A master's evening from an empty folder: eleven numbers, a route, forecasts, a plan."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from passage.cli.main import group
from passage.cli.particulars_ask import QUESTIONS
from passage.inputs.vessel import read_vessel

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
#: What is typed: name, length, beam, draught, no displacement, period, no GM, fin area and
#: Enter to what is not known of them, three points, and Enter to the rest.
TYPED = ["Evening", "44", "9", "2,8", "", "7.8", "", "2.0", "", "", "",
         "8 62", "12 205", "14 340", "", "", "", "4", ""]  # fmt: skip
ROUTE = """name,lat,lon
Off Ushant,48-30.0N,005-45.0W
Shelf edge,47 20.5 N,007 30 W
North of Sisargas,43-40.0N,008-50.0W
"""


@pytest.fixture
def evening(tmp_path, monkeypatch):
    """An empty folder but for a folder of forecasts."""
    monkeypatch.delenv("PASSAGE_DEFAULTS", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    work = tmp_path / "work"
    (work / "forecasts").mkdir(parents=True)
    for name in ("waves", "wind", "current"):
        shutil.copy(SAMPLES / f"biscay_{name}.nc", work / "forecasts")
    monkeypatch.chdir(work)
    return work


def run(*words, typed=None):
    text = None if typed is None else "\n".join(typed) + "\n"
    return CliRunner().invoke(group, list(map(str, words)), input=text, standalone_mode=False)


def asked(*more, typed=TYPED):
    result = run("particulars", "--ask", *more, typed=typed)
    assert result.exception is None, (result.exception, result.stderr)
    return result


def test_the_evening_from_an_empty_folder(evening):
    asked("-o", "mine.toml")
    (evening / "route.csv").write_text(ROUTE, encoding="utf-8")
    (evening / "passage.toml").write_text(
        'vessel = "mine.toml"\nforecast = "forecasts"\n', encoding="utf-8"
    )
    leave = ["--departure", "2026-03-14T06:00Z"]
    shown = run("check", "--vessel", "mine.toml", "--route", "route.csv")
    assert shown.exception is None
    assert "Nothing looks odd." in shown.stdout
    plan = json.loads(run("plan", "route.csv", *leave, "--format", "json").stdout)
    assert plan["totals"]["fuel_l"] > 0.0
    assert plan["totals"]["fuel_low_l"] < plan["totals"]["fuel_l"] < plan["totals"]["fuel_high_l"]
    assert "particulars_estimated" in {c["code"] for c in plan["cautions"]}
    other = run("compare", "route.csv", *leave, "--speed", "10", "--speed", "12", "--quiet")
    assert other.exception is None
    heel = run("heel", "route.csv", *leave, "--seconds", "1")
    assert heel.exception is None
    sheet = run("plan", "route.csv", *leave, "--format", "sheet", "-o", "sheet.html")
    assert sheet.exception is None
    assert "Evening" in (evening / "sheet.html").read_text(encoding="utf-8")


def test_the_file_has_what_was_answered_and_the_rest_in_comments(evening):
    asked("-o", "mine.toml")
    text = (evening / "mine.toml").read_text(encoding="utf-8")
    live = [line.split(" = ")[0] for line in text.splitlines() if line[:1].isalpha()]
    assert live == [
        "name", "length_waterline_m", "beam_waterline_m", "draught_m", "natural_period_s",
        "area_m2", "speed_kn", "fuel_l_per_h", "roll_significant_deg",
    ]  # fmt: skip
    vessel = read_vessel(evening / "mine.toml")
    assert vessel.particulars.draught_m == 2.8
    assert vessel.limits.underway.roll_significant_deg == 4.0
    assert f"# gm_m = {float(f'{vessel.particulars.gm_m:.3g}')}" in text


def test_taking_an_estimate_out_of_its_comment_changes_next_to_nothing(evening):
    asked("-o", "mine.toml")
    text = (evening / "mine.toml").read_text(encoding="utf-8")
    estimated = read_vessel(evening / "mine.toml")
    (evening / "gm.toml").write_text(text.replace("# gm_m = ", "gm_m = "), encoding="utf-8")
    written = read_vessel(evening / "gm.toml")
    assert written.estimate_of("vessel.gm_m") is None
    assert written.particulars.gm_m == pytest.approx(estimated.particulars.gm_m, rel=0.005)


def test_what_cannot_be(evening):
    typed = ["", "Evening", "feet", "440", "44", "9", "", "", "545", "7.8", "", "",
             "8", "8 62", "", "8 70", "12 205", "", "", "", "", ""]  # fmt: skip
    result = asked("-o", "mine.toml", typed=typed)
    for words in (
        "This one cannot be guessed",
        "'feet' is not a number",
        "'440' must be greater than 5 and at most 200 m",
        "needed where the one before it is not known",
        "Give a speed and its fuel",
        "Two points are needed",
        "Fuel must rise with speed",
    ):
        assert words in result.stderr, words
    vessel = read_vessel(evening / "mine.toml")
    assert vessel.particulars.displacement_t == 545.0
    assert vessel.fins == ()


def test_a_file_that_is_there_is_not_lost_nor_are_the_answers(evening):
    (evening / "mine.toml").write_text("kept", encoding="utf-8")
    asked(typed=[*TYPED, "mine.toml", "other.toml"])
    assert (evening / "mine.toml").read_text(encoding="utf-8") == "kept"
    assert read_vessel(evening / "other.toml").name == "Evening"


def test_the_short_template_plans_as_it_is(evening):
    run("particulars", "--short", "-o", "short.toml")
    assert read_vessel(evening / "short.toml").name == "Brambling"
    assert "INVENTED" in (evening / "short.toml").read_text(encoding="utf-8")


def test_every_question_says_its_unit_and_asks_for_a_key_that_is():
    from passage.inputs.vessel.messages import field_at, unit_of

    for one in QUESTIONS:
        _, info = field_at((one.section, one.key))
        assert info is not None, one.key
        unit = unit_of(one.key, info)
        # The gain is asked for in words: degrees for each degree a second.
        if unit in ("m", "t", "s", "m2", "deg", "l/h") and one.key != "rate_gain_s":
            assert f", {unit}" in one.text, one.key
