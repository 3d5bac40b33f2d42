"""Strip theory against a boundary-element method: sections, hulls at rest, hulls at speed.

The hulls are super-ellipses given to both. Tolerances and the reasons for them are
argued in docs/motions.md. At speed the reference solves the problem without a steady
wave at the frequency of meeting; its coupling of modes breaks the symmetry that Timman
and Newman proved, by half of its size, and it heaves up to a third more than a hull measured
in a tank, so that it is no truth there.
"""

from __future__ import annotations

import numpy as np
import pytest

from passage.physics.motions.strip_motion import strip_motion
from passage.physics.motions.strip_sections import HEAVE, SWAY, Contours, section_potentials
from passage.units import G_M_S2, RHO_SEA_KG_M3

capytaine = pytest.importorskip("capytaine", reason="boundary-element reference not installed")
import boundary_elements as reference  # noqa: E402
import wigley as tank  # noqa: E402

pytestmark = pytest.mark.slow

RATIOS = reference.RATIOS
MU = np.deg2rad([45.0, 90.0, 135.0, 157.5, 180.0])
SPEED = reference.SPEED_M_S


def both(name, speed):
    """Amplitudes of heave, pitch and slope over ``RATIOS`` and ``MU``: ours, theirs, and k."""
    length = reference.HULLS[name][0]
    omega = np.sqrt(2.0 * np.pi * G_M_S2 / (RATIOS * length))
    found = strip_motion(reference.strips_of(name), omega, MU, speed)
    ours = np.abs(np.stack([found.heave, found.pitch, found.slope]))
    theirs = np.abs(reference.answers(reference.panels_of(name), omega, MU, speed))
    return ours, theirs, omega**2 / G_M_S2


@pytest.mark.parametrize("ka", [0.3, 0.8, 2.0])
def test_a_section_is_a_slice_of_a_long_cylinder(ka):
    """Twelve diameters less eight: the ends cancel and four diameters of section are left."""
    capytaine.set_logging("ERROR")
    angle = np.linspace(-np.pi / 2.0, np.pi / 2.0, 21)
    found = []
    for length, along in ((24.0, 48), (16.0, 32)):
        x = np.linspace(-length / 2.0, length / 2.0, along + 1)
        points = np.stack(
            [
                np.repeat(x, angle.size),
                np.tile(np.sin(angle), x.size),
                np.tile(-np.cos(angle), x.size),
            ],
            axis=1,
        )
        n = angle.size
        faces = [
            [i * n + j, i * n + j + 1, (i + 1) * n + j + 1, (i + 1) * n + j]
            for i in range(along)
            for j in range(n - 1)
        ]
        mesh = capytaine.Mesh(vertices=points, faces=np.array(faces))
        body = capytaine.FloatingBody(mesh=mesh, dofs=capytaine.rigid_body_dofs())
        solver, omega = capytaine.BEMSolver(), np.sqrt(ka * G_M_S2)
        row = []
        for dof in ("Heave", "Sway"):
            case = capytaine.RadiationProblem(
                body=body,
                radiating_dof=dof,
                omega=omega,
                rho=RHO_SEA_KG_M3,
                g=G_M_S2,
                water_depth=np.inf,
            )
            result = solver.solve(case)
            row += [result.added_masses[dof], result.radiation_dampings[dof] / omega]
        found.append(row)
    expected = (np.array(found[0]) - np.array(found[1])) / 8.0
    half = np.linspace(0.0, np.pi / 2.0, 25)
    circle = Contours(np.sin(half)[None], -np.cos(half)[None])
    c = section_potentials(circle, np.array([np.sqrt(ka * G_M_S2)])).coefficients()[..., 0, 0]
    actual = [c[HEAVE, HEAVE].real, -c[HEAVE, HEAVE].imag, c[SWAY, SWAY].real, -c[SWAY, SWAY].imag]
    # Waves along the cylinder between its ends do not cancel wholly: a tenth of the mass.
    size = RHO_SEA_KG_M3 * np.pi / 2.0
    np.testing.assert_allclose(actual, expected, rtol=0.08, atol=0.05 * size)


@pytest.mark.parametrize("name", reference.HULLS)
def test_at_rest(name):
    """Heave and pitch within 15 %, effective slope within 7 %, from 0.8 ship lengths up.

    One heave is not: beside a zero of the response, 0.155 against 0.203 of the wave.
    """
    (heave, pitch, slope), (wanted, _), k = both(name, 0.0)
    if name == "shallow":
        beside_zero = (0, 3)
        assert heave[beside_zero] / wanted[0][beside_zero] == pytest.approx(0.765, abs=0.03)
        wanted[0][beside_zero] = 0.0
    seen = wanted[0] > 0.2
    assert heave[seen] == pytest.approx(wanted[0][seen], rel=0.15)
    seen = wanted[1] / k[:, None] > 0.2
    assert pitch[seen] == pytest.approx(wanted[1][seen], rel=0.15)
    assert slope[:, :3] == pytest.approx(wanted[2][:, :3], rel=0.07)


@pytest.mark.parametrize("name", reference.HULLS)
def test_at_twelve_knots(name):
    """Heave and pitch from 1.1 ship lengths within 25 %, head to beam; slope within 15 %."""
    (heave, pitch, slope), (wanted, _), _ = both(name, SPEED)
    long = RATIOS >= 1.1
    part = np.ix_(long, np.cos(MU) < 0.01)
    assert heave[part] == pytest.approx(wanted[0][part], rel=0.25)
    part = np.ix_(long, np.cos(MU) < -0.1)
    assert pitch[part] == pytest.approx(wanted[1][part], rel=0.25)
    assert slope[:, :3] == pytest.approx(wanted[2][:, :3], rel=0.15)
    # From the quarter she heaves and pitches more than the reference says, up to two fifths.
    for ours, theirs in ((heave, wanted[0]), (pitch, wanted[1])):
        ratio = ours[long, 0] / theirs[long, 0]
        assert np.all((ratio > 0.98) & (ratio < 1.48))


@pytest.mark.parametrize("name", ["round", "full"])
def test_vertical_acceleration_in_twenty_one_seas(name):
    """From 7 s on no place lower by a fifth, below 7 s none by a third; and how far each is.

    As solved, the reference heaves more than the tank by a third (the test below); with its
    coupling made symmetric by a tenth at most, and then nothing is lower by more than a tenth.
    """
    omega, mu = reference.sea_omega(name), reference.SEA_MU_RAD
    found = strip_motion(reference.strips_of(name), omega, mu, SPEED)
    theirs = reference.answers(reference.panels_of(name), omega, mu, SPEED, upright=True)

    def rms(answer, rates=0):
        return reference.rms_in_seas(name, answer, rates)

    bars = {
        15.0: (0.98, 1.10),
        6.0: (0.89, 1.03),
        0.0: (0.82, 0.90),
        -6.0: (0.77, 0.89),
        -15.0: (0.83, 0.99),
    }
    long = reference.SEA_PERIODS_S >= 7.0
    for x, (least, most) in bars.items():
        ours = rms(found.heave + x * found.pitch, 2)
        solved, symmetric = (ours / rms(heave - x * pitch, 2) for heave, pitch, _ in theirs)
        assert np.all((solved > least) & (solved < most)), x
        assert np.all(solved[long] > 0.80), x
        assert np.all((symmetric > 0.89) & (symmetric < 1.01)), x
    # Motion relative to the water where slamming is judged; theirs has the conjugate phase.
    x = 0.35 * reference.HULLS[name][0]
    wave = np.exp(-1j * omega[:, None] ** 2 / G_M_S2 * x * np.cos(mu))
    ours = rms(found.heave + x * found.pitch - wave)
    for heave, pitch, _ in theirs:
        ratio = ours / rms(heave - x * pitch - np.conj(wave))
        assert np.all((ratio > 0.86) & (ratio < 1.04))


def test_the_reference_at_speed_heaves_more_than_the_tank():
    """Hull III of Delft at Froude number 0.3: as solved 11 to 35 % more, made symmetric 0 to 11 %.

    Strip theory: 0 to 7 % more (``test_strip_measured``).
    """
    measured = tank.HEAVE_AT_SPEED["III", 0.3]
    omega = np.sqrt(2.0 * np.pi * G_M_S2 / (np.array(list(measured)) * tank.LENGTH_M))
    speed = 0.3 * np.sqrt(G_M_S2 * tank.LENGTH_M)
    hull = reference.tank_panels("III")
    found = np.abs(reference.answers(hull, omega, [np.pi], speed, upright=True)[:, 0, :, 0])
    solved, symmetric = found / np.array(list(measured.values()))
    assert np.all((solved > 1.08) & (solved < 1.40))
    assert solved[:3].min() > 1.25
    assert np.all((symmetric > 0.98) & (symmetric < 1.13))
