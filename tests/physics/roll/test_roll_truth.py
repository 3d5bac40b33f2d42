"""Roll from tables against direct integration over 1000 x 720 components.

The same comparison over 2,000 seas is ``tests/benchmarks/error_roll.py``; its
table is in docs/roll-validation.md.
"""

from __future__ import annotations

import numpy as np
import pytest
from roll_seas import KINDS, Tabled, centred, random_case
from roll_truth import direct

from passage.units import KNOT_M_S


def errors(kind: str, count: int, knots: float, seed: int) -> np.ndarray:
    """Relative errors of roll rms, centred and active. [%]"""
    rng = np.random.default_rng(seed)
    tabled = Tabled()
    out = []
    for _ in range(count):
        systems, ship = random_case(rng, kind, knots * KNOT_M_S, 0.8164)
        for case in (centred(ship), ship):
            answer = tabled.roll(systems, case)
            if np.isnan(answer):
                continue
            out.append(100 * abs(answer / direct(systems, case)["roll"] - 1))
    return np.array(out)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("knots", [8.0, 12.25])
def test_roll_is_within_half_a_per_cent_of_direct_integration(kind, knots):
    # 12.25 kn lies between the speed nodes of the tables.
    e = errors(kind, 19, knots, seed=int(100 * knots) + len(kind))
    assert e.size >= 30
    assert e.max() < 1.5
    assert np.percentile(e, 99) < 0.5


def test_few_seas_of_each_kind():
    for kind in KINDS:
        assert errors(kind, 2, 12.0, seed=len(kind)).max() < 0.5
