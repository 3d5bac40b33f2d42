"""Fitted shifts as new values of keys of the vessel file, with their bands."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Literal

import numpy as np

from passage.inputs.vessel import Vessel
from passage.planning.calibrate.fit import Fit, FittedKey, KeyPath
from passage.planning.calibrate.model import FuelModel, RollModel
from passage.units import knots_to_m_s

Slope = Literal["formula", "number"]

#: Largest credible efficiency of fins; above it another value of the file is wrong.
MOST_EFFICIENCY = 1.2
_DIGITS = 4
#: Standard error of the fuel for each e-fold of speed outside the logged ones, where hull and
#: propeller may differ from the owner's points (assumption).
OUTSIDE_DOUBT = 0.25
#: Standard error of roll values due to the roll calculation (simulations in time: 5 %).
ROLL_DOUBT = 0.05
#: Half-width, in standard errors, of the bands for roll calculation, cost of the sea and speed
#: outside the log: a normal error with its 5 % shared between the three, so that all bands hold
#: together.
DOUBT_FACTOR = 2.39
FUEL_POINTS = ("propulsion", "fuel_l_per_h")


def rounded(value: float) -> float:
    """Value rounded as in the vessel file."""
    return float(f"{value:.{_DIGITS}g}")


def roll_keys(
    model: RollModel, fit: Fit, slope: Slope, refused: list[tuple[str, str]]
) -> list[FittedKey]:
    """Fitted roll values with their bands; reasons for values not written go to ``refused``."""
    keys: list[FittedKey] = []

    def scaled(path: KeyPath, words: str, unit: str, old: float, name: str) -> FittedKey:
        scatter = fit.coverage_factor * fit.standard_error(name)
        shift, half = fit.shift[name], float(np.hypot(scatter, DOUBT_FACTOR * ROLL_DOUBT))
        low, new, high = (old * float(np.exp(shift + d)) for d in (-half, 0.0, half))
        return FittedKey(path=path, words=words, unit=unit, old=old, new=new, low=low, high=high)

    roll = model.vessel.roll
    if "wave_slope" in fit.fitted and slope == "number":
        key = scaled(
            ("roll", "wave_slope_coefficient"),
            "wave slope coefficient",
            "",
            model.start_number,
            "wave_slope",
        )
        if isinstance(roll.wave_slope_coefficient, str):
            # With strip theory the number is a factor on it; the formula equals no such number.
            by_strips = model.yacht.strips is not None
            key = replace(
                key, old=roll.wave_slope_coefficient, stands_for=1.0 if by_strips else None
            )
        keys.append(key)
    if "damping" in fit.fitted:
        for name, words, unit in (
            ("damping_ratio", "damping ratio at rest", ""),
            ("damping_ratio_per_kn", "growth of damping with speed", "per kn"),
            ("quadratic_damping", "quadratic damping", "per rad"),
        ):
            old = float(getattr(roll, name))
            if old > 0.0:
                keys.append(scaled(("roll", name), words, unit, old, "damping"))
    if "fin_efficiency" in fit.fitted:
        pairs = [
            scaled(
                ("fins", at, "efficiency"),
                f"efficiency of the fins {pair.position}",
                "",
                pair.efficiency,
                "fin_efficiency",
            )
            for at, pair in enumerate(model.vessel.fins)
        ]
        worst = max(pairs, key=lambda key: key.new)
        if worst.new > MOST_EFFICIENCY:
            refused.append(
                (
                    "the fins' efficiency",
                    f"the best value, {worst.new:.2f}, is above {MOST_EFFICIENCY:g}: area, "
                    "lever or gains of the fins are set too low",
                )
            )
        else:
            keys += pairs
    return keys


def fuel_keys(
    model: FuelModel, fit: Fit, vessel: Vessel, refused: list[tuple[str, str]]
) -> list[FittedKey]:
    """Corrected fuel at each of the owner's speeds; outside the log its end values hold."""
    if not fit.fitted:
        return []
    propulsion = vessel.propulsion
    keys: list[FittedKey] = []
    for at, (knots, old) in enumerate(
        zip(propulsion.speed_kn, propulsion.fuel_l_per_h, strict=True)
    ):
        speed = float(knots_to_m_s(knots))
        x = float(model.place(speed))
        weights = {"fuel_level": 1.0, "fuel_tilt": x, "fuel_bend": x**2 - 1.0 / 3.0}
        shift = float(model.correction(fit.shift, speed))
        # Uncertainties that do not show in the scatter of the log.
        doubt = np.hypot(model.price_doubt(speed), model.outside(speed) * OUTSIDE_DOUBT)
        half = float(np.hypot(fit.coverage_factor * fit.error_of(weights), DOUBT_FACTOR * doubt))
        low, new, high = (old * float(np.exp(shift + d)) for d in (-half, 0.0, half))
        keys.append(
            FittedKey(
                path=(*FUEL_POINTS, at),
                words=f"fuel at {knots:g} kn",
                unit="l/h",
                old=old,
                new=new,
                low=low,
                high=high,
            )
        )
    written = [rounded(key.new) if key.differs else float(key.old) for key in keys]
    if any(faster <= slower for slower, faster in pairwise(written)):
        refused.append(
            ("the speed-fuel points", "the corrected fuel would not rise with speed everywhere")
        )
        return []
    return keys
