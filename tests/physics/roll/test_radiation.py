"""Radiation of roll by frequency: nothing twice, nothing lost, nothing below zero."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passage.physics.fins.force import Fins
from passage.physics.roll.excitation import encounter_nodes
from passage.physics.roll.radiation import RollRadiation
from passage.physics.roll.response import HullRoll, solve_roll

W0 = 0.8
NODES = encounter_nodes(W0)
SPEEDS = np.array([0.0, 4.0, 8.0])
#: Made up: added inertia that falls with frequency, damping that grows; both with speed.
INERTIA = 0.15 * np.exp(-0.3 * NODES) * NODES**2 * (1.0 + 0.1 * SPEEDS[:, None])
DAMPING = 0.05 * NODES**3 / (1.0 + NODES**3) + 0.002 * SPEEDS[:, None]
RADIATION = RollRadiation(4.0, NODES, np.stack([INERTIA, DAMPING], axis=1))
BARE = Fins(np.zeros(1), np.zeros(1), np.ones(1)).absent()
ENERGY = np.exp(-(((NODES - 1.1) / 0.5) ** 2)) * 1e-5


@pytest.mark.parametrize("row", range(3))
def test_roll_is_that_of_the_dry_hull_with_all_of_the_water_added(row):
    """The same question put another way: a dry inertia, then the water's at each frequency."""
    zeta = 0.06
    inertia, damping = (np.interp(W0, NODES, rows[row]) for rows in (INERTIA, DAMPING))
    dry = (1.0 - inertia) / W0**2
    own = 2.0 * zeta / W0 - damping
    assert own > 0.0
    size = np.abs(1.0 - NODES**2 * dry - INERTIA[row] + 1j * NODES * (own + DAMPING[row])) ** 2
    hull = HullRoll(W0, zeta, 0.0, 0.0, RADIATION, SPEEDS[row])
    found = solve_roll(ENERGY, NODES, hull, BARE)
    assert found.roll_rms_rad == pytest.approx(np.sqrt(np.sum(ENERGY / size)), rel=1e-12)
    plain = solve_roll(ENERGY, NODES, HullRoll(W0, zeta), BARE)
    assert abs(float(found.roll_rms_rad / plain.roll_rms_rad) - 1.0) > 0.002
    assert found.damping_ratio_total == pytest.approx(plain.damping_ratio_total, rel=1e-12)


def test_half_the_righting_moment_is_twice_the_water():
    """Moments stay as they are when GM falls: so do inertia and damping of the water."""
    soft, zeta = W0 / np.sqrt(2.0), 0.08
    hull = HullRoll(soft, zeta, 0.0, 0.0, RADIATION, 4.0, 0.5)
    twice = replace(RADIATION, table=2.0 * RADIATION.table)
    stiffness, damping = twice.beside(4.0, soft, zeta)
    np.testing.assert_allclose(RADIATION.beside(4.0, soft, zeta, 0.5)[1], damping, rtol=1e-12)
    s = 1j * NODES
    size = np.abs(1.0 + (s / soft) ** 2 + stiffness + s * (damping + 2.0 * zeta / soft)) ** 2
    found = solve_roll(ENERGY, NODES, hull, BARE)
    assert found.roll_rms_rad == pytest.approx(np.sqrt(np.sum(ENERGY / size)), rel=1e-12)


def test_less_measured_damping_than_the_water_alone_leaves_none_negative():
    for zeta in (0.0, 0.001, 0.004):
        _, more = RADIATION.beside(4.0, W0, zeta)
        assert np.min(2.0 * zeta / W0 + more) >= -1e-15
    for more in RADIATION.beside(4.0, W0, 0.1):
        assert np.interp(W0, NODES, more) == pytest.approx(0.0, abs=1e-5)


def test_a_speed_beyond_the_table_is_not_known():
    hull = HullRoll(W0, 0.06, 0.0, 0.0, RADIATION, [4.0, 8.0, 8.1, np.nan])
    found = solve_roll(ENERGY, NODES, hull, BARE).roll_rms_rad
    assert np.isfinite(found).tolist() == [True, True, False, False]
    assert np.isnan(RADIATION.beside(8.1, W0, 0.1)).all()
