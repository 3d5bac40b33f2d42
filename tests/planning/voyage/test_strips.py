"""The vessel file's hull in strip theory: sections, what is kept, what the coefficient does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from passage import cache
from passage.errors import VesselError
from passage.inputs.vessel import read_vessel, vessel_from_text
from passage.physics.hull.hydrostatics import hydrostatics
from passage.physics.motions.lateral import LateralSea, lateral_acceleration_at, lateral_rows
from passage.physics.motions.strip_motion import roll_alone
from passage.physics.motions.strip_provider import DOUBT_WORDS, doubt_words, strip_doubt
from passage.physics.motions.strip_theory import strip_forces
from passage.physics.roll.response import solve_roll
from passage.planning.plan.provenance import methods
from passage.planning.voyage.rolling import NO_FINS
from passage.planning.voyage.strips import (
    hydrostatics_beside_the_file,
    strip_motions,
    vessel_sections,
)
from passage.planning.voyage.yacht import Yacht
from passage.units import G_M_S2, KNOT_M_S, RHO_SEA_KG_M3

VESSEL = Path(__file__).parents[3] / "sample_forecasts" / "brambling.toml"
TEXT = VESSEL.read_text(encoding="utf-8")
OMEGA = np.array([0.5, 0.8, 1.2])
MU = np.deg2rad([60.0, 90.0, 150.0])


@pytest.fixture(scope="module")
def vessel():
    return read_vessel(VESSEL)


def with_coefficient(vessel, value):
    return replace(vessel, roll=replace(vessel.roll, wave_slope_coefficient=value))


def told_by_her_lines(vessel, edit=lambda rows: rows):
    """The file with her own sections written out as a lines plan."""
    s = vessel_sections(vessel)
    rows = [(s.aft_x_m, *s.aft)]
    rows += list(zip(s.x_m, s.breadth_m, s.draught_m, s.area_m2, strict=True))
    rows += [(22.0, 0.0, 0.0, 0.0)]
    keys = ("x_m", "breadth_m", "draught_m", "area_m2")
    lines = [
        "{ " + ", ".join(f"{k} = {float(v):.6g}" for k, v in zip(keys, row, strict=True)) + " },"
        for row in edit(rows)
    ]
    block = "sections = [\n" + "\n".join(lines) + "\n]\n\n[roll]"
    return TEXT.replace("[roll]", block, 1)


def test_sections_float_at_the_displacement_of_the_file(vessel):
    found = hydrostatics(vessel_sections(vessel))
    assert found.volume_m3 * RHO_SEA_KG_M3 == pytest.approx(550e3, rel=1e-9)
    assert found.waterplane_coefficient == pytest.approx(0.76, rel=1e-9)


def test_the_hull_by_her_lines_is_the_hull_by_her_coefficients(vessel):
    """The same question put another way: motions agree to some per cent."""
    other = vessel_from_text(told_by_her_lines(vessel))
    assert other.particulars.sections
    a, b = (strip_motions(v, keep=False)(OMEGA, MU, 6.0) for v in (vessel, other))
    assert np.max(np.abs(a.heave - b.heave)) < 0.03
    assert np.max(np.abs(a.pitch - b.pitch)) < 0.003


def test_lines_of_another_ship_are_refused_in_one_line(vessel):
    def wide(rows):
        return [(x, 1.3 * b, t, 1.3 * a) for x, b, t, a in rows]

    with pytest.raises(VesselError, match=r"do not fit the rest of \[vessel\]: their largest"):
        vessel_from_text(told_by_her_lines(vessel, wide))
    with pytest.raises(VesselError, match="at least five"):
        vessel_from_text(told_by_her_lines(vessel, lambda rows: rows[::-1]))


def test_hydrostatics_are_shown_beside_those_of_the_file(vessel):
    rows = {
        what: (implied, given) for what, _, implied, given in hydrostatics_beside_the_file(vessel)
    }
    implied, given = rows["displacement in sea water"]
    assert implied == pytest.approx(given, rel=1e-9)
    implied, given = rows["transverse metacentre above the keel"]
    assert given == pytest.approx(4.6, rel=1e-6)
    assert implied == pytest.approx(given, abs=0.3)


def test_a_number_scales_the_slope_and_the_formula_knows_no_speed(vessel):
    speed = 12.0 * KNOT_M_S
    strip, half, formula = (
        Yacht(with_coefficient(vessel, value), keep_tables=False).excitation
        for value in ("strip", 0.5, "formula")
    )
    full = strip.slope_response(OMEGA, MU, speed)
    np.testing.assert_allclose(half.slope_response(OMEGA, MU, speed), 0.25 * full, rtol=1e-12)
    still = formula.slope_response(OMEGA, MU, 0.0)
    np.testing.assert_allclose(formula.slope_response(OMEGA, MU, speed), still, rtol=1e-12)
    assert np.max(np.abs(strip.slope_response(OMEGA, MU, 0.0) / full - 1.0)) > 0.05
    # A very long wave: the wave's own slope, by strips and by formula.
    long = np.array([0.12])
    k = long**2 / G_M_S2
    np.testing.assert_allclose(strip.slope_response(long, MU[1:2], 0.0), k[:, None] ** 2, rtol=0.03)


def test_a_second_yacht_solves_nothing_again(vessel, monkeypatch, tmp_path):
    monkeypatch.setenv(cache.VARIABLE, str(tmp_path))
    first = strip_motions(vessel)
    wanted = first(OMEGA, MU, 5.0).heave

    def never(*_args, **_more):
        raise AssertionError("solved again")

    monkeypatch.setattr("passage.physics.motions.strip_provider.strip_table", never)
    monkeypatch.setattr("passage.physics.motions.strip_hull.section_potentials", never)
    again = strip_motions(vessel)
    np.testing.assert_array_equal(again(OMEGA, MU, 5.0).heave, wanted)
    # Another metacentric height is another hull to solve.
    light = replace(vessel, particulars=replace(vessel.particulars, gm_m=0.9))
    with pytest.raises(AssertionError, match="solved again"):
        strip_motions(light)(OMEGA, MU, 5.0)


def test_a_hull_that_no_sections_fit_falls_back_and_says_so(vessel):
    odd = replace(vessel, particulars=replace(vessel.particulars, midship_coefficient=0.50))
    yacht = Yacht(odd, keep_tables=False)
    assert yacht.strips is None
    assert np.isfinite(yacht.motions(OMEGA, MU, 6.0)).all()
    assert yacht.excitation.response is None

    class Options:
        wave_method = "all-heading"
        responses = None

    assert "no hull sections fit" in " ".join(methods(yacht, Options()))
    assert "strip theory" in " ".join(methods(Yacht(vessel, keep_tables=False), Options()))


def test_an_unknown_speed_gives_nothing(vessel):
    strips = strip_motions(vessel)
    assert np.isnan(strips(OMEGA, MU, np.nan).heave).all()


def test_doubt_is_marked_where_the_theory_ends():
    length = 44.0
    cases = {
        1: (8.0, np.pi / 2, 0.41 * np.sqrt(G_M_S2 * length)),
        2: (3.7, np.pi / 2, 5.0),
        # A following wave as fast as she: 2 pi U/g seconds.
        4: (2.0 * np.pi * 8.0 / G_M_S2, 0.0, 8.0),
    }
    for bit, (period, mu, speed) in cases.items():
        code = int(strip_doubt(period, mu, speed, length))
        assert code & bit, bit
        assert DOUBT_WORDS[bit] in doubt_words(code)
    assert int(strip_doubt(8.0, np.pi, 6.0, length)) == 0
    assert int(strip_doubt(np.nan, np.pi, 6.0, length)) == 0
    # At rest no sea is followed.
    assert int(strip_doubt(8.0, 0.0, 0.0, length)) == 0


@pytest.mark.parametrize("speed", [0.0, 12.0 * KNOT_M_S])
def test_roll_is_that_of_the_coupled_strips_at_every_frequency_of_meeting(vessel, speed):
    """The same question put another way: no nodes, no table, the strips' own equations.

    Of the water's part in the measured inertia and damping only what strip theory computes at
    her own period is taken out, at her speed.
    """
    yacht = Yacht(vessel)
    hull, natural = yacht.strips.hull, yacht.natural_frequency_rad_s
    stiffness, ratio = hull.roll_stiffness, float(yacht.hull_damping(speed))
    # Beam seas are met at their own frequency at any speed.
    _, own = roll_alone(hull, strip_forces(hull, np.array([natural]), np.pi / 2, speed))
    inertia = stiffness / natural**2 - own.real[0] / natural**2
    rest = 2.0 * ratio * stiffness / natural + own.imag[0] / natural
    assert rest > 0.0, "measured damping holds more than the waves she makes"
    omega = np.linspace(0.35, 2.2, 400)
    shape = np.exp(-1.25 * (0.75 / omega) ** 4) / omega**5
    plain = replace(yacht.hull_roll(speed), quadratic_damping_per_rad=0.0)
    nodes = yacht.excitation.nodes_rad_s
    without = []
    for mu in np.deg2rad([45.0, 135.0]):
        forces = strip_forces(hull, omega, mu, speed)
        moment, radiation = roll_alone(hull, forces)
        met = forces.encounter_rad_s
        equation = stiffness - met**2 * inertia - radiation + 1j * met * rest
        exact = np.sqrt(np.sum(shape * np.abs(moment / equation) ** 2))
        kernel = yacht.excitation(omega, np.array([mu]), speed)[..., 0]
        found = [
            float(solve_roll(kernel @ shape, nodes, given, NO_FINS).roll_rms_rad)
            for given in (plain, replace(plain, radiation=None))
        ]
        assert found[0] == pytest.approx(exact, rel=1e-3)
        without.append(abs(found[1] / exact - 1.0))
    assert 0.0015 < max(without) < 0.01


@pytest.fixture(scope="module")
def felt(vessel):
    """What is felt across at a place over linear motions with every phase, by the case."""
    motions = strip_motions(vessel)
    natural, omega, height = 2.0 * np.pi / 7.8, np.linspace(0.3, 2.6, 250), 1.8

    def ratio(heading, x, period, speed, damping):
        mu = np.array([np.deg2rad(heading)])
        sway, yaw, slope = (v[:, 0] for v in motions.lateral(omega, mu, speed))
        met = omega - omega**2 / G_M_S2 * speed * np.cos(mu)
        roll = slope * natural**2 / (natural**2 - met**2 + 2j * damping * natural * met)
        shape = np.exp(-1.25 * (2.0 * np.pi / period / omega) ** 4) / omega**5

        def variance(v):
            return np.sum(shape * np.abs(v) ** 2)

        exact = variance(G_M_S2 * roll + height * met**2 * roll - sway - x * yaw)
        rows = lateral_rows(sway, yaw, slope, met, natural)
        found = lateral_acceleration_at(
            x,
            height,
            *(variance(met**n * roll) for n in range(3)),
            sea=LateralSea.of(variance(sway), [np.sum(shape * row) for row in rows]),
            slope_variance=variance(slope),
            natural_frequency_rad_s=natural,
            damping_ratio=damping,
        )
        return float(found / np.sqrt(exact))

    return ratio


def test_lateral_acceleration_at_a_place_is_that_of_linear_motions_with_their_phases(felt):
    """Peak periods 5 to 13 s, 45 to 135 degrees, at rest and 12 kn, little and much damping."""
    bars = {8.0: (0.95, 1.22), 15.0: (0.92, 1.36)}
    for far, (least, most) in bars.items():
        found = [
            felt(mu, x, tp, speed, damping)
            for mu in (45, 90, 135)
            for x in (-far, far)
            for tp in (5.0, 7.0, 9.0, 13.0)
            for speed, damping in ((0.0, 0.035), (12.0 * KNOT_M_S, 0.065), (12.0 * KNOT_M_S, 0.3))
        ]
        assert least < min(found), far
        assert max(found) < most, far


def test_a_number_for_the_slope_changes_nothing_else_across(felt, vessel):
    """Half the slope and half the roll: what sway and yaw have in common with roll is halved."""
    motions, omega, mu = strip_motions(vessel), np.linspace(0.4, 2.0, 60), np.array([1.0])
    sway, yaw, slope = (v[:, 0] for v in motions.lateral(omega, mu, 6.0))
    met = omega - omega**2 / G_M_S2 * 6.0 * np.cos(mu)
    rows = [np.sum(row) for row in lateral_rows(sway, yaw, slope, met, 0.8)]
    sea = LateralSea.of(np.sum(np.abs(sway) ** 2), rows)
    whole, half = (
        lateral_acceleration_at(
            6.0,
            2.0,
            *(f * np.array([0.02, 0.013, 0.01])),
            sea=sea,
            slope_variance=f * sea.slope,
            natural_frequency_rad_s=0.8,
            damping_ratio=0.1,
        )
        ** 2
        for f in (1.0, 0.25)
    )
    without = sea.sway + 12.0 * sea.sway_yaw + 36.0 * sea.yaw_acceleration
    roll = G_M_S2**2 * 0.02 + 4.0 * G_M_S2 * 0.013 + 4.0 * 0.01
    common = whole - without - roll
    assert half - without - 0.25 * roll == pytest.approx(0.5 * common, rel=1e-9)
