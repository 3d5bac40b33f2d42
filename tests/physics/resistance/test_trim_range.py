"""Trim in the formula of added resistance: held to its range, reported, and never missing."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passage.physics.resistance.waves import (
    MOST_TRIM_RAD,
    ResistanceHull,
    range_notes,
    wave_resistance_kernel,
)

LEVEL = ResistanceHull(
    length_m=45.0, beam_m=8.6, draught_aft_m=2.8, draught_fore_m=2.8, block_coefficient=0.52
)
OMEGA = np.linspace(0.3, 4.0, 60)
MU = np.linspace(0.0, np.pi, 13)


def trimmed(fore_m):
    return replace(LEVEL, draught_fore_m=fore_m)


def force(hull):
    return wave_resistance_kernel(hull)(OMEGA, MU, 6.0)


@pytest.mark.parametrize("fore_m", [2.0, 1.5, 1.35, 1.0, 0.3])
def test_beyond_the_range_the_force_is_that_of_its_edge(fore_m):
    edge = trimmed(2.8 - 45.0 * np.tan(MOST_TRIM_RAD))
    np.testing.assert_allclose(force(trimmed(fore_m)), force(edge), rtol=1e-9)
    assert any("apart" in note for note in range_notes(trimmed(fore_m)))


def test_inside_the_range_trim_counts_and_nothing_is_reported():
    small = trimmed(2.4)
    assert np.max(np.abs(force(small) / force(LEVEL) - 1.0)) > 0.05
    assert not any("apart" in note for note in range_notes(small))


def test_a_force_that_is_not_finite_is_an_error():
    broken = replace(LEVEL, pitch_radius=float("nan"))
    with pytest.raises(ArithmeticError, match="not a finite number"):
        force(broken)
