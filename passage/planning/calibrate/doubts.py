"""Logs that do not fit this yacht: other units, slips of the pen, missing seas.

The log is compared with the vessel file before anything is fitted, because a fit would turn
gallons in place of litres into a new speed-fuel curve with a narrow band.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
import numpy.typing as npt

from passage.inputs.records.log import PassageLog
from passage.planning.calibrate.model import FuelModel, RollModel
from passage.units import rad_to_deg

Array = npt.NDArray[np.float64]

#: Factor between the fuel of a whole log and the vessel file above which it cannot be her fuel:
#: fouling, weather and instruments together stay within a third (common practice, no source).
_NOT_HERS = 1.35
#: Factor from which the unit of the log is in question.
_ASK = 1.12
#: Largest difference from a known factor, as a logarithm, that counts as that factor.
_NEAR = 0.08
#: Factor between one interval and the others that makes it a slip of the pen.
_SLIP_FUEL, _SLIP_ROLL = 4.0, 6.0
#: Least roll that is compared with its sea. [rad rms]
_SMALL_ROLL_RAD = float(np.radians(1.0))
_SHOWN = 10


def impossible(roll: RollModel, fuel: FuelModel, log: PassageLog) -> list[str]:
    """Faults that must be put right before anything is fitted, one sentence each.

    Parameters
    ----------
    roll, fuel : RollModel, FuelModel
        Models of the log with the values of the vessel file.
    log : PassageLog
        The log.
    """
    found = []
    line = log.line
    if np.any(fuel.use):
        ratio = fuel.observed / np.exp(fuel.log_fuel({}))
        middle = float(np.median(ratio))
        far = np.abs(np.log(ratio / middle)) > np.log(_SLIP_FUEL)
        found += _slips("fuel_l_per_h", "l/h", fuel.observed, far, line[fuel.use])
        if abs(np.log(middle)) > np.log(_NOT_HERS):
            found.append(
                f"fuel_l_per_h is {middle:.3g} times what the vessel file makes likely"
                f"{_unit_words(middle, fuel)}. Give litres an hour of the main engines, or "
                "correct the speed-fuel points of the vessel file"
            )
    calm = (roll.sea.known) & (np.nansum(roll.sea.height_m**2, axis=-1) <= 0.0)
    rolling = calm & (np.nan_to_num(log.roll_rms_rad) > _SMALL_ROLL_RAD / 2.0)
    if np.any(rolling):
        found.append(
            f"significant_height_m is 0 where she rolls, in lines {_lines(line[rolling])}. Leave "
            "the cells of the sea empty where it is not known"
        )
    if np.any(roll.use):
        measured = roll.observed
        ratio = measured / np.exp(roll.log_roll({}, own_slope(roll)))
        known = np.isfinite(ratio) & (measured > _SMALL_ROLL_RAD)
        if np.count_nonzero(known) >= 4:
            far = known & (np.abs(np.log(ratio / np.median(ratio[known]))) > np.log(_SLIP_ROLL))
            found += _slips("roll_rms_deg", "deg", rad_to_deg(measured), far, line[roll.use])
    return found


def own_slope(roll: RollModel) -> Literal["formula", "number"]:
    """Kind of wave slope coefficient in the vessel file."""
    return "formula" if roll.vessel.roll.wave_slope_coefficient == "formula" else "number"


def doubtful(fuel: FuelModel) -> list[str]:
    """Possible wrong units, one sentence each; with any of them no vessel file is written."""
    if not np.any(fuel.use):
        return []
    middle = float(np.median(fuel.observed / np.exp(fuel.log_fuel({}))))
    words = _unit_words(middle, fuel)
    if abs(np.log(middle)) <= np.log(_ASK) or not words:
        return []
    return [f"fuel_l_per_h is {middle:.3g} times what the vessel file makes likely{words}"]


def _unit_words(factor: float, fuel: FuelModel) -> str:
    """Likely cause of a factor on all fuel, or an empty text."""
    density = fuel.yacht.vessel.propulsion.fuel_density_t_m3
    causes = {
        1.0 / 3.785: "US gallons",
        1.0 / 4.546: "imperial gallons",
        3.785: "litres in the log and US gallons in the vessel file",
        4.546: "litres in the log and imperial gallons in the vessel file",
        density: "kilograms",
        1.0 / density: "litres in the log and kilograms in the vessel file",
        density / 1000.0: "tonnes",
        0.001: "cubic metres",
        0.5: "one engine of two",
        2.0: "both engines, where the vessel file has one",
        24.0: "litres a day",
        60.0: "litres an hour counted by the minute",
    }
    near = min(causes, key=lambda one: abs(np.log(factor / one)))
    return f": {causes[near]}?" if abs(np.log(factor / near)) < _NEAR else ""


def _slips(
    name: str, unit: str, values: Array, far: npt.NDArray[np.bool_], line: npt.NDArray[np.int64]
) -> list[str]:
    # If many are far off, the model or the unit is wrong and not single intervals.
    if not np.any(far) or np.count_nonzero(far) > max(0.1 * far.size, 1):
        return []
    shown = ", ".join(
        f"line {number}: {value:g} {unit}"
        for number, value in list(zip(line[far], values[far], strict=True))[:_SHOWN]
    )
    return [f"{name} is far from the other intervals ({shown}). Correct or remove them"]


def _lines(lines: npt.NDArray[np.int64]) -> str:
    more = f" and {lines.size - _SHOWN} more" if lines.size > _SHOWN else ""
    return ", ".join(map(str, lines[:_SHOWN])) + more
