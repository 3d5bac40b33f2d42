"""The four hulls by formula that were tested at Delft in 1992, as strips.

Journee, "Experiments and calculations on 4 Wigley hull forms in head waves", Delft University
of Technology, report 0909 (1992): half breadth over B/2 is
(1 - z2)(1 - x2)(1 + 0.2 x2) + a z2 (1 - z8)(1 - x2)^4, with x2 = (2x/L)^2, z2 = (z/d)^2 and so
on, L 3 m, d 0.1875 m, B 0.3 m (I, III) or 0.6 m (II, IV), a 1 (I, II) or 0, pitch radius
0.75 m. Numbers of the report are held as its readers in public code quote them; the report itself
was not at hand.
"""

from __future__ import annotations

import numpy as np

from passage.physics.hull.sections import Sections
from passage.physics.motions.strip_hull import PANELS, StripHull, strip_hull
from passage.physics.motions.strip_sections import Contours, section_potentials
from passage.units import G_M_S2

LENGTH_M, DRAUGHT_M, PITCH_RADIUS_M = 3.0, 0.1875, 0.75
#: Beam, fuller by a, centre of gravity above the keel, displaced volume of the report.
HULLS = {
    "I": (0.3, 1.0, 0.1700, 0.0946),
    "II": (0.6, 1.0, 0.1875, 0.1892),
    "III": (0.3, 0.0, 0.1700, 0.0780),
    "IV": (0.6, 0.0, 0.1875, 0.1560),
}

#: Heave over wave amplitude in head waves, by hull and Froude number, over wavelength/length
#: (tables 8-I and 8-III).
HEAVE_AT_SPEED = {
    ("III", 0.2): {1.25: 0.71, 1.5: 0.81, 2.0: 0.90},
    ("III", 0.3): {1.25: 1.28, 1.384: 1.11, 1.5: 1.01, 2.0: 0.99},
    ("I", 0.3): {1.25: 2.52},
}


def surface(name, x_m, depth):
    """Half breadth at ``x_m`` from midship and at a share ``depth`` of the draught. [m]"""
    beam, fuller, _, _ = HULLS[name]
    x2, z2 = (2.0 * x_m / LENGTH_M) ** 2, depth**2
    plain = (1.0 - z2) * (1.0 - x2) * (1.0 + 0.2 * x2)
    return beam / 2.0 * (plain + fuller * z2 * (1.0 - z2**4) * (1.0 - x2) ** 4)


def wigley(name: str, count: int = 24) -> StripHull:
    """One of the hulls with her sections solved for waves of 0.5 lengths and more."""
    step = LENGTH_M / count
    x = (np.arange(count) + 0.5) * step - LENGTH_M / 2.0
    depth = np.cos(np.linspace(0.0, np.pi / 2.0, PANELS + 1))
    y = surface(name, x[:, None], depth)
    z = np.broadcast_to(-DRAUGHT_M * depth, y.shape)
    area = -np.sum((z[:, 1:] + z[:, :-1]) * np.diff(y, axis=1), axis=1)
    sections = Sections(x, 2.0 * y[:, -1], np.full(count, DRAUGHT_M), area, step, -LENGTH_M / 2.0)
    omega = np.geomspace(0.6, 9.0, 22) * np.sqrt(G_M_S2 / LENGTH_M)
    solved = section_potentials(Contours(y, z), omega)
    made = strip_hull(sections, gm_m=0.0, pitch_radius_m=PITCH_RADIUS_M, potentials=solved)
    # With no GM her centre of gravity is at the metacentre; that of the report is lower.
    gm = made.gravity_z_m - (HULLS[name][2] - DRAUGHT_M)
    return strip_hull(sections, gm_m=gm, pitch_radius_m=PITCH_RADIUS_M, potentials=solved)
