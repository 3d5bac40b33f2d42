"""Spells of weather, the interval of a share, calendar groups and what closes departures."""

import numpy as np
import pytest

from passage.planning.season.calendar import (
    CALM,
    grouped,
    hours_of,
    ranked,
    weeks_of,
    years_of,
)
from passage.planning.season.spells import (
    LEAST_H,
    USUAL_H,
    few,
    mean_interval,
    share_interval,
    spell_hours,
    spells_of,
)
from passage.planning.season.stats import closed_by, closed_where, statistics
from passage.planning.voyage.limits import LIMIT_KEYS

HOUR, DAY = 3600.0, 86400.0
STEP_H = 6.0


def time_of(year, month=1, day=1, hour=0):
    return float(np.datetime64(f"{year}-{month:02d}-{day:02d}T{hour:02d}", "s").astype(float))


def weather(rng, n, memory_h):
    """A number that forgets itself over ``memory_h`` (autoregressive of the first order)."""
    a = np.exp(-STEP_H / memory_h)
    shocks = rng.normal(0.0, np.sqrt(1.0 - a * a), n)
    shocks[0] = rng.normal()
    x = np.empty(n)
    x[0] = shocks[0]
    for i in range(1, n):
        x[i] = a * x[i - 1] + shocks[i]
    return x


def test_spell_of_known_memory():
    # 1 + 2 sum a^k = (1 + a) / (1 - a) for autoregression of the first order.
    rng = np.random.default_rng(3)
    n = 4 * 365 * 20
    time = time_of(2000) + STEP_H * HOUR * np.arange(n)
    a = np.exp(-STEP_H / 40.0)
    expected = STEP_H * (1.0 + a) / (1.0 - a)
    found = spell_hours(weather(rng, n, 40.0), time, np.ones(n))
    # The spread of ten such estimates, from a run of this test with other seeds, is 5 %.
    assert found == pytest.approx(expected, rel=0.15)


def test_seasons_are_no_spells():
    n = 4 * 365 * 3
    time = time_of(2001) + STEP_H * HOUR * np.arange(n)
    month = np.arange(n) // (n // 12 + 1)
    values = np.random.default_rng(1).normal(size=n) + 50.0 * month
    assert spell_hours(values, time, month) == LEAST_H


def test_short_data_take_the_usual_spell():
    time = time_of(2001) + STEP_H * HOUR * np.arange(20)
    assert spell_hours(np.arange(20.0), time, np.ones(20)) == USUAL_H
    assert spell_hours([1.0], [0.0], [1]) == USUAL_H


def test_interval_holds_the_truth_as_often_as_it_says():
    """Share of 0.3 of a weather of 40 h memory, 90 days each: nine in ten intervals hold it."""
    rng = np.random.default_rng(11)
    n, held, runs = 4 * 90, 0, 300
    time = STEP_H * HOUR * np.arange(n)
    # The 30 % point of a normal variable.
    level = -0.5244005
    spell = spells_of(time, 80.0)
    for _ in range(runs):
        low, high = share_interval(weather(rng, n, 40.0) < level, spell)
        held += low <= 30.0 <= high
    # Resampling of some nine stretches is a little too sure: six to nine in a hundred.
    assert 0.80 <= held / runs <= 0.95


def test_independent_departures_agree_with_the_binomial_interval():
    rng = np.random.default_rng(5)
    n = 3000
    true = rng.random(n) < 0.4
    low, high = share_interval(true, np.arange(n))
    half = 1.645 * 100.0 * np.sqrt(true.mean() * (1.0 - true.mean()) / n)
    assert high - low == pytest.approx(2.0 * half, rel=0.15)


def test_equal_departures_leave_an_interval_by_the_number_of_spells():
    spell = np.arange(400) // 20
    low, high = share_interval(np.ones(400, bool), spell)
    assert high == 100.0
    assert (low / 100.0) ** 20 == pytest.approx(0.05, rel=1e-6)
    assert share_interval(np.zeros(400, bool), spell) == pytest.approx((0.0, 100.0 - low), rel=1e-6)


def test_few_spells_leave_no_interval():
    assert share_interval([True, False, True], [0, 0, 1]) is None
    assert mean_interval([1.0, 2.0], [0, 1]) is None
    assert few(19, 10)
    assert few(100, 2)
    assert not few(20, 3)


def test_mean_interval_holds_the_mean():
    rng = np.random.default_rng(2)
    values = rng.normal(7.0, 1.0, 900)
    low, high = mean_interval(values, np.arange(900))
    assert low < values.mean() < high
    assert high - low == pytest.approx(2.0 * 1.645 / 30.0, rel=0.2)


def test_calendar_of_known_days():
    time = [time_of(2020, 12, 31, 18), time_of(2021, 1, 7, 23), time_of(2021, 1, 8)]
    assert weeks_of(time).tolist() == [52, 1, 2]
    assert years_of(time).tolist() == [2020, 2021, 2021]
    assert hours_of(time).tolist() == [18, 23, 0]


def season(years=2):
    """Numbers of one passage every six hours: closed in odd weeks, by roll and sickness."""
    n = 4 * 365 * years
    time = time_of(2001) + STEP_H * HOUR * np.arange(n)
    odd = weeks_of(time) % 2 == 1
    rng = np.random.default_rng(4)
    fill = {"fuel_l": 100.0 + rng.random(n), CALM: np.where(odd, 6.0, 2.0) + rng.random(n)}
    from passage.planning.season.departures import COLUMNS

    numbers = {c.name: fill.get(c.name, np.zeros(n))[None].astype(np.float32) for c in COLUMNS}
    numbers["status"] = np.zeros((1, n), np.int8)
    numbers["within_limits"] = np.where(odd, 0, 1)[None].astype(np.int8)
    both = odd & (np.arange(n) % 3 == 0)
    numbers["limits_broken"] = (np.where(odd, 1, 0) + np.where(both, 8, 0))[None].astype(np.int8)
    return numbers, time


def test_groups_add_up_and_the_best_comes_first():
    numbers, time = season()
    spell = spells_of(time, 48.0)
    weeks = grouped(numbers, 0, weeks_of(time), spell)
    assert sum(g["departures"] for g in weeks) == time.size
    order = ranked(weeks, limits_set=True)
    assert order[0]["group"] % 2 == 0
    assert order[-1]["within_limits_percent"] == 0.0
    calm = ranked(weeks, limits_set=False)
    assert [g[CALM] for g in calm] == sorted(g[CALM] for g in weeks)


def test_reasons_that_rule_out_add_up():
    state = np.array([1, 0, 0, 0, -1], np.int8)
    broken = np.array([0, 1, 8, 9, -1], np.int8)
    keys = [key for _, key in LIMIT_KEYS]
    found = closed_by(state, broken, [keys[0], keys[3]])
    assert found["closed_percent"] == {keys[0]: 50.0, keys[3]: 50.0}
    assert found["closed_alone_percent"] == {keys[0]: 25.0, keys[3]: 25.0}


def test_records_name_the_limits_years_and_spells():
    numbers, time = season()
    records = statistics(numbers, time, [{"route": "a", "speed_kn": 12.0}], None)
    year = records[0]
    closed = 100.0 - year["within_limits_percent"]
    assert year["closed_percent"]["roll_significant_deg"] == pytest.approx(closed, rel=1e-6)
    alone = year["closed_alone_percent"]
    both = year["closed_percent"]["motion_sickness_percent"]
    assert alone["roll_significant_deg"] + both == pytest.approx(closed, rel=1e-6)
    assert [one["year"] for one in year["by_year"]] == [2001, 2002]
    judged = sum(one["judged"] for one in year["by_year"])
    assert judged == year["judged"] == time.size
    assert (
        year["within_low_percent"] <= year["within_limits_percent"] <= year["within_high_percent"]
    )
    assert not year["few"]
    assert year["tank_fuel_l"] == pytest.approx(np.percentile(numbers["fuel_l"], 95), rel=1e-6)


def test_one_departure_is_few():
    numbers, time = season()
    one = {name: values[:, :1] for name, values in numbers.items()}
    record = statistics(one, time[:1], [{"route": "a", "speed_kn": 12.0}], None)[0]
    assert record["few"]
    assert record["within_low_percent"] is None


def test_shares_at_rest_and_under_way_and_their_legs_are_those_of_the_departures():
    # Leg 3 is a stay: over the limit there on departures 1 and 2, on legs 4, 4 and 1 under way on 2
    # to 4; not over on 5; not judged on 6.
    numbers = {
        "within_limits": np.array([[0, 0, 0, 0, 1, -1]], np.int8),
        "leg_over_at_rest_roll": np.array([[3, 3, 0, 0, 0, -1]], np.int16),
        "leg_over_under_way_roll": np.array([[0, 4, 4, 1, 0, -1]], np.int16),
    }
    found = closed_where(numbers, 0, np.ones(6, bool), ["roll"])
    assert found["closed_at_rest_percent"] == {"roll": 40.0}
    assert found["closed_under_way_percent"] == {"roll": 60.0}
    assert found["closed_at_rest_only_percent"] == 20.0
    assert (found["closed_leg_at_rest"], found["closed_leg_under_way"]) == (
        {"roll": 3},
        {"roll": 4},
    )
    assert found["closed_leg_under_way_percent"]["roll"] == pytest.approx(200.0 / 3.0, rel=1e-9)
    none = closed_where(numbers, 0, np.arange(6) == 5, ["roll"])
    assert none["closed_at_rest_percent"] == {}
    assert none["closed_at_rest_only_percent"] is None
