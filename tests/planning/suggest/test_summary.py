"""What is printed of the ways that a search did not choose."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from passage.planning.suggest.judge import NOT_COVERED
from passage.planning.suggest.summary import summary
from tests.planning.suggest.test_choice import OPTIONS, one


@pytest.mark.parametrize(("faults", "printed"), [((), True), ((NOT_COVERED,), False)])
def test_limits_of_a_way_not_covered_are_not_called_exceeded(faults, printed):
    given = replace(one(100.0, faults=list(faults)), over=("4 deg significant roll",))
    found = SimpleNamespace(best="grid", candidates={"as given": given, "grid": one(90.0)})
    plan = SimpleNamespace(
        totals={"distance_nm": 60.0, "hours": 5.0, "fuel_l": 100.0},
        points={"roll_active_significant_deg": np.ones(2), "hours": np.ones(2)},
        cautions=(),
    )
    words = " ".join(summary(found, {"as given (outside)": plan}, OPTIONS))
    assert ("over a limit: 4 deg significant roll" in words) is printed
    assert (NOT_COVERED in words) is not printed
