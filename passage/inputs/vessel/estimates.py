"""Values the file does not give, each by a named method.

Every function returns a number and the sentence that goes into the plan. The methods are
rough, and each says where it comes from; a measured value is always used instead.
"""

from __future__ import annotations

import math

import numpy as np

from passage.inputs.vessel.schema import FinsSection, RollSection, VesselSection
from passage.physics.hull.stability import righting_stiffness_n_m, roll_period_is_code_s
from passage.physics.roll.damping import (
    hull_lift_damping_n_m_s,
    ratio_from_dimensionless,
    ratio_from_moment_rate,
)
from passage.physics.roll.damping_ikeda import LIMITS, IkedaHull, ikeda_damping, outside_limits
from passage.units import (
    DEG_RAD,
    FUEL_DENSITY_T_M3,
    KNOT_M_S,
    NU_SEA_M2_S,
    RHO_SEA_KG_M3,
    rad_to_deg,
)

Estimated = tuple[float, str]

SEA_DENSITY_T_M3 = RHO_SEA_KG_M3 / 1000.0

#: Density of what tanks hold [t/m3]; common practice.
DENSITY_T_M3 = {"fuel": FUEL_DENSITY_T_M3, "fresh water": 1.0, "ballast": SEA_DENSITY_T_M3}

#: Least linear damping ratio an estimate gives: the method knows the bare hull only.
#: Hulls without fins have 0.02 to 0.05 at rest (common practice, no source).
LEAST_DAMPING = 0.02

#: Generators [l/h per t of displacement], areas over beam squared and over length x beam,
#: height of the lateral centre over the beam: usual yachts; assumptions.
GENERATOR_L_PER_H_T = 0.04
FRONTAL, LATERAL, CENTROID = 0.8, 0.75, 0.42

#: Roll amplitudes between which the simplified Ikeda method is made into zeta and b.
_IKEDA_AMPLITUDES_DEG = np.array([3.0, 10.0])


def block_coefficient(v: VesselSection) -> Estimated:
    """From displacement and main dimensions, sea water."""
    box = v.length_waterline_m * v.beam_waterline_m * v.draught_m
    return v.displacement_t / (SEA_DENSITY_T_M3 * box), "displacement over length x beam x draught"


def midship_coefficient(block: float) -> Estimated:
    """Kerlen's curve for merchant ships, held between 0.70 and 0.99."""
    value = min(max(1.006 - 0.0056 * block**-3.56, 0.70), 0.99)
    return value, "from the block coefficient, Kerlen 1970 (from memory), held in 0.70 to 0.99"


def waterplane_coefficient(block: float, midship: float) -> Estimated:
    """Eames' line for small ships with a transom."""
    value = min(max(0.444 + 0.520 * block / midship, 0.55), 0.95)
    return value, "0.444 + 0.520 x prismatic coefficient, small transom ships (from memory)"


def kg(v: VesselSection, block: float, waterplane: float) -> Estimated:
    """KB by Morrish, BM by a fit of the waterplane's inertia, less GM."""
    kb = v.draught_m * (5.0 / 6.0 - block / (3.0 * waterplane))
    inertia = 0.1216 * waterplane - 0.0410
    volume = v.displacement_t / SEA_DENSITY_T_M3
    bm = inertia * v.length_waterline_m * v.beam_waterline_m**3 / volume
    value = max(kb + bm - v.gm_m, 0.3 * v.draught_m)
    return value, "KB by Morrish, BM by D'Arcangelo's fit (from memory), less GM; +-0.5 m"


def natural_period(v: VesselSection) -> Estimated:
    """2008 IS Code."""
    value = float(
        roll_period_is_code_s(v.length_waterline_m, v.beam_waterline_m, v.draught_m, v.gm_m)
    )
    return value, "2008 IS Code, Part A 2.3: T = 2 C B / sqrt(GM)"


def entrance_length(v: VesselSection) -> Estimated:
    """Assumed share of length."""
    return 0.40 * v.length_waterline_m, "0.40 x waterline length (assumption)"


def run_length(v: VesselSection) -> Estimated:
    """Assumed share of length."""
    return 0.31 * v.length_waterline_m, "0.31 x waterline length (assumption)"


def longitudinal_gyradius(v: VesselSection) -> Estimated:
    """ITTC default for model tests."""
    return 0.25 * v.length_waterline_m, "0.25 x waterline length (common practice)"


def generators(v: VesselSection) -> Estimated:
    """Hotel load of a yacht of her weight. [l/h]"""
    return GENERATOR_L_PER_H_T * v.displacement_t, (
        f"{GENERATOR_L_PER_H_T:g} l/h for each tonne of displacement (assumption)"
    )


def windage(v: VesselSection) -> dict[str, Estimated]:
    """Areas above the water of a yacht of her length and beam; [m2] and [m]."""
    length, beam = v.length_waterline_m, v.beam_waterline_m
    return {
        "frontal_area_m2": (FRONTAL * beam**2, f"{FRONTAL:g} x beam squared (assumption)"),
        "lateral_area_m2": (
            LATERAL * length * beam,
            f"{LATERAL:g} x waterline length x beam (assumption)",
        ),
        "lateral_centroid_above_waterline_m": (
            CENTROID * beam,
            f"{CENTROID:g} x beam (assumption)",
        ),
    }


class RollDampingEstimate:
    """Hull damping by the simplified Ikeda method and hull lift, kept in its limits.

    The regression is used inside its limits only: values outside are set to the nearest
    limit, and the method's sentence says which.
    """

    def __init__(
        self,
        v: VesselSection,
        roll: RollSection,
        *,
        block: float,
        midship: float,
        axis_above_waterline_m: float,
        natural_period_s: float,
    ) -> None:
        omega = 2.0 * math.pi / natural_period_s
        stiffness = float(righting_stiffness_n_m(v.displacement_t, v.gm_m))
        hull = IkedaHull(
            length_m=v.length_waterline_m,
            beam_m=v.beam_waterline_m,
            draught_m=v.draught_m,
            block_coefficient=block,
            midship_coefficient=midship,
            og_m=-axis_above_waterline_m,
            keel_length_m=roll.bilge_keel_length_m or 0.0,
            keel_breadth_m=roll.bilge_keel_breadth_m or 0.0,
        )
        out = [name for name, bad in outside_limits(hull, omega).items() if bad]

        def held(name: str, value: float) -> float:
            low, high = LIMITS[name]
            return min(max(value, low), high)

        draught = v.beam_waterline_m / held("beam / draught", v.beam_waterline_m / v.draught_m)
        depth = held("roll axis depth / draught", -axis_above_waterline_m / draught)
        inside = IkedaHull(
            length_m=hull.length_m,
            beam_m=hull.beam_m,
            draught_m=draught,
            block_coefficient=held("block coefficient", block),
            midship_coefficient=held("midship coefficient", midship),
            og_m=depth * draught,
            keel_length_m=hull.keel_length_m,
            keel_breadth_m=hull.keel_breadth_m,
        )
        total = ikeda_damping(inside, omega, _IKEDA_AMPLITUDES_DEG * DEG_RAD).total
        ratio = ratio_from_dimensionless(
            total, v.displacement_t, v.beam_waterline_m, stiffness, omega
        )
        slope = float((ratio[1] - ratio[0]) / np.diff(_IKEDA_AMPLITUDES_DEG * DEG_RAD)[0])
        self.quadratic = max(slope * 3.0 * math.pi / 4.0, 0.0)
        linear = float(ratio[0]) - slope * float(_IKEDA_AMPLITUDES_DEG[0]) * DEG_RAD
        self.linear = max(linear, LEAST_DAMPING)
        lift = hull_lift_damping_n_m_s(
            v.length_waterline_m,
            v.beam_waterline_m,
            v.draught_m,
            min(midship, 0.99),
            -axis_above_waterline_m,
            KNOT_M_S,
        )
        self.per_kn = float(ratio_from_moment_rate(lift, stiffness, omega))
        keels = "" if hull.keel_breadth_m else ", no bilge keels given"
        self.method = f"simplified Ikeda method at rest, 3 to 10 deg of roll{keels}"
        if linear < LEAST_DAMPING:
            self.method += (
                f"; linear part {linear:.3f} raised to {LEAST_DAMPING}, the low end of common "
                "practice, for rudders, skegs and shafts"
            )
        if out:
            self.method += f"; outside its limits and held at them: {', '.join(out)}"
        self.method_per_kn = "hull lift, ITTC 7.5-02-07-04.5"


def stall_angle(fins: FinsSection) -> Estimated:
    """Lloyd's fit on the effective aspect ratio."""
    a = 2.0 * fins.aspect_ratio
    stall_rad = 1.05 - 0.445 * a + 0.075 * a**2 if a <= 3.0 else 0.39
    # The parabola turns below its lowest value near 2.97; 0.39 rad is its floor.
    return rad_to_deg(max(stall_rad, 0.39)), "Lloyd 1989 (from memory), aspect ratio 2 x geometric"


def fin_efficiency(fins: FinsSection, length_m: float) -> Estimated:
    """Boundary layer of a flat plate, and a middling loss to the gap at the root."""
    run = length_m / 2.0 - fins.x_m if fins.x_m is not None else 0.5 * length_m
    run = max(run, 0.1 * length_m)
    speed = fins.reference_speed_kn * KNOT_M_S
    layer = 0.377 * run * (speed * run / NU_SEA_M2_S) ** -0.2
    outreach = math.sqrt(max(fins.area_m2 * fins.aspect_ratio, 1e-6))
    boundary = 1.0 - 2.0 / 9.0 * min(layer / outreach, 1.0)
    return 0.925 * boundary, (
        "flat-plate boundary layer at the reference speed x 0.925 for the root gap, "
        "the middle of 0.85 to 1.0"
    )
