"""How often the bands of ``passage calibrate`` hold the truth: 200 logs of five invented vessels.

    python docs/tools/check_calibration.py [logs a vessel]

Each vessel has true numbers of her own for wave slope, damping, fins and fuel, three of
the five a list; each log has its own noise, and a part of it 5 % of roll and 12 % of the
waves' and wind's price that no fit can know (the doubts that docs/calibration.md states).
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

import calibration_scenario as scenario  # noqa: E402

from passage.errors import LogError  # noqa: E402
from passage.inputs.records.log import parse_log  # noqa: E402
from passage.inputs.vessel import update_vessel_text, vessel_from_text  # noqa: E402
from passage.planning.calibrate.calibrate import calibrate  # noqa: E402
from passage.planning.calibrate.keys import ROLL_DOUBT  # noqa: E402
from passage.planning.calibrate.model import PRICE_DOUBT  # noqa: E402

#: Slope, factor on damping, fin efficiency, level, tilt and bend of the fuel, list [deg],
#: intervals logged.
VESSELS = (
    (0.66, 1.35, 0.74, 1.07, 1.04, 1.00, 0.0, 120),
    (0.90, 0.80, 0.95, 0.96, 0.98, 1.02, 1.5, 90),
    (0.75, 1.00, 0.85, 1.00, 1.00, 1.00, -3.0, 60),
    (0.85, 1.20, 0.70, 1.12, 0.95, 0.98, 2.0, 150),
    (0.70, 0.90, 1.00, 0.92, 1.06, 1.01, 0.0, 45),
)


@dataclass
class Held:
    """Counts of one vessel: bands that hold their truth, logs of which all do, values written."""

    bands: int = 0
    of: int = 0
    together: int = 0
    logs: int = 0
    fuel: int = 0
    fuel_of: int = 0
    written: int = 0
    better: int = 0
    refused: int = 0


def texts(numbers: tuple[float, ...]) -> tuple[str, str]:
    """The vessel file and the true vessel's."""
    slope, damping, efficiency, level, tilt, bend, list_deg, _ = numbers
    start = update_vessel_text(scenario.file_text(), {("loading", "list_deg"): list_deg})
    vessel = vessel_from_text(start)
    speed = np.array(vessel.propulsion.speed_kn)
    low, high = scenario.SPEEDS_KN[0], scenario.SPEEDS_KN[-1]
    # Unlike the fit's, the true curve goes on bending outside the logged speeds.
    place = np.log(speed / np.sqrt(low * high)) / (0.5 * np.log(high / low))
    fuel = np.array(vessel.propulsion.fuel_l_per_h) * level * tilt**place
    fuel *= bend ** (place**2 - 1.0 / 3.0)
    roll = vessel.roll
    true = {
        ("roll", "wave_slope_coefficient"): slope,
        ("roll", "damping_ratio"): roll.damping_ratio * damping,
        ("roll", "damping_ratio_per_kn"): roll.damping_ratio_per_kn * damping,
        ("roll", "quadratic_damping"): roll.quadratic_damping * damping,
        ("fins", 0, "efficiency"): efficiency,
        ("propulsion", "fuel_l_per_h"): [float(value) for value in fuel],
    }
    return start, update_vessel_text(start, true)


def check(numbers: tuple[float, ...], logs: int, seed: int = 1) -> Held:
    """Calibrate so many logs of one vessel from the file, and count."""
    start, true_text = texts(numbers)
    file, true = vessel_from_text(start), vessel_from_text(true_text)
    voyages = scenario.Voyages(int(numbers[-1]), true)
    calm = _still(voyages, true)
    extra = voyages.fuel - calm
    truth = _values(true)
    rng = np.random.default_rng(seed)
    held = Held()
    roll, fuel = voyages.roll_deg.copy(), voyages.fuel.copy()
    for at in range(logs):
        voyages.roll_deg = roll * np.exp(ROLL_DOUBT * rng.standard_normal())
        voyages.fuel = calm + extra * (1.0 + PRICE_DOUBT * rng.standard_normal())
        log = parse_log(voyages.csv(1000 * seed + at), file="log.csv")
        voyages.roll_deg, voyages.fuel = roll, fuel
        try:
            found = calibrate(log, file, voyages)
        except LogError:
            held.refused += 1
            continue
        good = [key.low <= truth[key.path] <= key.high for key in found.keys]
        is_fuel = [key.path[0] == "propulsion" for key in found.keys]
        held.bands += sum(good)
        held.of += len(good)
        held.fuel += sum(g for g, f in zip(good, is_fuel, strict=True) if f)
        held.fuel_of += sum(is_fuel)
        held.together += all(good)
        held.logs += 1
        for key in found.keys:
            if key.differs:
                held.written += 1
                old, right = float(key.old), truth[key.path]
                held.better += abs(np.log(key.new / right)) < abs(np.log(old / right))
    return held


def _values(vessel) -> dict[tuple, float]:  # type: ignore[no-untyped-def]
    values = {
        ("roll", name): getattr(vessel.roll, name)
        for name in (
            "wave_slope_coefficient", "damping_ratio", "damping_ratio_per_kn", "quadratic_damping",
        )
    }  # fmt: skip
    values["fins", 0, "efficiency"] = vessel.fins[0].efficiency
    for at, fuel in enumerate(vessel.propulsion.fuel_l_per_h):
        values["propulsion", "fuel_l_per_h", at] = fuel
    return values


def _still(voyages, vessel) -> np.ndarray:  # type: ignore[no-untyped-def]
    """Fuel in still water at the logged speeds [l/h]."""
    from passage.physics.fuel.propulsion import displacement_factor
    from passage.planning.voyage.yacht import Yacht

    yacht = Yacht(vessel)
    still = yacht.curve.fuel(voyages.speed_kn * scenario.KNOT_M_S)
    return np.asarray(still * displacement_factor(yacht.displacement_ratio))


def main(logs: int = 40) -> None:
    """Print a row a vessel and the sum."""
    whole = Held()
    sys.stdout.write(
        "vessel  logs  all hold  bands hold  fuel bands hold  written  nearer the truth\n"
    )
    for number, numbers in enumerate(VESSELS, 1):
        held = check(numbers, logs, number)
        for name in vars(whole):
            setattr(whole, name, getattr(whole, name) + getattr(held, name))
        sys.stdout.write(_row(str(number), held))
        sys.stdout.flush()
    sys.stdout.write(_row("all", whole))


def _row(name: str, held: Held) -> str:
    shares = (
        held.together / max(held.logs, 1),
        held.bands / max(held.of, 1),
        held.fuel / max(held.fuel_of, 1),
    )
    nearer = held.better / max(held.written, 1)
    words = "  ".join(f"{100.0 * share:5.1f} %" for share in shares)
    refused = f", {held.refused} refused" if held.refused else ""
    return (
        f"{name:>6}  {held.logs:4d}  {words}  {held.written:5d}  {100.0 * nearer:5.1f} %{refused}\n"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
