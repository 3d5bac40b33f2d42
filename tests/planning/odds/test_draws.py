"""Draws of a passage: no error gives the plan, stated odds come true, older runs widen."""

from dataclasses import replace

import numpy as np
import pytest

from passage.planning.odds import drawn as drawn_module
from passage.planning.odds.drawn import DIMENSIONS, DrawnForecast
from passage.planning.odds.draws import Sailing, run_hour, sail_draws
from passage.planning.odds.error_model import ErrorModel
from passage.planning.plan.plan import PlanOptions, plan, prepare, sail
from passage.planning.voyage.rolling import Doubt
from tests.planning_scenario import UniformForecast, route, vessel

DAY_S = 86400.0
LEAVE_S = 1.78e9
POINTS = ((45.0, -8.0), (46.0, -8.0), (46.5, -7.2))
#: Columns of the draws that odds are counted on.
JUDGED = ("fuel_l", "roll_active_significant_deg", "motion_sickness_percent", "hours")


@pytest.fixture(scope="module")
def ready():
    return prepare(vessel(), route(*POINTS), options())


def options(**more):
    return PlanOptions(departure_s=LEAVE_S, speed_kn=12.0, **more)


def sea(height_m=2.0, period_s=8.0, from_deg=290.0):
    return UniformForecast(height_m, period_s, from_deg, wind=(6.0, -3.0))


def draws_of(ready, forecast, model, count, *, run_s=LEAVE_S - DAY_S / 2, normals=None):
    sailing = sail(ready, forecast, options())[3]
    return sail_draws(ready, DrawnForecast(forecast, model, run_s, count, normals), sailing)


def test_without_error_or_doubt_every_draw_is_the_plan(ready):
    forecast = sea()
    still = np.zeros((3, DIMENSIONS))
    made = draws_of(ready, forecast, ErrorModel(), 3, normals=still)
    planned = plan(ready, forecast, options())
    for name in JUDGED:
        expected = np.array([leg[name] for leg in planned.legs])
        assert made.legs[name] == pytest.approx(np.tile(expected, (3, 1)), rel=1e-9)


def test_without_forecast_error_the_model_alone_spreads(ready):
    made = draws_of(ready, sea(), ErrorModel().scaled(0.0), 16)
    assert np.ptp(made.legs["fuel_l"].sum(axis=1)) > 0.0
    # She meets the same sea in every draw.
    assert np.ptp(made.legs["significant_height_m"], axis=0) == pytest.approx(0.0, abs=1e-12)


def test_older_runs_spread_more(ready):
    spread = []
    for days in (0.0, 2.0, 6.0):
        made = draws_of(ready, sea(), ErrorModel(), 64, run_s=LEAVE_S - days * DAY_S)
        fuel = made.legs["fuel_l"].sum(axis=1)
        spread.append(np.subtract(*np.percentile(fuel, [90, 10])))
    assert spread[0] < spread[1] < spread[2]


def test_the_first_draws_of_more_are_the_same_draws(ready):
    few, more = (draws_of(ready, sea(), ErrorModel(), n) for n in (16, 32))
    assert more.legs["fuel_l"][:16] == pytest.approx(few.legs["fuel_l"], rel=1e-12)


@pytest.mark.slow
def test_stated_intervals_and_odds_hold(ready):
    """6,000 passages whose truth comes from the error model, by other numbers.

    With so many draws and truths chance moves a share by about one percent; with the usual
    64 draws the ends of an interval are themselves off by some percent.
    """
    rng = np.random.default_rng(11)
    seas = [(1.5, 6.5, 270.0), (2.5, 8.0, 310.0)]
    truths = 3000
    inside = {50: [], 80: [], 95: []}
    stated, came_true = [], []
    for given in seas:
        made = draws_of(ready, sea(*given), ErrorModel(), 4096)
        truth = draws_of(
            ready, sea(*given), ErrorModel(), truths,
            normals=rng.standard_normal((truths, DIMENSIONS)),
        )  # fmt: skip
        for name in ("fuel_l", "roll_active_significant_deg"):
            reduce = np.sum if name == "fuel_l" else np.max
            drawn, true = (reduce(one.legs[name], axis=1) for one in (made, truth))
            for share, hits in inside.items():
                low, high = np.percentile(drawn, [50 - share / 2, 50 + share / 2])
                hits.append(np.mean((true >= low) & (true <= high)))
            limit = np.percentile(drawn, 70)
            stated.append(np.mean(drawn <= limit))
            came_true.append(np.mean(true <= limit))
    for share, hits in inside.items():
        assert 100.0 * np.mean(hits[0::2]) == pytest.approx(share, abs=2.5), "fuel"
        assert 100.0 * np.mean(hits[1::2]) == pytest.approx(share, abs=2.5), "roll"
    assert np.mean(came_true) == pytest.approx(np.mean(stated), abs=0.025)


@pytest.mark.parametrize(("model", "tolerance"), [(ErrorModel(), 8.0), (None, 0.0)])
def test_cutting_a_leg_leaves_the_odds(model, tolerance):
    """One leg or two along the same line; exact where the error is one all the way.

    Otherwise what is judged is a little different, as in a plan: the means of the halves
    and not of the whole. Legs that erred independently would leave 25 of 50 %.
    """
    if model is None:
        # Full hours of sea and one error: every point of a leg is like the leg.
        model = replace(ErrorModel(), correlation_h=1e9, correlation_km=1e9,
                        lead_h=(0.0,), height_share=(0.2,), period_s=(1.0,),
                        direction_deg=(15.0,), wind_m_s=(2.0,), current_m_s=(0.1,))  # fmt: skip
    odds, limit = [], None
    for points in (((45.0, -8.0), (47.0, -8.0)), ((45.0, -8.0), (46.0, -8.0), (47.0, -8.0))):
        ready = prepare(vessel(), route(*points), options())
        made = draws_of(ready, sea(), model, 128)
        worst = np.max(made.legs["roll_active_significant_deg"], axis=1)
        if not odds:
            limit = np.median(worst) + 1e-6
        odds.append(100.0 * np.mean(worst <= limit))
    assert odds[0] == 50.0
    assert odds[1] == pytest.approx(odds[0], abs=tolerance)


def test_missing_wind_stays_missing(ready):
    calm = UniformForecast(2.0, 8.0, 290.0)
    made = DrawnForecast(calm, ErrorModel(), LEAVE_S, 4).sample(45.0, -8.0, LEAVE_S, np.arange(4))
    assert np.isnan(made.wind_u_m_s).all()
    assert np.isfinite(made.height_m).all()


def test_a_period_is_never_off_by_more_than_its_share(ready):
    short = UniformForecast(0.3, 2.5, 290.0)
    made = DrawnForecast(short, ErrorModel(), LEAVE_S - 5 * DAY_S, 256)
    period = made.sample(45.0, -8.0, LEAVE_S, np.arange(256)).peak_period_s
    assert np.std(period / 2.5) == pytest.approx(ErrorModel().period_share_most, rel=0.05)
    assert period.min() > 0.5 * 2.5


def test_points_in_parts_are_the_points_at_once(monkeypatch):
    made = DrawnForecast(sea(), ErrorModel(), LEAVE_S, 8)
    lat, which = np.linspace(44.0, 48.0, 9), np.arange(8)[:, None]
    whole = made.sample(lat, -8.0, LEAVE_S, which).height_m
    monkeypatch.setattr(drawn_module, "_AT_ONCE", 7)
    parts = made.sample(lat, -8.0, LEAVE_S, which).height_m
    assert parts == pytest.approx(whole, rel=1e-12)


def test_age_counts_from_the_forecast_where_no_run_is_given():
    forecast = sea()
    forecast.time_from_s = LEAVE_S - DAY_S
    assert run_hour(forecast, LEAVE_S) == (LEAVE_S - DAY_S, False)


@pytest.mark.slow
def test_draws_that_overload_the_engines_are_slowed(ready):
    her = vessel()
    points = plan(ready, sea(), options()).points
    most = 1.02 * float(np.max(points["fuel_main_engines_l"] / points["hours"]))
    weak = replace(her, propulsion=replace(her.propulsion, max_fuel_l_per_h=most))
    slow = prepare(weak, route(*POINTS), options())
    forecast = sea()
    sailing = sail(slow, forecast, options())[3]
    assert isinstance(sailing, Sailing)
    made = sail_draws(slow, DrawnForecast(forecast, ErrorModel(), LEAVE_S - 3 * DAY_S, 32), sailing)
    hours = made.legs["hours"].sum(axis=1)
    free = draws_of(ready, forecast, ErrorModel(), 32, run_s=LEAVE_S - 3 * DAY_S)
    assert np.any(hours > free.legs["hours"].sum(axis=1) + 0.01)
    assert np.all(made.legs["fuel_l"] <= free.legs["fuel_l"] * 1.2)


def test_no_doubt_is_the_default():
    assert Doubt() == Doubt(gm=1.0, slope=1.0, damping=1.0, wind=1.0, waves=0.0)


def test_fins_that_hold_a_heel_hold_it_in_every_draw():
    """A control holds the angle, whatever the metacentric height of a draw."""
    her = vessel()
    her = replace(her, loading=replace(her.loading, list_deg=1.5))
    limit = her.limits.underway.steady_heel_deg
    assert 0.0 < limit < 1.5
    chosen = options(heel="limit")
    ready = prepare(her, route(*POINTS), chosen)
    forecast = UniformForecast(0.5, 6.0, 290.0)
    sailing = sail(ready, forecast, chosen)[3]
    made = sail_draws(ready, DrawnForecast(forecast, ErrorModel(), LEAVE_S, 16), sailing)
    assert made.legs["steady_heel_deg"] == pytest.approx(limit, abs=0.03)
