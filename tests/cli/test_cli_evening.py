"""A master's evening from an empty folder: eleven numbers, a route, forecasts, a plan."""

from __future__ import annotations

import json
import shutil
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from passage.cli.main import group
from passage.cli.particulars_ask import QUESTIONS
from passage.errors import VesselError
from passage.inputs.vessel import read_vessel
from passage.inputs.vessel.reader import vessel_from_text
from passage.inputs.vessel.short import OPEN
from passage.inputs.vessel.template import NEEDED, full_template

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


def test_from_an_empty_folder_to_a_chosen_route(evening):
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


def test_uncommenting_an_estimate_changes_almost_nothing(evening):
    asked("-o", "mine.toml")
    text = (evening / "mine.toml").read_text(encoding="utf-8")
    estimated = read_vessel(evening / "mine.toml")
    (evening / "gm.toml").write_text(text.replace("# gm_m = ", "gm_m = "), encoding="utf-8")
    written = read_vessel(evening / "gm.toml")
    assert written.estimate_of("vessel.gm_m") is None
    assert written.particulars.gm_m == pytest.approx(estimated.particulars.gm_m, rel=0.005)


def test_impossible_answers_are_refused(evening):
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


def test_an_existing_file_and_the_answers_are_kept(evening):
    (evening / "mine.toml").write_text("kept", encoding="utf-8")
    asked(typed=[*TYPED, "mine.toml", "other.toml"])
    assert (evening / "mine.toml").read_text(encoding="utf-8") == "kept"
    assert read_vessel(evening / "other.toml").name == "Evening"


@pytest.mark.parametrize("more", [["--short"], ["--no-input"]])
def test_a_template_not_filled_in_is_refused_with_all_that_it_lacks(evening, more):
    run("particulars", *more, "-o", "mine.toml")
    with pytest.raises(VesselError) as err:
        read_vessel(evening / "mine.toml")
    lines = str(err.value).splitlines()
    needed = ["name", "length_waterline_m", "beam_waterline_m", "draught_m", "gm_m", "speed_kn",
              "fuel_l_per_h"]  # fmt: skip
    assert [line.split("] ")[1].split(":")[0] for line in lines] == needed
    assert all("is missing" in line for line in lines)


def test_the_short_template_filled_in_is_the_file_of_the_same_answers(evening):
    run("particulars", "--short", "-o", "mine.toml")
    text = (evening / "mine.toml").read_text(encoding="utf-8").replace("# [[fins]]", "[[fins]]")
    typed = {"name": '"Evening"', "length_waterline_m": "44.0", "beam_waterline_m": "9.0",
             "draught_m": "2.8", "natural_period_s": "7.8", "area_m2": "2.0",
             "speed_kn": "[8.0, 12.0, 14.0]", "fuel_l_per_h": "[62.0, 205.0, 340.0]",
             "roll_significant_deg": "4.0"}  # fmt: skip
    for key, value in typed.items():
        text = text.replace(f"# {key} =", f"{key} = {value}", 1)
    asked("-o", "asked.toml")
    by_hand = vessel_from_text(text)
    assert replace(by_hand, text="", path="", sha256="") == replace(
        read_vessel(evening / "asked.toml"), text="", path="", sha256=""
    )


def test_the_full_template_is_the_sample_file_with_everything_in_comments():
    """Restored line by line it is the file of the invented yacht, which is tested elsewhere."""
    made = full_template().split("\n[vessel]", 1)[1].splitlines()
    sample = (SAMPLES / "brambling.toml").read_text(encoding="utf-8")
    sample = sample.split("\n[vessel]", 1)[1].splitlines()
    assert len(made) == len(sample)
    blank = 0
    for ours, theirs in zip(made, sample, strict=True):
        code = " ".join(theirs.split("#")[0].split())
        if theirs.startswith("#") or not code:
            assert ours == theirs
        elif code.split()[0] in {key for _, key in NEEDED} and "NEEDED" in ours:
            assert ours.split("#")[1].strip() == f"{code.split()[0]} ="
            blank += 1
        else:
            assert " ".join(ours.removeprefix("# ").split("#")[0].split()) == code
    assert blank == len(NEEDED)
    assert set(tomllib.loads(full_template())) <= set(OPEN)
    assert not any(tomllib.loads(full_template()).values())


def test_every_question_has_its_unit_and_an_existing_key():
    from passage.inputs.vessel.messages import field_at, unit_of

    for one in QUESTIONS:
        _, info = field_at((one.section, one.key))
        assert info is not None, one.key
        unit = unit_of(one.key, info)
        # The gain is asked for in words: degrees for each degree a second.
        if unit in ("m", "t", "s", "m2", "deg", "l/h") and one.key != "rate_gain_s":
            assert f", {unit}" in one.text, one.key
