"""A leg cut in two opens and closes nothing, in any command; all of them judge alike."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
from restatement_case import LEAVE_S, between, passage

from passage.inputs.forecast import open_forecast
from passage.planning.compare.cell import CellTask, make_cells
from passage.planning.compare.choice import check_limits
from passage.planning.odds.count import count_odds
from passage.planning.odds.drawn import DrawnForecast
from passage.planning.odds.draws import run_hour, sail_draws
from passage.planning.odds.error_model import ErrorModel
from passage.planning.plan.plan import plan, sail
from passage.planning.season.departures import OUTSIDE, departure_numbers
from passage.planning.season.direct import direct_points
from passage.planning.voyage.limits import LIMIT_KEYS
from passage.planning.voyage.prepare import PlanOptions

#: Segments of at most 20 minutes are laid leg by leg, so their ends move when legs do.
ENDS = 5e-3
LEGS = (1, 2, 7)
#: Above the mean of the passage and below its worst hour.
ROLL_DEG = 2.9
OPTIONS = PlanOptions(departure_s=LEAVE_S)


def rising(lat, lon, hour):
    """A beam swell that is high for a while in the middle of the way. [m]"""
    return 0.8 + 2.2 * np.exp(-(((hour - 5.5) / 1.5) ** 2)) + 0.0 * lat + 0.0 * lon


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    from tests import forecast_maker as maker

    where = tmp_path_factory.mktemp("sea") / "sea.nc"
    variables = maker.sea(rising, 7.0, 300.0) | maker.wind(5.0, -2.0)
    return maker.write_forecast(where, variables, hours=np.arange(0.0, 16.0, 1.0))


@lru_cache(maxsize=4)
def limited(legs):
    """The passage in so many legs, with one limit that its worst hour breaks."""
    ready = passage(between(legs))
    ship = ready.vessel
    one = replace(
        ship.limits.underway, roll_significant_deg=ROLL_DEG, motion_sickness_percent=None,
        vertical_acceleration_rms_g=None, lateral_acceleration_rms_g=0.2,
    )  # fmt: skip
    ship = replace(ship, limits=replace(ship.limits, underway=one))
    ready.yacht.vessel = ship
    return replace(ready, vessel=ship)


@pytest.fixture(scope="module")
def told(path):
    """What each way of cutting gives in each command: roll of the worst hour, hours, verdict."""
    made = {}
    with open_forecast([path]) as forecast:
        for legs in LEGS:
            ready = limited(legs)
            one = plan(ready, forecast, OPTIONS)
            rows = [row for row in one.judged if row["limit_key"] == "roll_significant_deg"]
            worst = max(rows, key=lambda row: row["worst"])
            made["plan", legs] = {
                "worst": one.totals["worst_window_roll_significant_deg"],
                "over_h": sum(row["hours_over"] for row in rows),
                "exceeded": {row["limit_key"] for row in one.judged if row["hours_over"] > 0.0},
                "said": bool(one.limits_exceeded),
                "when": np.datetime64(worst["from_utc"][:-1]),
                "leg_mean": max(leg["roll_active_significant_deg"] for leg in one.legs),
                "hours": one.totals["hours"],
            }
            task = CellTask(0, ready.route, ready.track, 12.0, "12 kn")
            cell = make_cells(ready.yacht, task, forecast, np.array([LEAVE_S]), ("active",))[0]
            checks = check_limits(ready.vessel, ready.route, cell)
            of = dict(LIMIT_KEYS)
            made["compare", legs] = {
                "worst": float(cell.legs["window_roll_significant_deg"].max()),
                "over_h": float(cell.hours_over_limit[0]),
                "exceeded": {of[check.name] for check in checks if check.exceeded.any()},
            }
            points = direct_points(ready, forecast, np.array([LEAVE_S]))
            numbers = departure_numbers(
                ready.vessel,
                ready.track,
                points.values,
                points.fin_codes,
                points.status,
                points.flow_gaps,
            )
            made["season", legs] = {
                "worst": float(numbers["worst_window_roll_significant_deg"][0]),
                "over_h": float(numbers["roll_over_limit_h"][0]),
                "within": int(numbers["within_limits"][0]),
            }
    return made


def test_the_case_depends_on_the_cut_when_judged_by_leg_means(told):
    means = [told["plan", legs]["leg_mean"] for legs in LEGS]
    assert means[0] < ROLL_DEG < means[-1]
    assert 0.5 < told["plan", 1]["over_h"] < 0.8 * told["plan", 1]["hours"]


@pytest.mark.parametrize("legs", LEGS)
@pytest.mark.parametrize("command", ["plan", "compare", "season"])
def test_cut_or_whole_the_worst_hour_and_the_hours_over_are_the_same(told, command, legs):
    one, whole = told[command, legs], told["plan", 1]
    assert one["worst"] == pytest.approx(whole["worst"], rel=ENDS)
    # How fast the mean crosses the limit makes of half a percent of roll so much time.
    assert one["over_h"] == pytest.approx(whole["over_h"], abs=0.05)


@pytest.mark.parametrize("legs", LEGS)
def test_cut_or_whole_the_same_limits_are_exceeded(told, legs):
    assert told["plan", legs]["exceeded"] == {"roll_significant_deg"}
    assert told["plan", legs]["said"]
    assert told["compare", legs]["exceeded"] == {"roll_significant_deg"}
    assert told["season", legs]["within"] == OUTSIDE
    # Times are given to the minute; segments are up to 20 of them long.
    apart = told["plan", legs]["when"] - told["plan", 1]["when"]
    assert abs(apart) <= np.timedelta64(10, "m")


def test_cutting_a_leg_leaves_the_odds_unchanged(path):
    kept = []
    with open_forecast([path]) as forecast:
        for legs in (1, 7):
            ready = limited(legs)
            sailing = sail(ready, forecast, OPTIONS)[3]
            run_s, _ = run_hour(forecast, LEAVE_S)
            drawn = sail_draws(ready, DrawnForecast(forecast, ErrorModel(), run_s, 32), sailing)
            worst = drawn.legs["window_roll_significant_deg"]
            limit = float(np.median(worst.max(axis=1))) if not kept else kept[0][2]
            odds = count_odds(
                {"roll_significant_deg": worst}, {"roll_significant_deg": np.full(legs, limit)}
            )
            assert odds is not None
            kept.append((worst.max(axis=1), odds.whole, limit))
    # Errors are drawn as fields over place and time, so middles of segments move there too.
    np.testing.assert_allclose(kept[1][0], kept[0][0], rtol=2.0 * ENDS)
    assert 0.0 < kept[0][1] < 100.0
    # One draw may lie within half a percent of the limit.
    assert kept[1][1] == pytest.approx(kept[0][1], abs=100.0 / 32 + 1e-9)
