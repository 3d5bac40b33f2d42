"""Speeds leg by leg under a budget: the answer of computing every combination."""

from dataclasses import replace
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from passage.inputs.forecast import open_forecast
from passage.inputs.route import read_route
from passage.inputs.vessel import read_vessel
from passage.planning.compare.cell import make_cells
from passage.planning.compare.compare import CompareOptions, compare, judge
from passage.planning.compare.proof import Computed, SpeedChoices, prove
from passage.planning.compare.speeds import STEP_S, _proven, _task, by_leg_tasks, leg_choices
from passage.planning.compare.tasks import make_tasks
from passage.planning.voyage.yacht import Yacht

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
FORECASTS = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
DEPARTURES = tuple(1773446400.0 + 6 * 3600.0 * i for i in range(4))  # from 2026-03-14T00:00Z
SPEEDS = (9.0, 10.5, 12.0)


def never_late(arrival):
    return np.zeros(arrival.shape, dtype=bool)


@pytest.mark.parametrize("seed", range(20))
def test_proof_is_brute_force_when_grid_prices_are_a_little_wrong(seed):
    rng = np.random.default_rng(seed)
    shape = (300, 3)
    fuel = rng.uniform(1000.0, 2000.0, shape)
    rough = 9.0 - fuel / 300.0 + rng.normal(0.0, 0.3, shape)
    exact = Computed(
        fuel * (1.0 + 0.01 * rng.uniform(-1.0, 1.0, shape)),
        rough * (1.0 + 0.02 * rng.uniform(-1.0, 1.0, shape)),
        np.ones(shape, dtype=bool),
    )
    ways = SpeedChoices(np.arange(300)[:, None], fuel, rough, np.zeros(shape, int), np.zeros(shape))
    for budget in np.quantile(rough, np.linspace(0.02, 0.9, 20)):

        def compute(some, budget=budget):
            return [
                Computed(exact.fuel_l[i], exact.rough[i], exact.rough[i] <= budget) for i in some
            ]

        made = prove(ways, compute, budget=float(budget), late=never_late)
        within = exact.rough <= budget
        least = np.min(np.where(within, exact.fuel_l, np.inf))
        # How wrong the grid is shows on the first that are computed.
        assert made.proven
        assert made.fuel_l == pytest.approx(least, rel=2e-12)
        assert made.computed < 300


def test_nothing_allowed_is_reported():
    shape = (5, 1)
    ways = SpeedChoices(np.arange(5)[:, None], np.full(shape, 9.0), np.ones(shape),
                np.zeros(shape, int), np.zeros(shape))  # fmt: skip

    def compute(some):
        return [Computed(np.array([9.0]), np.ones(1), np.array([False])) for _ in some]

    made = prove(ways, compute, budget=2.0, late=never_late)
    assert made.way is None
    assert made.proven
    assert made.computed == 5


@pytest.fixture(scope="module")
def case():
    ship = read_vessel(SAMPLES / "brambling.toml")
    none = type(ship.limits.underway)(
        **dict.fromkeys(ship.limits.underway.__dataclass_fields__, None)
    )
    ship = replace(ship, limits=replace(ship.limits, underway=none, at_rest=none))
    yacht, way = Yacht(ship), read_route(SAMPLES / "direct.csv")
    with open_forecast(FORECASTS) as forecast:
        yield yacht, way, forecast


def test_under_twenty_budgets_it_is_brute_force_over_all_combinations(case):
    yacht, way, forecast = case
    options = CompareOptions(DEPARTURES, SPEEDS, minutes=60.0)
    cells = []
    for speeds in product(SPEEDS, repeat=len(way.legs)):
        cells += make_cells(yacht, _task(0, way, speeds, options), forecast,
                            np.array(DEPARTURES), ("active",))  # fmt: skip
    every = judge(yacht.vessel, [way], options, cells)
    fuel, rough = every.totals["fuel_l"], every.comfort
    assert fuel.size == 108
    starts = [round((time - DEPARTURES[0]) / STEP_S) for time in DEPARTURES]
    tables = leg_choices(yacht, way, forecast, options, starts)["active"]
    known = {cell.leg_speeds_kn: cell for cell in cells}
    computed = 0
    for budget in np.quantile(rough, np.linspace(0.03, 0.97, 20)):
        asked = replace(options, budget=float(budget))
        proof, _ = _proven(yacht, way, forecast, asked, "active", tables, starts, np.inf,
                           cell_of=lambda task: [known[task.leg_speeds_kn]])  # fmt: skip
        assert proof.proven
        assert proof.fuel_l == pytest.approx(np.min(fuel[rough <= budget]), rel=1e-12)
        computed += proof.computed
    # Far fewer than all of them, or nothing is gained by the grid.
    assert computed < 20 * 27 / 2


def test_comparison_holds_the_proven_one_and_counts_what_it_leaves_out(case):
    yacht, way, forecast = case
    options = CompareOptions(DEPARTURES[:2], SPEEDS, minutes=120.0, budget=5.0)
    tasks, notes = by_leg_tasks(yacht, [way], forecast, options)
    found = compare(yacht, [way], forecast, options, extra=tasks,
                    tasks=make_tasks(yacht, [way], options)[0])  # fmt: skip
    cells = []
    for speeds in product(SPEEDS, repeat=len(way.legs)):
        cells += make_cells(yacht, _task(0, way, speeds, options), forecast,
                            np.array(DEPARTURES[:2]), ("active",))  # fmt: skip
    every = judge(yacht.vessel, [way], options, cells)
    within = np.where(every.open, every.totals["fuel_l"], np.inf)
    mine = np.where(found.open, found.totals["fuel_l"], np.inf)
    assert mine.min() == pytest.approx(within.min(), rel=1e-12)
    assert any("combinations of speeds computed" in note for note in notes)
