"""One forecast sampled from several threads: nobody's block is taken away under him."""

from __future__ import annotations

import threading

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from passage.inputs.forecast import open_forecast
from passage.inputs.forecast.group import Group
from passage.variables import COVERAGE

#: Latitude and longitude of two corners, too far apart for one small block to hold both.
HERE, THERE = (0.25, 0.25), (39.25, 39.25)


@pytest.fixture
def wide_forecast(make_forecast, maker, monkeypatch):
    """A forecast whose blocks hold a part of it only."""
    path = make_forecast(
        maker.sea(lambda lat, lon, hour: 1.0 + 0.01 * lat + 0.02 * lon + 0.0 * hour),
        lat=np.arange(0.0, 40.1, 0.5),
        lon=np.arange(0.0, 40.1, 0.5),
    )
    with open_forecast(path, memory_mb=0.2) as forecast:
        yield forecast


def sampled(forecast, place):
    got = forecast.sample(*place, forecast.time_from_s)
    return COVERAGE[int(got.coverage)], float(got.height_m[0])


def test_a_thread_keeps_its_block_when_another_replaces_it(wide_forecast, monkeypatch) -> None:
    """Another thread loads elsewhere at the worst moment: right after this one's load."""
    truth = {place: sampled(wide_forecast, place) for place in (HERE, THERE)}
    assert truth[HERE][0] == "ok"
    load, others = Group._load, []

    def load_and_let_another_in(self, window, member):
        found = load(self, window, member)
        if not others:
            other = threading.Thread(target=sampled, args=(wide_forecast, THERE))
            others.append(other)
            other.start()
            other.join(timeout=0.3)
        return found

    monkeypatch.setattr(Group, "_load", load_and_let_another_in)
    # The block in memory holds the other corner: this call has to load.
    assert sampled(wide_forecast, HERE) == truth[HERE]
    others[0].join()


def test_many_threads_get_the_values_of_one(wide_forecast) -> None:
    rng = np.random.default_rng(1)
    lat, lon = rng.uniform(0.0, 40.0, (2, 8, 6))
    alone = [
        wide_forecast.sample(a, o, wide_forecast.time_from_s).height_m
        for a, o in zip(lat, lon, strict=True)
    ]
    assert np.isfinite(alone).all()
    found: dict[int, list] = {i: [] for i in range(len(lat))}

    def again(i: int) -> None:
        for _ in range(5):
            got = wide_forecast.sample(lat[i], lon[i], wide_forecast.time_from_s)
            found[i].append(got.height_m)

    threads = [threading.Thread(target=again, args=(i,)) for i in found]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    for i, expected in enumerate(alone):
        assert len(found[i]) == 5, "a thread ended early"
        for got in found[i]:
            assert_array_equal(got, expected)
