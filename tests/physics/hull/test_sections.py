"""Sections meet the numbers they were made from; hydrostatics of shapes known exactly."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from passage.physics.hull.hydrostatics import hydrostatics
from passage.physics.hull.sections import (
    Form,
    Sections,
    contour_points,
    fullness,
    power_of_fullness,
    sections_from_form,
    sections_from_lines,
)

YACHT = Form(
    length_m=44.0,
    beam_m=9.0,
    draught_m=2.8,
    block_coefficient=0.484,
    midship_coefficient=0.85,
    waterplane_coefficient=0.76,
    entrance_m=17.5,
    run_m=13.5,
)
FORMS = [
    YACHT,
    replace(YACHT, block_coefficient=0.40, waterplane_coefficient=0.70),
    replace(YACHT, block_coefficient=0.65, midship_coefficient=0.98, waterplane_coefficient=0.82),
    replace(YACHT, length_m=70.0, entrance_m=28.0, run_m=21.7, beam_m=12.0, draught_m=3.6),
    replace(YACHT, entrance_m=10.0, run_m=6.0, waterplane_coefficient=0.9),
    replace(YACHT, buoyancy_x_m=-1.2, flotation_x_m=-2.4),
]


@pytest.mark.parametrize("form", FORMS)
def test_volume_and_waterplane_are_met_exactly(form):
    found = hydrostatics(sections_from_form(form))
    box = form.length_m * form.beam_m
    assert found.volume_m3 == pytest.approx(form.block_coefficient * box * form.draught_m, rel=1e-9)
    assert found.waterplane_m2 == pytest.approx(form.waterplane_coefficient * box, rel=1e-9)


def test_given_centres_are_met_exactly():
    found = hydrostatics(sections_from_form(FORMS[-1]))
    assert found.buoyancy_x_m == pytest.approx(-1.2, abs=1e-9)
    assert found.flotation_x_m == pytest.approx(-2.4, abs=1e-9)


def test_no_section_is_deeper_wider_or_fuller_than_the_hull():
    for form in FORMS:
        s = sections_from_form(form)
        assert s.breadth_m.max() <= form.beam_m * (1 + 1e-12)
        assert s.draught_m.max() <= form.draught_m * (1 + 1e-12)
        assert np.all(s.area_m2 > 0.0)
        assert np.all(s.area_m2 <= s.breadth_m * s.draught_m)


def test_an_impossible_hull_is_refused_with_its_numbers():
    with pytest.raises(ValueError, match=r"0\.840.*0\.850.*0\.760"):
        sections_from_form(replace(YACHT, block_coefficient=0.84))


def test_polygons_hold_the_area_asked_for():
    s = sections_from_form(YACHT)
    y, z = contour_points(s.breadth_m, s.draught_m, s.area_m2)
    area = -np.sum((z[:, 1:] + z[:, :-1]) * np.diff(y, axis=1), axis=1)
    np.testing.assert_allclose(area, s.area_m2, rtol=1e-4)
    np.testing.assert_allclose(2.0 * y[:, -1], s.breadth_m, rtol=1e-9)


def test_fullness_of_known_curves():
    np.testing.assert_allclose(fullness([1.0, 2.0]), [0.5, np.pi / 4.0], rtol=1e-12)
    np.testing.assert_allclose(power_of_fullness([0.5, np.pi / 4.0]), [1.0, 2.0], rtol=1e-3)
    assert np.isnan(power_of_fullness(1.2))


def test_hydrostatics_of_a_triangular_prism():
    """A vee prism: centre of buoyancy a third of the draught down, BM b^3/(12 A)."""
    n = 30
    x = (np.arange(n) + 0.5) - 15.0
    prism = Sections(x, np.full(n, 6.0), np.full(n, 3.0), np.full(n, 9.0), 1.0, -15.0)
    found = hydrostatics(prism)
    assert found.buoyancy_z_m == pytest.approx(-1.0, rel=2e-3)
    assert found.transverse_radius_m == pytest.approx(6.0**3 / 12.0 / 9.0, rel=1e-9)
    assert found.longitudinal_radius_m == pytest.approx(6.0 * 30.0**3 / 12.0 / 270.0, rel=1e-9)
    assert found.block_coefficient == pytest.approx(0.5, rel=1e-6)


def test_sections_read_from_a_lines_plan_come_back():
    """The hull given by its own sections is the same hull."""
    s = sections_from_form(YACHT)
    x = np.concatenate([[s.aft_x_m], s.x_m, [22.0]])
    ends = s.aft
    told = sections_from_lines(
        x,
        np.concatenate([[ends[0]], s.breadth_m, [0.0]]),
        np.concatenate([[ends[1]], s.draught_m, [s.draught_m[-1]]]),
        np.concatenate([[ends[2]], s.area_m2, [0.0]]),
        volume_m3=hydrostatics(s).volume_m3,
    )
    np.testing.assert_allclose(told.area_m2, s.area_m2, rtol=2e-3, atol=0.02)
    np.testing.assert_allclose(told.breadth_m, s.breadth_m, rtol=2e-3, atol=0.02)
    assert hydrostatics(told).volume_m3 == pytest.approx(hydrostatics(s).volume_m3, rel=1e-9)


def test_bad_lines_are_refused():
    good = np.linspace(-20.0, 20.0, 6)
    with pytest.raises(ValueError, match="five sections"):
        sections_from_lines(good[:4], np.ones(4), np.ones(4), 0.7 * np.ones(4))
    with pytest.raises(ValueError, match="in a box of"):
        sections_from_lines(good, np.ones(6), np.ones(6), 1.2 * np.ones(6))
