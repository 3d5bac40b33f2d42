"""Legs slower than the speed-fuel points: a law down to idling, named in every plan."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.testing import assert_allclose

import passage
from passage.cli.main import group
from passage.errors import RouteError, VesselError
from passage.physics.fuel.propulsion import SpeedFuelCurve

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
FORECASTS = [SAMPLES / f"biscay_{part}.nc" for part in ("waves", "wind", "current")]
SPEED, FUEL = np.array([3.0, 4.0, 6.0]), np.array([28.0, 62.0, 205.0])
CURVE = SpeedFuelCurve(SPEED, FUEL, 11.0)


def test_below_the_points_fuel_falls_steadily_to_idling_without_a_step_or_kink():
    low = CURVE.slowest_m_s
    speed = np.linspace(1e-3, SPEED[0], 2000)
    found = CURVE.fuel(speed)
    assert np.all(np.diff(found) >= 0.0)
    assert_allclose(found[0], 11.0, rtol=1e-6)
    step = 1e-5
    below, at, above = CURVE.fuel([low - step, low, low + step])
    assert_allclose(below, above, rtol=1e-4)
    assert_allclose((at - below) / step, (above - at) / step, rtol=1e-3)
    assert CURVE.fuel(0.0) == 0.0
    assert np.isnan(CURVE.fuel(np.nan))


def test_at_the_points_and_above_nothing_changes():
    plain = SpeedFuelCurve(SPEED, FUEL)
    speed = np.linspace(plain.slowest_m_s, plain.fastest_m_s, 50)
    assert_allclose(CURVE.fuel(speed), plain.fuel(speed), rtol=0)
    assert np.isnan(plain.fuel(2.0))


def test_idling_above_the_points_is_refused():
    with pytest.raises(ValueError, match="idle_l_per_h"):
        SpeedFuelCurve(SPEED, FUEL, 28.0)


@pytest.fixture
def route(tmp_path):
    """Four hours at 12 kn, then 1 nm at 4 kn."""
    path = tmp_path / "slow.csv"
    path.write_text(
        "name,lat,lon,speed_kn\nA,48.0,-6.5,\nB,47.2,-6.5,12\nC,47.1833,-6.5,4\n",
        encoding="utf-8",
    )
    return path


def planned(route, vessel, **more):
    return passage.plan(
        route, vessel, FORECASTS, departure="2026-03-14T06:00Z", map_times=0, **more
    ).answer


def test_a_slow_leg_is_planned_and_marked(route, tmp_path):
    plan = planned(route, SAMPLES / "brambling.toml")
    slow = plan.legs[1]
    assert 0.0 < slow["fuel_still_water_l"] / slow["hours"] < 28.0
    note = next(n for n in plan.notes if "below the speed-fuel points" in n)
    assert "leg 2: 4 kn" in note
    assert "11.2 l/h idling (estimated" in note
    text = (SAMPLES / "brambling.toml").read_text(encoding="utf-8")
    given = tmp_path / "given.toml"
    given.write_text(text.replace("# idle_fuel", "idle_fuel"), encoding="utf-8")
    other = planned(route, given)
    assert any("11 l/h idling (given)" in n for n in other.notes)
    assert other.legs[0]["fuel_l"] == pytest.approx(plan.legs[0]["fuel_l"], rel=1e-12)
    assert other.legs[1]["fuel_l"] < slow["fuel_l"]


def asked(*words):
    """The JSON of a command on the sample files."""
    files = ["--vessel", SAMPLES / "brambling.toml"]
    for path in FORECASTS:
        files += ["--forecast", path]
    every = [str(word) for word in (*words, *files, "--format", "json")]
    done = CliRunner().invoke(group, every, standalone_mode=False)
    assert done.exception is None, done.exception
    return json.loads(done.stdout)


def test_compare_and_heel_take_slow_legs_at_the_price_of_the_plan_and_say_so(route):
    leave = ["--departure", "2026-03-14T06:00Z"]
    plan = asked("plan", route, *leave, "--draws", "0", "--heel", "leave")
    fuel = [leg["fuel_l"] for leg in plan["legs"]]
    compared = asked("compare", route, *leave, "--heel", "leave")
    (one,) = compared["combinations"]
    assert one["fuel_l"] == pytest.approx(sum(fuel), rel=1e-9)
    heel = asked("heel", route, *leave, "--seconds", "1")
    for answer in (plan, compared, heel):
        assert any("leg 2: 4 kn: below the speed-fuel points" in note for note in answer["notes"])


@pytest.mark.slow
def test_a_season_takes_slow_legs_at_the_price_of_the_plan_and_says_so(route, tmp_path):
    leave = ["--departure", "2026-03-14T06:00Z"]
    plan = asked("plan", route, *leave, "--draws", "0", "--heel", "leave")
    fuel = [leg["fuel_l"] for leg in plan["legs"]]
    days = ["--from", "2026-03-14T06:00Z", "--to", "2026-03-14T06:00Z", "--heel", "leave"]
    season = {
        way: asked("season", route, *days, "-o", tmp_path / way, *flags)
        for way, flags in (("fast", []), ("exact", ["--exact"]))
    }
    # A plan's GM follows the fuel burnt and with it the fins' work; a season holds it.
    for way, close in (("fast", 2e-3), ("exact", 1e-5)):
        found = season[way]["statistics"][0]["fuel_l"][0]
        assert found == pytest.approx(sum(fuel), rel=close)
        assert "leg 2: 4 kn: below the speed-fuel points" in " ".join(season[way]["notes"])


def test_where_fuel_is_held_or_speed_sought_slow_legs_stay_refused(route):
    for more in ({"hold": "fuel"}, {"ease": True}):
        with pytest.raises(RouteError, match="outside the speed-fuel points"):
            planned(route, SAMPLES / "brambling.toml", **more)


def test_an_impossible_idle_fuel_is_refused(tmp_path):
    text = (SAMPLES / "brambling.toml").read_text(encoding="utf-8")
    bad = tmp_path / "bad.toml"
    bad.write_text(
        text.replace("# idle_fuel_l_per_h = 11.0", "idle_fuel_l_per_h = 20.0"), encoding="utf-8"
    )
    with pytest.raises(VesselError, match="at most half of the lowest"):
        passage.read_vessel(bad)
