"""Active or centred: the limit first, then the fuel."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose

from passage.planning.heel.fin_use import (
    ACTIVE_FOR_LIMIT,
    ACTIVE_NO_SAVING,
    CENTRED_REQUIRED,
    CENTRED_TO_SAVE,
    FIN_DECISION_WORDS,
    NO_LIMIT,
    UNKNOWN,
    decide_fin_use,
)


def test_fin_use_of_each_case():
    found = decide_fin_use(
        [2.0, 5.0, 2.0, 5.0, np.nan, 2.0],
        [1.0, 2.0, 1.0, 2.0, 1.0, 1.0],
        [4.0, 4.0, 4.0, 4.0, 4.0, np.inf],
        [100.0, 100.0, 104.0, 100.0, 100.0, 100.0],
        [108.0, 108.0, 103.0, 108.0, 108.0, 108.0],
        centred_required=[False, False, False, True, False, False],
    )
    assert found.code.tolist() == [
        CENTRED_TO_SAVE,
        ACTIVE_FOR_LIMIT,
        ACTIVE_NO_SAVING,
        CENTRED_REQUIRED,
        UNKNOWN,
        NO_LIMIT,
    ]
    assert_allclose(found.saved_l, [8.0, 0.0, 0.0, 0.0, 0.0, 0.0], rtol=1e-7)
    assert_allclose(found.roll_cost_deg, [1.0, 0.0, 0.0, 0.0, 0.0, 0.0], rtol=1e-7)
    assert len(FIN_DECISION_WORDS) == 6


def test_worth_of_comfort_and_other_limits_keep_them_active():
    calm = {"limit_deg": 4.0, "fuel_centred_l": 100.0, "fuel_active_l": 108.0}
    assert decide_fin_use(2.0, 1.0, **calm).code == CENTRED_TO_SAVE
    assert decide_fin_use(2.0, 1.0, **calm, worth_l=9.0).code == ACTIVE_NO_SAVING
    assert decide_fin_use(2.0, 1.0, **calm, other_limits_kept=False).code == ACTIVE_FOR_LIMIT


def test_raising_the_limit_never_turns_centred_into_active():
    rng = np.random.default_rng(1)
    roll = rng.uniform(0.0, 8.0, 200)
    fuel = rng.uniform(90.0, 110.0, 200)
    low = decide_fin_use(roll, 0.5 * roll, 3.0, fuel, 100.0).code == CENTRED_TO_SAVE
    high = decide_fin_use(roll, 0.5 * roll, 5.0, fuel, 100.0).code == CENTRED_TO_SAVE
    assert np.all(high[low])
    assert high.sum() > low.sum()


def test_unknown_fuel_gives_no_advice():
    assert decide_fin_use(1.0, 0.5, 4.0, np.nan, 100.0).code == UNKNOWN
