"""Defaults of options: which file or variable wins, what may have one, and who never looks."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

import passage
from passage.cli.main import group

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
PLAN = ["plan", "western.csv", "--departure", "2026-03-14T06:00Z"]


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A working folder with a vessel, a route and a folder of forecasts."""
    monkeypatch.delenv("PASSAGE_DEFAULTS", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    work = tmp_path / "work"
    (work / "forecasts").mkdir(parents=True)
    for name in ("waves", "wind", "current"):
        shutil.copy(SAMPLES / f"biscay_{name}.nc", work / "forecasts")
        shutil.copy(SAMPLES / f"spring_{name}.nc", work / "forecasts")
    shutil.copy(SAMPLES / "brambling.toml", work / "mine.toml")
    shutil.copy(SAMPLES / "western.csv", work)
    monkeypatch.chdir(work)
    return work


def run(*words):
    return CliRunner().invoke(group, [str(word) for word in words], standalone_mode=False)


def in_json(*words):
    result = run(*PLAN, *words, "--format", "json")
    assert result.exception is None, result.exception
    return json.loads(result.stdout)


def test_a_plan_without_an_option_typed_equals_the_one_typed_in_full(folder):
    typed = ["--vessel", folder / "mine.toml"]
    for name in ("waves", "wind", "current"):
        typed += ["--forecast", folder / "forecasts" / f"biscay_{name}.nc"]
    full = in_json(*typed)
    assert full["provenance"]["defaults"] == []
    (folder / "passage.toml").write_text(
        'vessel = "mine.toml"\nforecast = "forecasts"\n', encoding="utf-8"
    )
    short = in_json()
    assert short["legs"] == full["legs"]
    assert short["totals"] == full["totals"]
    assert short["provenance"]["defaults"] == [
        "vessel = mine.toml, from passage.toml",
        "forecast = forecasts, from passage.toml",
    ]
    assert any("spring_waves.nc is left out" in note for note in short["notes"])


def test_the_command_line_goes_before_variables_before_files(folder, monkeypatch):
    user = Path(os.environ["XDG_CONFIG_HOME"]) / "passage"
    user.mkdir(parents=True)
    (user / "passage.toml").write_text(
        'vessel = "/nowhere.toml"\nhold = "ground"\nforecast = "/nowhere/*.nc"\nminutes = 30\n',
        encoding="utf-8",
    )
    (folder / "passage.toml").write_text(
        'vessel = "mine.toml"\nforecast = ["forecasts/biscay_*.nc"]\n[plan]\nhold = "fuel"\n',
        encoding="utf-8",
    )
    options = in_json()["provenance"]["options"]
    assert (options["hold"], options["minutes"]) == ("fuel", 30.0)
    monkeypatch.setenv("PASSAGE_HOLD", "water")
    assert in_json()["provenance"]["options"]["hold"] == "water"
    monkeypatch.setenv("PASSAGE_PLAN_HOLD", "fuel")
    assert in_json()["provenance"]["options"]["hold"] == "fuel"
    assert in_json("--hold", "water")["provenance"]["options"]["hold"] == "water"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('vesel = "a"', "vesel: takes no default. Did you mean vessel?"),
        ('output = "a"', "output: takes no default. Defaults may be given for vessel"),
        ("force = true", "force: takes no default"),
        ("[plam]\nhold = 1", "[plam] is not a command. Did you mean plan?"),
        ("vessel = 3", "vessel: must be a file name in quotes"),
        ("vessel = ", "cannot be read as TOML"),
        ('hold = ["water", "fuel"]', "must be one value, not a list"),
        # The name of a command may be that of an option of another: no table then.
        ('record = "r.nc"\nvesel = "a"', "vesel: takes no default"),
    ],
)
def test_invalid_defaults_are_refused(folder, text, words):
    (folder / "passage.toml").write_text(text, encoding="utf-8")
    result = run(*PLAN)
    assert words in str(result.exception)


def test_all_faults_of_a_file_are_in_one_message(folder):
    lines = ['vesel = "a"', "hold = 3", 'forecast = "gone.nc"', "[pln]", "hold = 3"]
    (folder / "passage.toml").write_text("\n".join(lines), encoding="utf-8")
    text = str(run(*PLAN).exception)
    words = ["mean vessel?", "mean plan?", "hold = '3': '3' is not one of", "gone.nc is not there"]
    assert [word for word in words if word not in text] == []
    assert len(text.splitlines()) == len(words)


def test_a_missing_file_of_the_defaults_is_named_beside_a_refused_value(folder):
    lines = ['vessel = "gone.toml"', 'forecast = "gone.nc"', 'minutes = "many"']
    (folder / "passage.toml").write_text("\n".join(lines), encoding="utf-8")
    text = run(*PLAN).exception.format_message()
    assert [word for word in ("gone.toml is", "gone.nc is", "'many'") if word not in text] == []


def test_a_bad_value_is_refused_as_if_typed(folder):
    (folder / "passage.toml").write_text(
        'vessel = "mine.toml"\nforecast = "forecasts"\nminutes = "many"\n', encoding="utf-8"
    )
    assert "'many' is not a number" in str(run(*PLAN).exception)


def test_help_works_with_a_broken_defaults_file(folder):
    (folder / "passage.toml").write_text("vessel = ", encoding="utf-8")
    assert run("plan", "--help").exception is None


def test_defaults_off_reads_nothing(folder, monkeypatch):
    (folder / "passage.toml").write_text('vessel = "mine.toml"\n', encoding="utf-8")
    monkeypatch.setenv("PASSAGE_DEFAULTS", "off")
    assert "vessel" in str(run(*PLAN).exception)


def test_a_season_does_not_take_the_default_forecast(folder):
    (folder / "passage.toml").write_text(
        'vessel = "mine.toml"\nforecast = "forecasts"\n', encoding="utf-8"
    )
    shown = json.loads(run("defaults", "--json").stdout)["commands"]
    assert set(shown["season"]) == {"vessel"}
    assert set(shown["plan"]) == {"vessel", "forecast"}
    (folder / "passage.toml").write_text('[season]\nforecast = "years.nc"\n', encoding="utf-8")
    shown = json.loads(run("defaults", "--json").stdout)["commands"]
    assert shown["season"]["forecast"]["value"] == ["years.nc"]


def test_defaults_are_shown_with_their_source(folder, monkeypatch):
    monkeypatch.setenv("PASSAGE_VESSEL", "other.toml")
    (folder / "passage.toml").write_text('vessel = "mine.toml"\n', encoding="utf-8")
    text = run("defaults").stdout
    assert "vessel = other.toml, from PASSAGE_VESSEL" in text
    assert "passage.toml: read" in text


def test_what_a_command_would_refuse_is_shown_beside_the_defaults(folder):
    (folder / "passage.toml").write_text(
        'vessel = "gone.toml"\nforecast = "forecasts"\nhold = "wter"\nminutes = 900\n'
        'fins = "absent"\n',
        encoding="utf-8",
    )
    text = run("defaults").stdout.split("Refused when a command takes them")[1]
    assert len(text.strip().splitlines()) == 3
    assert "gone.toml is not there" in text
    assert "900 min is too large" in text
    assert "'wter' is not one of" in text
    assert len(json.loads(run("defaults", "--json").stdout)["refused"]) == 3
    # A word of no command is refused by those that take the option; it was passed over.
    result = CliRunner().invoke(group, PLAN)
    assert result.exit_code == 2
    assert "'wter'" in result.stderr
    (folder / "passage.toml").write_text('vessel = "mine.toml"\n', encoding="utf-8")
    assert "Refused" not in run("defaults").stdout


def test_an_output_in_the_folder_of_forecasts_never_overwrites_one(folder):
    (folder / "passage.toml").write_text(
        'vessel = "mine.toml"\nforecast = "forecasts"\n', encoding="utf-8"
    )
    target = folder / "forecasts" / "biscay_waves.nc"
    before = target.read_bytes()
    result = run(*PLAN, "-o", target, "--force")
    assert "is the file given as --forecast" in str(result.exception)
    assert target.read_bytes() == before
    beside = folder / "forecasts" / "plan.txt"
    assert run(*PLAN, "-o", beside).exception is None
    assert beside.exists()


def test_python_functions_take_no_defaults(folder):
    (folder / "passage.toml").write_text('hold = "fuel"\n', encoding="utf-8")
    result = passage.plan(
        "western.csv", "mine.toml", "forecasts", departure="2026-03-14T06:00Z", map_times=0
    )
    assert result.to_dict()["provenance"]["options"]["hold"] == "water"
