"""From port to port: sheltered ends are in the totals, and marked in every output."""

from __future__ import annotations

import json
from dataclasses import replace

import netCDF4
import numpy as np
import pytest
from click.testing import CliRunner
from restatement_case import FROM, HOURS, LEAVE_S, SAMPLES, TO, between, passage
from schema_tool import schemas

from passage.cli.main import group
from passage.errors import PartialCoverage
from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.harbour import Harbour
from passage.planning.plan.plan import plan
from passage.planning.voyage.prepare import PlanOptions
from passage.report.text.verdict_plan import plan_verdict
from passage.variables import COVERAGE


def height(lat, lon, hour):
    return np.where(lat > 49.75, np.nan, 1.6 + 0.0 * hour)


@pytest.fixture
def port(make_forecast, maker):
    variables = maker.sea(height) | maker.wind() | maker.current()
    return make_forecast(variables, hours=HOURS, lat=np.arange(48.0, 50.01, 0.125))


@pytest.fixture
def words(port, tmp_path):
    route = tmp_path / "route.csv"
    route.write_text(f"name,lat,lon\nA,{FROM[0]},{FROM[1]}\nB,{TO[0]},{TO[1]}\n")
    return [str(route), "--vessel", str(SAMPLES / "brambling.toml"), "--forecast", str(port),
            "--departure", "2026-03-14T00:30Z", "--speed", "12", "--harbour", "15"]  # fmt: skip


def run(*words):
    result = CliRunner().invoke(group, [str(w) for w in words], standalone_mode=False)
    assert result.exception is None, result.exception
    return result


def test_the_open_sea_is_as_without_the_rule_and_the_end_is_calm(port):
    legs = passage(between(2))
    options = PlanOptions(departure_s=LEAVE_S)
    with open_forecast(port) as sea:
        rule = Harbour(15.0, "sheltered", (FROM, TO))
        holed = plan(legs, sea, options)
        whole = plan(legs, sea.with_harbour(rule), replace(options, harbour_nm=15.0))
    assert holed.legs[0] == whole.legs[0]
    codes = whole.points["coverage"]
    calm = codes == COVERAGE.index("sheltered")
    assert np.count_nonzero(calm) > 0
    assert np.all(whole.points["roll_active_rms_deg"][calm] == 0.0)
    assert np.all(whole.points["fuel_waves_l"][calm] == 0.0)
    for name in ("fuel_l", "roll_active_rms_deg"):
        np.testing.assert_array_equal(whole.points[name][~calm], holed.points[name][~calm])
    assert whole.totals["known_percent"] == 100.0
    # Marked: the word of the leg, a caution with the miles, the note, the verdict, provenance.
    assert whole.legs[-1]["coverage"] == "sheltered"
    assert whole.fully_covered
    assert not holed.fully_covered
    (caution,) = [c for c in whole.cautions if c.code == "coverage_sheltered"]
    miles = np.sum(whole.points["distance_nm"][calm])
    assert f"({miles:.1f} nm) is taken as sheltered water" in caution.text
    assert any(note.startswith("harbour: within 15 nm") for note in whole.notes)
    assert "sheltered water without waves, as asked" in plan_verdict(whole).why
    assert whole.provenance["options"]["harbour"] == {"within_nm": 15.0, "sea": "sheltered"}


def test_every_output_says_so(words, tmp_path):
    made = json.loads(run("plan", *words, "--format", "json").stdout)
    assert made["legs"][0]["coverage"] == "sheltered"
    assert schemas.check(made, schemas.schema_of("plan")) == []
    for layout, name in (("sheet", "s.html"), ("html", "p.html")):
        run("plan", *words, "--draws", "0", "--format", layout, "-o", tmp_path / name)
        text = " ".join((tmp_path / name).read_text().split())
        assert "is taken as sheltered water without waves, as asked" in text
    run("plan", *words, "--draws", "0", "--format", "netcdf", "-o", tmp_path / "p.nc")
    with netCDF4.Dataset(tmp_path / "p.nc") as data:
        assert COVERAGE.index("sheltered") in data["coverage"][:]
        assert "sheltered" in data["coverage"].flag_meanings.split()
    table = run("compare", *words, "--draws", "0")
    assert "- harbour: within 15 nm" in table.stdout
    assert "within 15 nm" not in table.stderr
    other = json.loads(run("compare", *words, "--draws", "0", "--format", "json").stdout)
    assert "sheltered" in json.dumps(other["provenance"])
    assert schemas.check(other, schemas.schema_of("compare")) == []
    text = " ".join(run("heel", *words).stdout.split())
    assert "is taken as sheltered water without waves, as asked" in text
    text = run("check", words[4], "--route", words[0], "--departure", words[6],
               "--harbour", "15").stdout  # fmt: skip
    assert "sheltered" in text


@pytest.mark.parametrize("command", ["plan", "compare"])
@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (["--harbour", "15"], "Part of leg 1 is taken as sheltered water without waves, as asked."),
        (["--nearest-sea-cell", "45"], "Part of leg 1 has the sea of the nearest sea cell, as"),
    ],
)
def test_what_was_asked_for_covers_and_is_said(command, asked, says, words):
    strict = [command, *words[:-2], "--strict", "--draws", "0", "--format", "json"]
    result = CliRunner().invoke(group, strict)
    assert isinstance(result.exception, PartialCoverage)
    made = json.loads(run(*strict, *asked).stdout)
    verdict = made["verdict"]
    assert verdict["state"] != "unknown"
    assert says in verdict["why"]
    assert "would cover it" not in json.dumps(made)


def test_more_than_fifteen_miles_are_refused(words):
    result = CliRunner().invoke(group, ["plan", *words[:-1], "16"])
    assert result.exit_code == 2
    assert "0.1 to 15 nm" in result.stderr


def test_a_table_of_defaults_asks_for_it(words, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PASSAGE_DEFAULTS", "on")
    (tmp_path / "passage.toml").write_text("[harbour]\nwithin_nm = 15\n")
    made = json.loads(run("plan", *words[:-2], "--draws", "0", "--format", "json").stdout)
    assert made["legs"][0]["coverage"] == "sheltered"
    assert any("harbour = 15" in one for one in made["provenance"]["defaults"])
    (tmp_path / "passage.toml").write_text("[harbour]\nmiles = 15\n")
    result = CliRunner().invoke(group, ["plan", *words[:-2]])
    assert result.exit_code == 2
    assert "[harbour] miles: is not a key here" in result.stderr
