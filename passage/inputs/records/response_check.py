"""Whether responses read from a file can be those of this hull.

Every hull follows waves much longer than itself, so the responses to them show wrong
units, signs and directions, whatever the hull.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from passage.errors import Problem
from passage.physics.motions.vertical_motion import HullForm
from passage.units import G_M_S2, rad_to_deg

#: The table must reach waves this long and this short, in lengths of the hull.
LONGEST_WAVE = 4.0
SHORTEST_WAVE = 0.4
#: How far the longest wave may be off the long-wave limits: finite length and draught
#: take up to a tenth at four lengths.
LIMIT_TOLERANCE = 0.25


def check_responses(
    omega: Any,
    angles: Any,
    heave: Any,
    pitch: Any,
    hull: HullForm,
    path: Path,
    problems: list[Problem],
) -> None:
    """Add a problem for each range or long-wave limit that is not kept.

    ``omega`` ``(n,)`` [rad/s] and ``angles`` ``(m,)`` (0 following) ascending;
    ``heave`` and ``pitch`` complex ``(s, n, m)``, as in ``Motion``.
    """

    def problem(place: str, what: str, fix: str) -> None:
        problems.append(Problem(file=str(path), place=place, what=what, fix=fix))

    if not (np.isfinite(heave).all() and np.isfinite(pitch).all() and (omega > 0).all()):
        problem(
            "omega",
            "some responses are not numbers, or a frequency is zero",
            "Leave out the frequencies at which the tool has no solution.",
        )
        return
    if len(set(omega)) != len(omega):
        problem("omega", "a frequency appears twice", "Keep one of each.")
        return
    wavelength = 2.0 * np.pi * G_M_S2 / omega**2
    longest, shortest = wavelength[0] / hull.length_m, wavelength[-1] / hull.length_m
    if longest < LONGEST_WAVE or shortest > SHORTEST_WAVE or len(omega) < 8:
        problem(
            "omega",
            f"{len(omega)} frequencies for waves of {shortest:.2f} to {longest:.1f} hull lengths",
            f"At least 8, from {SHORTEST_WAVE} to {LONGEST_WAVE:.0f} lengths, are needed.",
        )
        return
    if angles[0] > 0.02 or angles[-1] < np.pi - 0.02 or len(angles) < 5:
        problem(
            "wave_direction",
            f"{len(angles)} directions from {rad_to_deg(angles[0]):.0f} to "
            f"{rad_to_deg(angles[-1]):.0f} deg (0 following)",
            "At least 5, from following to head sea, are needed.",
        )
        return
    if np.max(np.abs(heave[:, 0] - 1.0)) > LIMIT_TOLERANCE:
        far = heave[:, 0].ravel()[np.argmax(np.abs(heave[:, 0].ravel() - 1.0))]
        problem(
            "heave",
            f"in the longest waves it is {abs(far):.2f} m per m at {rad_to_deg(np.angle(far)):.0f} "
            "deg, where every hull follows the wave (1, 0 deg)",
            "Give metres per metre of wave amplitude, phase against the wave at x = 0.",
        )
    wavenumber = omega[0] ** 2 / G_M_S2
    ends = [0, len(angles) - 1]
    slope = pitch[:, 0, ends] / (-1j * wavenumber * np.cos(angles[ends]))
    far = slope.ravel()[np.argmax(np.abs(slope.ravel() - 1.0))]
    if abs(far - 1.0) > LIMIT_TOLERANCE:
        what = (
            "has the opposite sign to the wave slope"
            if abs(far + 1.0) <= LIMIT_TOLERANCE
            else f"is {abs(far):.2f} of the wave slope at {rad_to_deg(np.angle(far)):.0f} deg"
        )
        problem(
            "pitch",
            f"in the longest head and following waves it {what}, where it must be that slope",
            "Check pitch_positive, wave_direction_zero and that rotations are in radians per "
            "metre.",
        )
