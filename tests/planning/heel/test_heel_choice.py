"""The way advised once all are sailed: never one that another undercuts."""

from dataclasses import replace

import numpy as np
import pytest
from heel_cases import problem

from passage.planning.heel.choice import advised_last
from passage.planning.heel.moves import Move
from passage.planning.heel.options import compare_policies

PARTS = ("fin_drag_l", "fin_work_l", "ballast_l", "pump_l", "crew_l", "roll_worth_l")


@pytest.fixture
def leave():
    """Leaving it, for nothing but hull drag of 18 l."""
    policies = compare_policies(problem(2)).policies
    left = next(one for one in policies if one.rule == "none" and not one.moves)
    none = {name: np.zeros(len(left.heel_drag_l)) for name in (*PARTS, "heel_worth_l")}
    drag = np.zeros(len(left.heel_drag_l))
    drag[0] = 18.0
    within = replace(left, **none | {"heel_drag_l": drag, "over_limit_charge_l": 0.0})
    return replace(within, limit_deg=np.full(len(drag), 90.0))


def moved(leave, litres):
    crew = np.zeros(len(leave.crew_l))
    crew[0] = litres
    return replace(
        leave, name="moved", moves=(Move(0, 1, 0, 2.5),), crew_l=crew,
        heel_drag_l=np.zeros(len(crew)),
    )  # fmt: skip


def test_a_transfer_that_sailed_costs_more_than_leaving_it_is_not_advised(leave):
    assert advised_last((leave, moved(leave, 18.6)))[-1] is leave


def test_one_that_costs_less_stays(leave):
    one = moved(leave, 17.0)
    assert advised_last((leave, one))[-1] is one


def test_a_cheaper_way_longer_over_the_limit_does_not_come_first(leave):
    heeled = replace(
        leave, limit_deg=np.full(len(leave.crew_l), 0.1), heel_deg=np.full(len(leave.crew_l), 1.0)
    )
    one = replace(moved(leave, 30.0), heel_deg=np.zeros(len(leave.crew_l)))
    assert advised_last((heeled, one))[-1] is one


def test_a_cheap_way_as_long_over_the_limit_does_not_undercut_one_that_leans_less(leave):
    n = len(leave.crew_l)
    heeled = replace(leave, limit_deg=np.full(n, 0.8), heel_deg=np.full(n, 6.7))
    one = replace(moved(leave, 300.0), limit_deg=np.full(n, 0.8), heel_deg=np.full(n, 2.0))
    assert advised_last((heeled, one))[-1] is one
    assert advised_last((one, heeled))[-1] is one
    # As far over for as long: the cheaper.
    same = replace(one, heel_deg=np.full(n, 6.7))
    assert advised_last((heeled, same))[-1] is heeled
