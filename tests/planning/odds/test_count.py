"""Counting draws: what is unknown is never kept, and small counts are not certain."""

import numpy as np
import pytest

from passage.planning.odds.count import (
    count_odds,
    differs,
    interval_percent,
    model_share_percent,
    percentiles,
    reaches,
)

NAN = np.nan


def test_odds_by_hand():
    roll = np.array([[3.0, 5.0], [3.0, 3.0], [5.0, 3.0], [-3.0, 4.0]])
    heel = np.array([[0.0, 0.0], [0.0, -2.0], [0.0, 0.0], [0.0, 0.0]])
    odds = count_odds(
        {"roll": roll, "heel": heel}, {"roll": np.array([4.0, 4.0]), "heel": np.array([1.0, 1.0])}
    )
    assert odds.by_limit == {"roll": 50.0, "heel": 75.0}
    assert odds.by_leg == (75.0, 50.0)
    # Only the last draw keeps both on both legs; 0.75 x 0.5 would be wrong.
    assert odds.whole == 25.0
    assert odds.kept.tolist() == [False, False, False, True]


def test_a_leg_without_a_limit_is_free():
    odds = count_odds({"roll": np.array([[9.0, 1.0]])}, {"roll": np.array([NAN, 4.0])})
    assert odds.by_leg == (100.0, 100.0)
    assert count_odds({"roll": np.array([[9.0]])}, {"roll": np.array([NAN])}) is None


def test_missing_in_all_draws_is_unknown_missing_in_some_is_not_kept():
    roll = np.array([[3.0, NAN], [3.0, NAN]])
    odds = count_odds({"roll": roll}, {"roll": np.array([4.0, 4.0])})
    assert odds.by_leg == (100.0, None)
    assert odds.whole is None
    assert odds.by_limit == {"roll": None}
    some = count_odds({"roll": np.array([[3.0], [NAN]])}, {"roll": np.array([4.0])})
    assert some.whole == 50.0


def test_all_of_twenty_is_not_certain():
    # Clopper and Pearson, the case of no failure: low end (tail)^(1/n).
    low, high = interval_percent(100.0, 20)
    assert low == pytest.approx(100.0 * 0.05 ** (1 / 20), rel=1e-6)
    assert high == 100.0
    assert interval_percent(0.0, 20)[1] == pytest.approx(100.0 - low, rel=1e-6)


def test_more_draws_give_a_narrower_interval():
    widths = [np.ptp(interval_percent(75.0, n)) for n in (20, 64, 256)]
    assert widths[0] > widths[1] > widths[2] > 0.0


def test_percentiles_are_missing_where_any_draw_is():
    # The k-th of n for k / (n + 1): the ends of nine are their 10 and 90 %.
    nine = [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]
    assert percentiles(nine) == pytest.approx((1.0, 5.0, 9.0), rel=1e-6)
    assert percentiles(nine[:5]) == pytest.approx((1.0, 3.0, 5.0), rel=1e-6)
    assert percentiles([1.0, NAN]) == (None, None, None)


def test_share_of_the_model_in_the_spread():
    rng = np.random.default_rng(3)
    doubts = rng.standard_normal((400, 5))
    other = rng.standard_normal(400)
    made = 7.0 + 2.0 * doubts[:, 1] + 1.0 * other
    share, low, high = model_share_percent(made, doubts)
    assert share == pytest.approx(80.0, abs=5.0)
    assert low < 80.0 < high
    share, low, _ = model_share_percent(other, doubts)
    assert share < 5.0
    assert low == 0.0
    assert model_share_percent(np.full(400, 7.0), doubts) is None
    assert model_share_percent(made[:10], doubts[:10]) is None


def test_odds_reach_a_level_to_half_a_draw():
    counts = np.array([50, 51, 52])
    assert reaches(100.0 * counts / 64, 80.0, 64).tolist() == [False, True, True]
    assert not reaches(NAN, 0.0, 64)


def test_ways_differ_by_more_than_chance_over_the_draws_that_tell_them_apart():
    draws = np.arange(64)
    base = draws < 40
    # Five draws all for one way are beyond two standard errors; four are not.
    assert differs(base, draws < 45)
    assert not differs(base, draws < 44)
    # As many again for each way tell nothing.
    assert not differs(base, (draws < 45) & (draws >= 10) | (draws > 58))
    assert differs(draws < 45, base)


def test_the_interval_of_the_model_share_holds_it_nine_times_in_ten():
    rng = np.random.default_rng(11)
    held = noise = 0
    for _ in range(400):
        doubts = rng.standard_normal((64, 5))
        other = rng.standard_normal(64)
        # A true share of 30 %.
        _, low, high = model_share_percent(doubts[:, 0] * (0.3 / 0.7) ** 0.5 + other, doubts)
        held += low <= 30.0 <= high
        noise += model_share_percent(other, doubts)[1] == 0.0
    assert held / 400 == pytest.approx(0.9, abs=0.05)
    # Where there is nothing, that is found in nearly all cases.
    assert noise / 400 > 0.9
