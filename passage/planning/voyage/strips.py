"""Strip theory of a vessel: sections from her file, and solutions cached between runs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from passage import cache
from passage.inputs.vessel import Vessel
from passage.physics.hull.hydrostatics import hydrostatics
from passage.physics.hull.sections import (
    Form,
    Sections,
    sections_from_form,
    sections_from_lines,
)
from passage.physics.motions.strip_provider import StripMotions
from passage.units import RHO_SEA_KG_M3, tonnes_to_kg


def vessel_sections(vessel: Vessel) -> Sections:
    """Sections of the vessel as loaded, from her lines if the file has them.

    Raises
    ------
    ValueError
        Her main dimensions, or the sections of the file, fit no hull.
    """
    hull = vessel.particulars
    volume = float(tonnes_to_kg(hull.displacement_t)) / RHO_SEA_KG_M3
    if hull.sections:
        x, breadth, draught, area = np.array(
            [(s.x_m, s.breadth_m, s.draught_m, s.area_m2) for s in hull.sections]
        ).T
        return sections_from_lines(x, breadth, draught, area, volume_m3=volume)
    box = hull.length_waterline_m * hull.beam_waterline_m * hull.draught_m
    return sections_from_form(
        Form(
            length_m=hull.length_waterline_m,
            beam_m=hull.beam_waterline_m,
            draught_m=hull.draught_m,
            block_coefficient=volume / box,
            midship_coefficient=hull.midship_coefficient,
            waterplane_coefficient=hull.waterplane_coefficient,
            entrance_m=hull.entrance_length_m,
            run_m=hull.run_length_m,
        )
    )


def strip_motions(vessel: Vessel, *, keep: bool = True) -> StripMotions | None:
    """Strip theory of the vessel; None where no sections fit her dimensions.

    With ``keep``, solutions are saved in the user's cache folder.
    """
    try:
        sections = vessel_sections(vessel)
    except ValueError:
        return None
    hull = vessel.particulars
    motions = StripMotions(
        sections=sections, gm_m=hull.gm_m, pitch_radius_m=hull.longitudinal_gyradius_m
    )
    return motions.keep_with(_kept) if keep else motions


def _kept(what: tuple[Any, ...], make: Callable[[], cache.Arrays]) -> cache.Arrays:
    return cache.kept(f"strips-{what[0]}", what, make)


def hydrostatics_beside_the_file(vessel: Vessel) -> list[tuple[str, str, float, float | None]]:
    """Hydrostatics of a vessel's sections, to compare with the values of her file.

    Returns
    -------
    list of (what, unit, from the sections, from the file)
        The last is None where the file has no such value. It may be an estimate.

    Raises
    ------
    ValueError
        No sections fit her dimensions.
    """
    hull, found = vessel.particulars, hydrostatics(vessel_sections(vessel))
    metacentre = hull.draught_m + found.metacentre_z_m
    return [
        (
            "displacement in sea water",
            "t",
            found.volume_m3 * RHO_SEA_KG_M3 / float(tonnes_to_kg(1.0)),
            hull.displacement_t,
        ),
        ("block coefficient", "", found.block_coefficient, hull.block_coefficient),
        ("midship coefficient", "", found.midship_coefficient, hull.midship_coefficient),
        ("waterplane coefficient", "", found.waterplane_coefficient, hull.waterplane_coefficient),
        ("centre of buoyancy forward of midship", "m", found.buoyancy_x_m, None),
        ("centre of flotation forward of midship", "m", found.flotation_x_m, None),
        ("centre of buoyancy above the keel", "m", hull.draught_m + found.buoyancy_z_m, None),
        ("transverse metacentre above the keel", "m", metacentre, hull.kg_m + hull.gm_m),
        ("longitudinal metacentre above buoyancy", "m", found.longitudinal_radius_m, None),
    ]
