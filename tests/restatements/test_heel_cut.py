"""Heel of one passage put in other ways, from files: cut, mirrored, without limits, planned."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from numpy.testing import assert_allclose
from restatement_case import LEAVE_S, between, vessel

import passage
from passage.inputs.route import Waypoint, build_route
from passage.planning.heel import heel

#: On the meridian, so that east and west mirror each other.
START, END = (48.05, -7.0), (49.95, -7.0)
#: Segments are laid leg by leg, so their ends move when legs are cut.
SHARE, LITRES = 0.01, 0.5


def route(shares=()):
    """The passage, cut at shares of its length; no transfer where it is cut."""
    places = between(100, START, END)
    cuts = [places[round(100 * share)] for share in shares]
    way = [
        Waypoint(name=f"P{i}", lat_deg=lat, lon_deg=lon, kind="rhumb",
                 transfer=False if (lat, lon) in cuts else None)
        for i, (lat, lon) in enumerate((START, *cuts, END))
    ]  # fmt: skip
    return build_route("made", "made", way)


@pytest.fixture(scope="module")
def seas(tmp_path_factory):
    """Beam wind that changes side half-way, and its mirror; a light sea from ahead."""
    from tests import forecast_maker as maker

    def u(sign):
        return lambda lat, lon, hour: sign * 14.0 * np.clip(5.0 - hour, -1.0, 1.0) + 0 * lat * lon

    where = tmp_path_factory.mktemp("sea")
    return {
        sign: maker.write_forecast(
            where / f"sea{sign}.nc",
            maker.sea(0.5, 5.0, 0.0) | maker.wind(u(sign), 0.0),
            hours=np.arange(0.0, 16.0, 1.0),
        )
        for sign in (1, -1)
    }


def limited(limit):
    """The sample yacht, upright, with this limit of heel under way."""
    ship = vessel()
    one = replace(ship.limits.underway, steady_heel_deg=limit)
    return replace(ship, limits=replace(ship.limits, underway=one))


@pytest.fixture(scope="module")
def asked(seas):
    @cache
    def of(shares=(), limit=1.0, sign=1):
        return passage.heel(
            route(shares), limited(limit), seas[sign], departure=LEAVE_S, speed_kn=12, draws=0
        ).to_dict()

    return of


def ways(made):
    return {one["name"]: one for one in made["policies"]}


@pytest.mark.parametrize(("shares", "limit"), [((0.5,), 1.0), ((0.13, 0.71), 1.0), ((0.3,), None)])
def test_cutting_the_leg_changes_no_way_and_no_advice(asked, shares, limit):
    whole, cut = ways(asked(limit=limit)), ways(asked(shares, limit))
    assert whole.keys() == cut.keys()
    for name, one in whole.items():
        assert_allclose(cut[name]["total_l"], one["total_l"], rtol=SHARE, atol=LITRES)
        assert cut[name]["advised"] == one["advised"]
        assert len(cut[name]["moves"]) == len(one["moves"])


def test_wind_that_changes_side_is_held_both_ways_not_averaged(asked):
    made = next(one for one in asked()["cards"] if one["way"] == "leave it")
    assert made["heel_left_port_deg"] > 1.5
    assert_allclose(made["heel_left_starboard_deg"], made["heel_left_port_deg"], rtol=0.01)


def test_a_mirrored_sea_mirrors_every_way(asked):
    here, there = asked(), asked(sign=-1)
    for name, one in ways(here).items():
        other = ways(there)[name]
        assert_allclose(other["total_l"], one["total_l"], rtol=1e-6)
        assert_allclose(other["heel_left_worst_deg"], -one["heel_left_worst_deg"], rtol=1e-6)
        assert other["advised"] == one["advised"]


def test_the_plan_of_the_advice_burns_what_the_advice_says(asked, seas):
    advised = next(one for one in asked()["policies"] if one["advised"])
    assert advised["fins_rule"] == "to the limit"
    made = passage.plan(
        route(), limited(1.0), seas[1], departure=LEAVE_S, speed_kn=12, heel="limit",
        fins="needed",
    )  # fmt: skip
    assert_allclose(made.to_dict()["totals"]["fuel_l"], advised["passage_fuel_l"], rtol=1e-3)


def test_a_forecast_that_covers_few_draws_gives_no_odds_and_says_so(seas, monkeypatch):
    # Draws fall off the forecast where it ends soon after the plan's own arrival.
    known = heel.drawn_problems
    monkeypatch.setattr(heel, "drawn_problems", lambda *given: known(*given)[:19])
    made = passage.heel(
        route(), limited(1.0), seas[1], departure=LEAVE_S, speed_kn=12, draws=24
    ).to_dict()
    assert made["odds"] is None
    (said,) = [one for one in made["cautions"] if one["code"] == "odds_too_few"]
    assert "covers 19 of 24 draws" in said["text"]
    advised = next(one for one in made["policies"] if one["advised"])
    assert advised["fins_rule"] == "to the limit"


@pytest.mark.parametrize(("wind_to", "waves_to"), [(16, 8), (8, 16)])
def test_a_forecast_that_ends_on_the_way_gives_no_odds_and_no_go(tmp_path, wind_to, waves_to):
    """What is missing improves nothing: the state is not known, and no share is counted."""
    from tests import forecast_maker as maker

    parts = [(maker.sea(0.5, 5.0, 0.0), waves_to), (maker.wind(5.0, 0.0), wind_to)]
    files = [
        maker.write_forecast(tmp_path / f"{i}.nc", one, hours=np.arange(0.0, to, 1.0))
        for i, (one, to) in enumerate(parts)
    ]
    short = passage.heel(
        route(), limited(1.5), files, departure=LEAVE_S, speed_kn=12, draws=20, minutes=60
    ).to_dict()
    assert short["verdict"]["state"] == "unknown"
    assert short["odds"] is None
    assert "odds_unknown" in {one["code"] for one in short["cautions"]}
    assert not any(one["within_limit"] for one in short["policies"])
    words = short["verdict"]["do"]
    assert words.startswith("As far as the forecast" if waves_to == 8 else "Without wind heel")
