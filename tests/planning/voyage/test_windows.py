"""Running means against brute force, and what is not known."""

from itertools import pairwise

import numpy as np
import pytest

from passage.planning.voyage.windows import Running


def brute(hours, values, leg, at_rest, window_h, power, level):
    """The same from many middles: worst, hours over."""
    worst, over = np.full(leg[-1] + 1, -np.inf), np.zeros(leg[-1] + 1)
    cuts = np.r_[0, np.flatnonzero(at_rest[1:] != at_rest[:-1]) + 1, leg.size]
    for low, high in pairwise(cuts):
        edge = np.r_[0.0, np.cumsum(hours[low:high])]
        integral = np.r_[0.0, np.cumsum(values[low:high] ** power * hours[low:high])]
        length = min(window_h, edge[-1])
        middle = (np.arange(20_000) + 0.5) / 20_000 * edge[-1]
        begin = np.clip(middle - 0.5 * length, 0.0, edge[-1] - length)
        mean = np.interp(begin + length, edge, integral) - np.interp(begin, edge, integral)
        mean = (mean / length) ** (1.0 / power)
        of = leg[low:high][np.searchsorted(edge, middle, side="right") - 1]
        for i in np.unique(of):
            worst[i] = max(worst[i], mean[of == i].max())
            over[i] += np.sum(mean[of == i] > level) * edge[-1] / middle.size
    return worst, over


@pytest.mark.parametrize("power", [1, 2])
@pytest.mark.parametrize("window_h", [0.3, 1.0, 40.0])
def test_windows_by_brute_force(power, window_h):
    rng = np.random.default_rng(4)
    hours = rng.uniform(0.05, 0.35, (3, 50))
    values = rng.uniform(0.0, 5.0, (3, 50))
    leg = np.repeat([0, 1, 2, 3, 4], 10)
    at_rest = leg == 2
    made = Running(hours, leg, at_rest, window_h).of(values, power=power, level=np.full(5, 2.9))
    for row in range(3):
        worst, over = brute(hours[row], values[row], leg, at_rest, window_h, power, 2.9)
        # The middles of brute force are half a thousandth of an hour apart.
        np.testing.assert_allclose(made.worst[row], worst, rtol=1e-3)
        np.testing.assert_allclose(made.over_h[row], over, atol=3e-3)
    assert not made.unknown.any()


def test_cutting_a_leg_changes_nothing():
    rng = np.random.default_rng(5)
    hours, values = rng.uniform(0.1, 0.3, (4, 42)), rng.uniform(0.0, 5.0, (4, 42))
    rest = np.zeros(42, bool)
    found = [
        Running(hours, np.repeat(np.arange(n), 42 // n), rest, 1.0).of(values, power=2, level=2.0)
        for n in (1, 2, 7)
    ]
    for one in found[1:]:
        np.testing.assert_allclose(one.worst.max(-1), found[0].worst.max(-1), rtol=1e-12)
        np.testing.assert_allclose(one.over_h.sum(-1), found[0].over_h.sum(-1), rtol=1e-12)
        at = np.argmax(one.worst, axis=-1)[:, None]
        when = np.take_along_axis(one.middle_h, at, axis=-1)
        np.testing.assert_allclose(when, found[0].middle_h, atol=1e-9)


def test_a_window_that_holds_something_unknown_is_unknown():
    hours, leg = np.full(12, 0.25), np.repeat([0, 1, 2], 4)
    values = np.r_[np.full(4, 1.0), 9.0, 1.0, 1.0, np.nan, np.full(4, 1.0)]
    made = Running(hours, leg, np.zeros(12, bool), 1.0).of(values, level=np.full(3, 2.0))
    # The whole first leg lies half a window or more before the gap.
    assert made.unknown.tolist() == [False, True, True]
    assert made.worst[1] == pytest.approx(3.0, rel=1e-6)
    gone = Running(hours, leg, np.zeros(12, bool), 1.0).of(np.full(12, np.nan))
    assert np.isnan(gone.worst).all()
    assert gone.unknown.all()


def test_time_that_is_not_known_is_unknown():
    hours = np.r_[np.full(6, 0.25), np.full(6, np.nan)]
    made = Running(hours, np.repeat([0, 1], 6), np.zeros(12, bool), 1.0).of(np.ones(12))
    assert made.unknown.tolist() == [False, True]


def test_one_row_of_hours_serves_all_rows():
    rng = np.random.default_rng(6)
    hours, values = rng.uniform(0.1, 0.3, (1, 30)), rng.uniform(0.0, 5.0, (5, 30))
    leg, rest = np.repeat([0, 1, 2], 10), np.zeros(30, bool)
    one = Running(hours, leg, rest, 1.0).of(values, power=2)
    each = Running(np.repeat(hours, 5, axis=0), leg, rest, 1.0).of(values, power=2)
    np.testing.assert_allclose(one.worst, each.worst, rtol=1e-12)
    np.testing.assert_allclose(one.middle_h, each.middle_h, atol=1e-9)


def test_a_window_lies_within_its_run():
    hours, leg = np.full(9, 1.0 / 3.0), np.zeros(9, dtype=int)
    falling = np.arange(9.0)[::-1]
    for values, middle in ((falling, 0.5), (falling[::-1], 2.5)):
        one = Running(hours, leg, np.zeros(9, dtype=bool), 1.0).of(values)
        np.testing.assert_allclose(one.middle_h, [middle], atol=1e-12)
