"""A passage with a hole in its forecast gives what the covered part gives, and says so."""

from __future__ import annotations

import json
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner
from restatement_case import FROM, HOURS, LEAVE_S, SAMPLES, TO, between, passage

from passage.cli.main import group
from passage.inputs.forecast import open_forecast
from passage.planning.compare.compare import CompareOptions, compare
from passage.planning.plan.partial import FUEL_PARTS, known_percent
from passage.planning.plan.plan import plan
from passage.planning.voyage.prepare import PlanOptions
from passage.report.pages.plan import plan_page
from passage.report.text.compare import compare_table
from passage.report.text.verdict_compare import compare_verdict
from passage.report.text.verdict_plan import plan_verdict


@pytest.fixture
def made(make_forecast, maker):
    """Plan with the sea masked north of a latitude."""

    def run(north, legs=2):
        def height(lat, lon, hour):
            return np.where(lat > north, np.nan, 1.6 + 0.0 * hour)

        variables = maker.sea(height) | maker.wind() | maker.current()
        lat = np.arange(48.0, 50.01, 0.125)
        path = make_forecast(variables, hours=HOURS, lat=lat)
        with open_forecast(path) as forecast:
            return plan(passage(between(legs)), forecast, PlanOptions(departure_s=LEAVE_S))

    return run


def test_a_small_hole_extends_sums_and_keeps_the_means(made):
    whole, holed = made(90.0), made(49.75)
    last = holed.legs[-1]
    assert last["coverage"] == "masked"
    assert 80.0 < holed.totals["known_percent"] < 100.0
    assert last["known_percent"] < 100.0
    assert holed.legs[0]["known_percent"] == 100.0
    # The sea is the same everywhere: what is extended is what it would have been.
    np.testing.assert_allclose(holed.totals["fuel_l"], whole.totals["fuel_l"], rtol=2e-3)
    assert last["significant_height_m"] == pytest.approx(1.6, rel=1e-3)
    assert holed.totals["fuel_l"] == pytest.approx(
        sum(leg["fuel_l"] for leg in holed.legs), rel=1e-6
    )
    assert holed.totals["fuel_covered_l"] < holed.totals["fuel_l"]
    assert holed.totals["legs_with_fuel"] == 1
    verdict = plan_verdict(holed)
    assert verdict.state != "within"
    assert "~" in verdict.price
    assert "% known" in verdict.price
    missing = f"{100.0 - last['known_percent']:.0f} % of leg 2 lies where the forecast has no sea"
    assert missing in verdict.why
    assert not holed.fully_covered
    text = " ".join(plan_page(holed).split())
    assert f"leg 2 {last['known_percent']:.0f} % known" in text
    assert "Not known in full" not in plan_page(whole)


def test_a_leg_known_throughout_is_known_to_the_last_digit():
    rng = np.random.default_rng(5)
    for hours in rng.uniform(0.1, 0.4, (200, 7)):
        way = SimpleNamespace(hours=hours)
        evaluation = SimpleNamespace(values={"fuel_l": hours})
        assert known_percent(way, evaluation, np.ones(7, bool)) == 100.0


@pytest.mark.parametrize("legs", [2, 7])
def test_parts_that_are_extended_add_up_to_the_fuel(made, legs):
    holed = made(49.75, legs)
    assert 80.0 < holed.totals["known_percent"] < 100.0
    # Leg by leg, and at once where a leg is hardly known.
    assert (holed.legs[-1]["known_percent"] < 80.0) == (legs == 7)
    parts = sum(holed.totals[name] for name in FUEL_PARTS)
    assert parts == pytest.approx(holed.totals["fuel_l"], rel=1e-6)
    for leg in holed.legs:
        if np.isfinite(leg["fuel_l"]):
            assert sum(leg[name] for name in FUEL_PARTS) == pytest.approx(leg["fuel_l"], rel=1e-6)


def test_a_large_hole_extends_nothing(made):
    holed = made(48.9)
    assert holed.totals["known_percent"] < 80.0
    assert holed.totals["fuel_l"] is None
    assert holed.totals["fuel_covered_l"] > 0.0


def test_the_remedy_is_named_at_the_caution_and_works(make_forecast, maker, tmp_path):
    def height(lat, lon, hour):
        return np.where(lat > 49.7, np.nan, 1.6 + 0.0 * hour)

    lat = np.arange(48.0, 50.01, 0.125)
    variables = maker.sea(height) | maker.wind() | maker.current()
    path = make_forecast(variables, hours=HOURS, lat=lat)
    route = tmp_path / "route.csv"
    route.write_text(f"name,lat,lon\nA,{FROM[0]},{FROM[1]}\nB,{TO[0]},{TO[1]}\n")
    words = ["plan", str(route), "--vessel", str(SAMPLES / "brambling.toml"), "--forecast",
             str(path), "--departure", "2026-03-14T00:30Z", "--speed", "12"]  # fmt: skip

    def answer(*more):
        result = CliRunner().invoke(
            group, [*words, *more, "--format", "json"], standalone_mode=False
        )
        assert result.exception is None, result.exception
        return json.loads(result.stdout)

    holed = answer()
    text = next(c["text"] for c in holed["cautions"] if c["code"] == "coverage_masked")
    remedy = text.split("--nearest-sea-cell ")[1].split()[0]
    assert text.endswith(f"--nearest-sea-cell {remedy} would cover it.")
    mended = answer("--nearest-sea-cell", remedy)
    assert mended["legs"][0]["coverage"] == "nearest_sea_cell"
    assert mended["totals"]["known_percent"] == 100.0
    table = CliRunner().invoke(group, words, standalone_mode=False).stdout
    assert "~" in table
    assert "% known" in table


def test_compare_heads_with_the_routes_it_cannot_judge(make_forecast, maker, tmp_path):
    def height(lat, lon, hour):
        return np.where(lon < -7.2, np.nan, 1.2 + 0.0 * hour)

    path = make_forecast(maker.sea(height) | maker.wind() | maker.current(), hours=HOURS)
    routes = []
    for name, lon in (("west", -7.6), ("mid", -6.6), ("far", -7.9)):
        routes.append(tmp_path / f"{name}.csv")
        routes[-1].write_text(f"name,lat,lon\nA,48.4,-6.5\nB,49.0,{lon}\nC,49.5,-6.5\n")
    words = ["compare", *map(str, routes), "--vessel", str(SAMPLES / "brambling.toml")]
    words += ["--forecast", str(path), "--departure", "2026-03-14T00:30Z", "--speed", "12"]
    result = CliRunner().invoke(group, words, standalone_mode=False)
    assert result.exception is None, result.exception
    assert "2 of 3 routes cannot be judged" in " ".join(result.stdout.split())


def test_compare_extends_as_a_plan_does_and_judges_nothing_by_it(make_forecast, maker, tmp_path):
    def height(lat, lon, hour):
        return np.where(lat > 49.7, np.nan, 1.6 + 0.0 * hour)

    lat = np.arange(48.0, 50.01, 0.125)
    path = make_forecast(maker.sea(height) | maker.wind() | maker.current(), hours=HOURS, lat=lat)
    ready = passage(between(2))
    with open_forecast(path) as forecast:
        one = plan(ready, forecast, PlanOptions(departure_s=LEAVE_S))
        options = CompareOptions((LEAVE_S,), (12.0,))
        found = compare(ready.yacht, [ready.route], forecast, options)
    assert found.totals["fuel_extended_l"][0] == pytest.approx(one.totals["fuel_l"], rel=1e-6)
    assert found.totals["known_percent"][0] == pytest.approx(one.totals["known_percent"], rel=1e-6)
    assert np.isnan(found.totals["fuel_l"][0])
    assert not found.front_open
    assert not found.front.any()
    remedy = next(c.text for c in one.cautions if c.code == "coverage_masked")
    remedy = remedy[remedy.index("--nearest-sea-cell") :]
    verdict = compare_verdict(found)
    assert verdict.state == "unknown"
    assert "% known" in verdict.why
    assert verdict.price == remedy
    assert any(remedy[:-1] in line for why in found.exclusions for line in why.lines)
    table = " ".join(compare_table(found).split())
    assert f"~{one.totals['fuel_l']:,.0f}" in table
    known = np.floor(one.totals["known_percent"])
    assert f"not covered by the forecast ({known:.0f} % known)" in table
