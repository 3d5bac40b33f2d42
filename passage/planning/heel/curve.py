"""The break-even of a passage: miles beyond which moving liquid is cheaper than the fins."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from passage.planning.heel.breakeven import BreakEven, break_even, fin_l_per_h_per_moment2
from passage.planning.heel.model import HeelProblem
from passage.planning.heel.points import N_PER_T
from passage.planning.voyage.prepare import Passage
from passage.planning.voyage.yacht import Yacht
from passage.units import knots_to_m_s

Array = npt.NDArray[np.float64]


def fin_price(yacht: Yacht, speed_m_s: npt.ArrayLike) -> Array:
    """Price of holding with the fins, by speed through the water. [l/h per (t m)^2]"""
    fins, engine = yacht.vessel.fins, yacht.engine
    return fin_l_per_h_per_moment2(
        speed_m_s,
        yacht.fin_drag,
        np.array([fin.lever_m for fin in fins]),
        np.array([fin.efficiency * fin.tandem_factor for fin in fins]),
        propulsive_efficiency=engine.propulsive_efficiency,
        litres_per_kwh=engine.litres_per_kwh,
    )


def passage_curve(passage: Passage, problem: HeelProblem) -> BreakEven | None:
    """Break-even against list and speed, for the best-placed pair of tanks."""
    yacht, vessel = passage.yacht, passage.vessel
    movable = [
        (abs(problem.tanks[i].y_m - problem.tanks[j].y_m), problem.tanks[i].density_t_m3)
        for i, j in problem.pairs
        if i >= 0 and j >= 0 and problem.tanks[i].holds != "ballast"
    ]
    if not yacht.has_fins or vessel.transfer is None or not movable:
        return None
    lever, density = max(movable)
    ballast = [abs(t.y_m) for t in problem.tanks if t.holds == "ballast" and t.y_m != 0.0]
    speeds_kn = np.linspace(vessel.propulsion.speed_kn[0], vessel.propulsion.speed_kn[-1], 10)
    speed = knots_to_m_s(speeds_kn)
    fins = yacht.fins_at(speed)
    moment = np.sum(fins.moment_ratio, axis=-1) * yacht.righting_n_m_per_rad / N_PER_T
    hotel = vessel.hotel
    hydraulics = (hotel.fins_kw_active - hotel.fins_kw_centred) / 1000.0
    hydraulics *= hotel.generator_specific_fuel_g_per_kwh / vessel.propulsion.fuel_density_t_m3
    limit = vessel.limits.underway.steady_heel_deg
    return break_even(
        speeds_kn,
        np.arange(0.25, 3.01, 0.25),
        fin_l_per_h_per_moment2=fin_price(yacht, speed),
        fin_moment_max_t_m=float(np.min(yacht.offset_most_rad)) * moment,
        displacement_t=vessel.particulars.displacement_t,
        gm_m=vessel.particulars.gm_m,
        transfer_fixed_l=problem.transfer_fixed_l,
        pump_l_per_m3=problem.pump_l_per_m3,
        lever_m=lever,
        density_t_m3=density,
        hull_fuel_l_per_h=yacht.curve.fuel(speed),
        ballast_lever_m=max(ballast) if ballast else None,
        work_l_per_h=max(hydraulics, 0.0),
        limit_deg=limit,
    )
