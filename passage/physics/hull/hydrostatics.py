"""Hydrostatics of a hull's sections: volume, waterplane, centres, metacentres."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from passage.physics.hull.sections import Sections, contour_points

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Hydrostatics:
    """Hydrostatics of the upright hull; x forward of midship, z up from the waterline.

    Attributes
    ----------
    volume_m3, waterplane_m2
        Displaced volume [m3] and area of the waterplane [m2].
    buoyancy_x_m, buoyancy_z_m, flotation_x_m
        Centre of buoyancy, and centre of the waterplane. [m]
    transverse_radius_m, longitudinal_radius_m
        Height of the metacentre above the centre of buoyancy, BM, transverse and
        longitudinal. [m]
    midship_coefficient, prismatic_coefficient, waterplane_coefficient, block_coefficient
        Based on the largest section, breadth and draught. Dimensionless.
    """

    volume_m3: float
    waterplane_m2: float
    buoyancy_x_m: float
    buoyancy_z_m: float
    flotation_x_m: float
    transverse_radius_m: float
    longitudinal_radius_m: float
    midship_coefficient: float
    prismatic_coefficient: float
    waterplane_coefficient: float
    block_coefficient: float

    @property
    def metacentre_z_m(self) -> float:
        """Transverse metacentre above the waterline. [m]"""
        return self.buoyancy_z_m + self.transverse_radius_m


def hydrostatics(sections: Sections) -> Hydrostatics:
    """Hydrostatics of the strips, each a prism of its own section.

    Volume in [m3], areas in [m2], positions and radii in [m], coefficients dimensionless;
    x is forward of midship, z up from the waterline. Exact for the strips; the error for the
    hull falls with the width of the strips.
    """
    dx, x = sections.strip_m, sections.x_m
    area, breadth = sections.area_m2, sections.breadth_m
    volume, plane = float(np.sum(area) * dx), float(np.sum(breadth) * dx)
    centre = float(np.sum(x * area) * dx / volume)
    flotation = float(np.sum(x * breadth) * dx / plane)
    across = float(np.sum(breadth**3) * dx / 12.0)
    # Parallel axes: the strip's own second moment, and its distance from the centre.
    along = float(np.sum(((x - flotation) ** 2 + dx**2 / 12.0) * breadth) * dx)
    depth = section_centroid_z(sections)
    length = dx * x.size
    beam, draught = float(np.max(breadth)), float(np.max(sections.draught_m))
    largest = float(np.max(area))
    return Hydrostatics(
        volume_m3=volume,
        waterplane_m2=plane,
        buoyancy_x_m=centre,
        buoyancy_z_m=float(np.sum(depth * area) * dx / volume),
        flotation_x_m=flotation,
        transverse_radius_m=across / volume,
        longitudinal_radius_m=along / volume,
        midship_coefficient=largest / (beam * draught),
        prismatic_coefficient=volume / (largest * length),
        waterplane_coefficient=plane / (length * beam),
        block_coefficient=volume / (length * beam * draught),
    )


def section_centroid_z(sections: Sections) -> FloatArray:
    """Height of the centroid of each section above the waterline, negative. [m]"""
    y, z = contour_points(sections.breadth_m, sections.draught_m, sections.area_m2, 60)
    dy = np.diff(y, axis=1)
    top, bottom = z[:, :-1], z[:, 1:]
    # Area and first moment between each panel and the waterline.
    area = -0.5 * (top + bottom) * dy
    moment = -(top**2 + top * bottom + bottom**2) / 6.0 * dy
    return np.asarray(np.sum(moment, axis=1) / np.sum(area, axis=1))
