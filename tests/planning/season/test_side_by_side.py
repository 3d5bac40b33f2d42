"""Several vessels over one season: differences of the same departures."""

from types import SimpleNamespace

import numpy as np
import pytest

from passage.errors import PassageError
from passage.planning.season.calendar import CALM
from passage.planning.season.departures import COLUMNS
from passage.planning.season.side_by_side import COMPARED, side_by_side
from passage.planning.season.stats import statistics
from passage.report.text.season_pair import (
    answer,
    change_text,
    own_answers,
    pair_csv,
    pair_table,
    pair_verdict,
    vessel_names,
)
from passage.report.text.verdict_season import season_verdict

STEP = 6.0 * 3600.0


def season(seed, fuel, name="one", n=1460, within=0.5, noise=0.0):
    rng = np.random.default_rng(1)
    weather = rng.normal(size=(1, n))
    own = noise * np.random.default_rng(seed).normal(size=(1, n))
    level = np.quantile(weather, within)
    return SimpleNamespace(
        departures_s=978307200.0 + STEP * np.arange(n),
        labels=[{"route": "a", "speed_kn": 12.0}],
        numbers={
            "status": np.zeros((1, n), np.int8),
            "within_limits": np.where(weather + own < level, 1, 0).astype(np.int8),
            "fuel_l": fuel + 100.0 * weather + own,
            CALM: 5.0 + weather + own,
            "worst_leg_motion_sickness_percent": np.full((1, n), 10.0),
            "fin_travel_deg": np.full((1, n), 1000.0),
        },
        provenance={"vessel": name, "vessel_file": f"{name}.toml"},
        records=[],
        standing=None,
    )


def test_one_vessel_twice_differs_by_nothing():
    for pair in side_by_side([season(1, 1000.0), season(1, 1000.0)]):
        for name in COMPARED:
            found = pair.differences[name]
            assert found.change == 0.0
            assert found.interval == (0.0, 0.0)


def test_difference_is_that_of_the_means_and_free_of_the_weather():
    one, two = season(1, 1000.0), season(2, 1030.0, "two", noise=5.0)
    pairs = side_by_side([one, two])
    year = next(pair for pair in pairs if pair.month == 0)
    fuel = year.differences["fuel_l"]
    assert fuel.change == pytest.approx(fuel.second - fuel.first, rel=1e-6)
    low, high = fuel.interval
    assert low < fuel.change < high
    # Four standard errors of the mean of 1,460 scatters of 5 l.
    assert fuel.change == pytest.approx(30.0, abs=4.0 * 5.0 / 1460.0**0.5)
    # The weather scatters by 100 l, its difference by 5 l over 1,460 departures.
    assert high - low < 2.0
    assert sum(pair.departures for pair in pairs if pair.month) == year.departures


def test_exchanged_vessels_change_the_sign():
    one, two = season(1, 1000.0), season(2, 1030.0, "two", within=0.6, noise=0.3)
    there = side_by_side([one, two])[0].differences
    back = side_by_side([two, one])[0].differences
    for name in COMPARED:
        assert there[name].change == pytest.approx(-back[name].change, rel=1e-6)
        assert there[name].interval == pytest.approx(
            tuple(-x for x in back[name].interval[::-1]), rel=1e-6
        )


def test_departures_known_for_one_only_do_not_count():
    one, two = season(1, 1000.0), season(1, 1000.0)
    two.numbers["status"][0, :400] = 1
    two.numbers["fuel_l"][0, :400] = np.nan
    year = side_by_side([one, two])[0]
    assert year.departures == 1060
    assert year.differences["fuel_l"].change == 0.0


def test_other_departures_are_refused():
    with pytest.raises(PassageError, match="same departures"):
        side_by_side([season(1, 1.0), season(1, 1.0, n=700)])


def test_words_and_table():
    results = [season(1, 1000.0), season(2, 1030.0, "two", within=0.7)]
    text = pair_table(results)
    assert "two on a, 12 kn: 70 % of departures within the limits, one 50 %: +20" in text
    assert "Jan" in text
    assert len(answer(results, side_by_side(results))) == 1
    lines = pair_csv(results).splitlines()
    assert len(lines) == 14
    assert {line.count(",") for line in lines} == {lines[0].count(",")}
    assert change_text(None, 1) == "-"


def test_vessels_of_one_name_are_kept_apart_by_their_files():
    one, two = season(1, 1.0), season(1, 1.0)
    two.provenance["vessel_file"] = "folder/other.toml"
    assert vessel_names([one, two]) == ["one (one.toml)", "one (other.toml)"]


def test_a_month_of_few_departures_is_marked_in_a_column_that_is_always_shown():
    # 6 of 130 departures are in February.
    days = season(1, 1000.0, n=130), season(2, 1030.0, "two", n=130)
    rows = {line.split()[0]: line for line in pair_table(days).splitlines() if line.strip()}
    # The month, and both shares.
    assert rows["Feb"].count("(few)") == 2
    assert "(few)" not in rows["Jan"]


def test_two_vessels_have_a_headline_each_her_own_best_month_and_every_column_on_the_screen():
    results = [season(1, 1000.0), season(2, 1030.0, "two", within=0.7)]
    for result in results:
        result.records = statistics(
            {c.name: np.full((1, 1460), np.nan, np.float32) for c in COLUMNS}
            | {"limits_broken": 1 - result.numbers["within_limits"]}
            | result.numbers, result.departures_s, result.labels, None, ["roll_significant_deg"],
        )  # fmt: skip
    verdict = pair_verdict(results, side_by_side(results))
    assert verdict.do.startswith("two on a, 12 kn: 70 % of departures within the limits, one 50 %")
    assert verdict.word == "+20 points"
    lines = own_answers(results)
    for line, result in zip(lines, results, strict=True):
        assert f"{result.provenance['vessel']}: {season_verdict(result).do}" in line
        assert "significant roll rules out" in line
    text = pair_table(results)
    heading = next(line for line in text.splitlines() if line.startswith("month"))
    assert " ".join(heading.split()) == "month within change fuel change worst roll change"
    assert max(map(len, text.splitlines())) <= 100
