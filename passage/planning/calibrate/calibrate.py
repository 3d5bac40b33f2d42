"""Fit values of the vessel file to a log: roll first, then fuel with that roll.

For roll: a factor on all hull damping, one on the fins' efficiency, and the wave slope
coefficient. For fuel: a smooth correction of the owner's speed-fuel points, after subtracting
the computed fuel for waves, wind and working fins. A value that the log cannot determine stays
as it is, with the reason.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from passage.errors import LogError
from passage.inputs.forecast import Forecast
from passage.inputs.records.log import PassageLog
from passage.inputs.vessel import Vessel, update_vessel_text, vessel_from_text
from passage.planning.calibrate.doubts import doubtful, impossible, own_slope
from passage.planning.calibrate.fit import (
    CONFIDENCE,
    Fit,
    FittedKey,
    Parameter,
    fit_logarithms,
)
from passage.planning.calibrate.keys import (
    FUEL_POINTS,
    ROLL_DOUBT,
    Slope,
    fuel_keys,
    roll_keys,
    rounded,
)
from passage.planning.calibrate.model import FuelModel, RollModel
from passage.planning.calibrate.sea import logged_sea
from passage.units import m_s_to_knots, rad_to_deg

Array = npt.NDArray[np.float64]

#: Largest standard error with which a value is accepted: of a roll parameter, and of the fuel.
WORST_ROLL_ERROR = 0.50
WORST_FUEL_ERROR = 0.05
#: Least ratio of the highest to the lowest speed for a tilt, and for a bend, of the fuel curve.
TILT_SPEEDS, BEND_SPEEDS = 1.15, 1.40
#: Least number of intervals of a kind.
FEWEST = 4
#: Scatter of roll above which the sea is doubtful (assumption).
WIDE_SCATTER = 0.15
#: Accuracy of reading instruments, 1 % at best.
_LEAST_SCATTER = 0.01

#: Parameters of roll; ``doubt`` is the standard error of a value of the file that is not fitted
#: (assumption).
ROLL_PARAMETERS = (
    Parameter(
        name="wave_slope",
        words="the wave slope coefficient",
        worst_error=WORST_ROLL_ERROR,
        doubt=0.20,
    ),
    Parameter(
        name="fin_efficiency",
        words="the fins' efficiency",
        worst_error=WORST_ROLL_ERROR,
        doubt=0.15,
    ),
    Parameter(
        name="damping",
        words="the hull's damping",
        worst_error=WORST_ROLL_ERROR,
        doubt=0.30,
    ),
)
_DECAY = "a roll decay at the berth (passage decay) gives the damping on its own"
#: Record that separates one roll parameter from the others.
_REMEDIES = {
    "wave_slope": _DECAY,
    "damping": _DECAY,
    "fin_efficiency": "intervals with the fins centred, in the same seas, separate the fins from "
    "the "
    "hull",
}
FUEL_PARAMETERS = (
    Parameter(
        name="fuel_level", words="the level of the fuel", worst_error=WORST_FUEL_ERROR, doubt=0.02
    ),
    Parameter(
        name="fuel_tilt", words="its growth with speed", worst_error=WORST_FUEL_ERROR, doubt=0.02
    ),
    Parameter(
        name="fuel_bend", words="the bend of the curve", worst_error=WORST_FUEL_ERROR, doubt=0.02
    ),
)


@dataclass(frozen=True, eq=False)
class Compared:
    """Measured values, and computed ones before and after the fit; arrays (n,)."""

    measured: Array
    before: Array
    after: Array
    group: npt.NDArray[np.bool_]
    line: npt.NDArray[np.int64]

    def scatter(self, which: str) -> float:
        """rms of the logarithm of computed over measured, as a share."""
        ratio = np.log(getattr(self, which) / self.measured)
        return float(np.sqrt(np.mean(ratio**2)))


@dataclass(frozen=True, eq=False)
class Calibration:
    """Result of :func:`calibrate`.

    ``roll`` is in degrees rms and its ``group`` marks active fins; ``fuel`` is in l/h, at
    ``fuel_speed_kn``. ``refused`` has the values that stay as they are, with the reasons. If
    there are ``doubts`` about the log's units, no vessel file may be written.
    """

    keys: tuple[FittedKey, ...]
    refused: tuple[tuple[str, str], ...]
    notes: tuple[str, ...]
    roll: Compared | None
    fuel: Compared | None
    fuel_speed_kn: Array
    log_file: str
    doubts: tuple[str, ...] = ()

    def new_text(self, text: str) -> str:
        """Text of the vessel file with the fitted values, each with its band in a comment.

        A value whose band contains the old one stays as it was.

        Raises
        ------
        ValueError
            The text has a form that cannot be edited safely.
        """
        points = [key for key in self.keys if key.path[:2] == FUEL_POINTS]
        for key in self.keys:
            if key in points or not key.differs:
                continue
            band = f"{rounded(key.low):g} to {rounded(key.high):g}"
            note = f"from {self.log_file}, {100.0 * CONFIDENCE:.0f} % band {band}"
            text = update_vessel_text(text, {key.path: rounded(key.new)}, note=note)
        if moved := [key for key in points if key.differs]:
            error = max((key.high - key.low) / 2.0 / key.new for key in moved)
            fuel = [rounded(key.new) if key.differs else float(key.old) for key in points]
            text = update_vessel_text(
                text,
                {FUEL_POINTS: fuel},
                note=f"from {self.log_file}, {100.0 * CONFIDENCE:.0f} % band up to "
                f"{100.0 * error:.1f} % either way",
            )
        vessel_from_text(text)
        return text


def calibrate(log: PassageLog, vessel: Vessel, forecast: Forecast | None = None) -> Calibration:
    """Fit what the log can determine.

    Raises
    ------
    LogError
        Nothing can be fitted, or the log has faults; the message gives every reason.
    """
    sea = logged_sea(log, forecast)
    notes = list(sea.notes)
    roll_model = RollModel(vessel, log, sea)
    as_filed = FuelModel(roll_model, log, {}, own_slope(roll_model))
    if wrong := impossible(roll_model, as_filed, log):
        raise LogError("\n".join(f"{log.file}: {what}." for what in wrong))
    roll_fit, slope = _fit_roll(roll_model, notes)
    fuel_model = FuelModel(roll_model, log, roll_fit.shift, slope)
    fuel_fit = _fit_fuel(fuel_model)
    refused: list[tuple[str, str]] = []
    keys = roll_keys(roll_model, roll_fit, slope, refused)
    keys += fuel_keys(fuel_model, fuel_fit, vessel, refused)
    words = {p.name: p.words for p in (*ROLL_PARAMETERS, *FUEL_PARAMETERS)}
    for fit in (roll_fit, fuel_fit):
        refused += [(words[name], _with_remedy(name, why)) for name, why in fit.refused.items()]
    if not keys:
        reasons = "\n".join(f"  {what}: {why}" for what, why in refused)
        raise LogError(
            f"{log.file}: nothing can be fitted.\n{reasons}\n"
            "See docs/log-files.md for what makes a log useful."
        )
    roll = fuel = None
    if np.any(roll_model.use):
        number = isinstance(vessel.roll.wave_slope_coefficient, float)
        start: Slope = "number" if number else "formula"
        roll = Compared(
            rad_to_deg(roll_model.observed),
            rad_to_deg(np.exp(roll_model.log_roll({}, start))),
            rad_to_deg(np.exp(roll_model.log_roll(roll_fit.shift, slope))),
            roll_model.active[roll_model.use],
            log.line[roll_model.use],
        )
        notes += _far_off("roll", roll, roll_fit)
        if roll_fit.residual_rms > WIDE_SCATTER:
            notes.append(
                f"roll scatters by {100.0 * roll_fit.residual_rms:.0f} % about the fit: the sea "
                "of the log or forecast may not be the sea she was in, and the bands leave such "
                "an error out"
            )
    if np.any(fuel_model.use):
        fuel = Compared(
            fuel_model.observed,
            np.exp(fuel_model.log_fuel({})),
            np.exp(fuel_model.log_fuel(fuel_fit.shift)),
            roll_model.active[fuel_model.use],
            log.line[fuel_model.use],
        )
        notes += _far_off("fuel", fuel, fuel_fit)
    speed = m_s_to_knots(fuel_model.speed_m_s)
    return Calibration(
        tuple(keys), tuple(refused), tuple(notes), roll, fuel, np.asarray(speed), log.file,
        tuple(doubtful(as_filed)),
    )  # fmt: skip


def _with_remedy(name: str, reason: str) -> str:
    """A reason, with the record that would separate parameters that the log cannot."""
    if "cannot separate it from" not in reason or name not in _REMEDIES:
        return reason
    return f"{reason}; {_REMEDIES[name]}"


def _far_off(what: str, compared: Compared, fit: Fit) -> list[str]:
    """Note on intervals off by four times the scatter: slips of the pen, turns or stops."""
    far = np.abs(fit.residual) > 4.0 * max(fit.residual_rms, _LEAST_SCATTER)
    if not np.any(far):
        return []
    lines = ", ".join(str(line) for line in compared.line[far][:10])
    return [f"{what} is far from the fit in lines {lines}: look at them and run again"]


def _fit_roll(model: RollModel, notes: list[str]) -> tuple[Fit, Slope]:
    """Fit roll; a calculated wave slope is kept unless a number is better."""
    used = int(model.use.sum())
    known: dict[str, str] = {}
    works = model.active[model.use]
    if used < FEWEST:
        reason = (
            f"{used} intervals have roll, fin use, heading, sea and 3 kn or more; "
            f"{FEWEST} are needed"
        )
        known = {p.name: reason for p in ROLL_PARAMETERS}
    elif not model.vessel.fins:
        known["fin_efficiency"] = "the vessel file has no fins"
    elif int(works.sum()) < FEWEST:
        known["fin_efficiency"] = f"{int(works.sum())} intervals with the fins active"
    elif int((~works).sum()) < FEWEST:
        known["fin_efficiency"] = (
            f"{int((~works).sum())} intervals with the fins centred to compare with"
        )
    observed = np.log(model.observed)

    def run(
        slope: Slope, refused: dict[str, str], parameters: tuple[Parameter, ...] = ROLL_PARAMETERS
    ) -> Fit:
        return fit_logarithms(
            lambda shifts: model.log_roll(shifts, slope), observed, parameters, refused
        )

    if used < FEWEST:
        return fit_logarithms(lambda _: observed, observed, ROLL_PARAMETERS, known), "formula"
    if isinstance(model.vessel.roll.wave_slope_coefficient, float):
        return run("number", known), "number"
    # Keep the formula, with the uncertainty that the log leaves for a factor on it.
    stays = "the formula fits as well as any number"
    free = run("formula", known).standard_error("wave_slope")
    held = tuple(
        replace(p, doubt=min(p.doubt, free)) if p.name == "wave_slope" and free > 0.0 else p
        for p in ROLL_PARAMETERS
    )
    formula = run("formula", {**known, "wave_slope": stays}, held)
    number = run("number", known)
    # Akaike's criterion for the additional parameter. What it explains must also be more than
    # the uncertainty of the formula.
    squares = [float(np.sum(fit.residual**2)) for fit in (formula, number)]
    scores = [
        used * np.log(square + 1e-300) + 2 * len(fit.fitted)
        for square, fit in zip(squares, (formula, number), strict=True)
    ]
    explained = np.sqrt(max(squares[0] - squares[1], 0.0) / used)
    if "wave_slope" in number.fitted and scores[1] < scores[0] and explained > ROLL_DOUBT:
        notes.append("a number fits the roll better than the calculated wave slope")
        return number, "number"
    if "wave_slope" not in number.fitted:
        formula.refused["wave_slope"] = number.refused["wave_slope"]
    return formula, "formula"


def _fit_fuel(model: FuelModel) -> Fit:
    used = int(model.use.sum())
    known: dict[str, str] = {}
    observed = np.log(model.observed)
    if used < FEWEST:
        reason = (
            f"{used} intervals have fuel, fin use, heading, sea and a speed within the "
            f"speed-fuel points; {FEWEST} are needed"
        )
        known = {p.name: reason for p in FUEL_PARAMETERS}
        return fit_logarithms(lambda _: observed, observed, FUEL_PARAMETERS, known)
    spread = float(model.speed_m_s.max() / model.speed_m_s.min())
    for name, least in (("fuel_tilt", TILT_SPEEDS), ("fuel_bend", BEND_SPEEDS)):
        if spread < least:
            known[name] = (
                f"logged speeds differ by {100.0 * (spread - 1.0):.0f} %; "
                f"{100.0 * (least - 1.0):.0f} % are needed"
            )
    return fit_logarithms(model.log_fuel, observed, FUEL_PARAMETERS, known)
