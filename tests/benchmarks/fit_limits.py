"""Fit what the mean of three seas leaves of the error where fins are at limits.

    python tests/benchmarks/fit_limits.py simulate TRUTH.npz [CASES] [SEED] [wide]
    python tests/benchmarks/fit_limits.py table TRUTH.npz
    python tests/benchmarks/fit_limits.py fit TRUTH.npz [TRUTH.npz ...]

``simulate`` steps random cases in time (some 0.5 s each) and keeps what was found, ``table`` those
of ``time_domain_cases.py`` whose fins are steered; ``fit`` makes
``passage/physics/roll/limit_fit_numbers.py`` of it. Cases of ``time_domain_held_out.py`` are drawn
with other seeds and are never fitted to.
"""

from __future__ import annotations

import sys
import textwrap
from dataclasses import astuple, fields
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from roll_truth import Ship, System
from time_domain_cases import CASES, fins_of, linearised, sea_of, ship_of, simulated
from time_domain_held_out import Drawn, cases, energy_of

from passage.physics.fins.force import DEFAULT_POST_STALL_SLOPE
from passage.physics.roll import limit_fit, response, wave_groups
from passage.physics.roll.packing import FINS_OUT
from passage.physics.roll.radiation import no_radiation

HIDDEN, SHRINK, RUNS = 10, 1e-3, 1500
#: Error of roll, lift, travel (logarithm of rms, mean square, mean) and incidence beyond the
#: stall (logarithm of mean square) that counts as one, and from where it counts in proportion.
UNIT, LINEAR_FROM = np.array([2 * 0.02, 0.04, 0.04, 0.15]), 1.5
_ROW = {name: i for i, name in enumerate(FINS_OUT)}


def simulate(path: str, count: int, seed: int, wide: bool) -> None:
    """Draw and step cases, and keep them with what was found."""
    keep(path, cases(count, seed, at_least=0.003, wide=wide))


def simulate_table(path: str) -> None:
    """Step the cases of the table of docs/roll-validation.md, and keep them the same way."""
    some = [one for one in CASES if one.fins == "active"]
    keep(
        path,
        [
            Drawn(
                ship_of(one), sea_of(one), np.radians(one.heel_deg), simulated(one), linearised(one)
            )
            for one in some
        ],
    )


def keep(path: str, found: list[Drawn]) -> None:
    """Write cases with what the simulation found."""
    np.savez(
        path,
        ships=np.array([astuple(one.ship) for one in found], float),
        seas=np.array([astuple(one.sea) for one in found], float),
        heel=np.array([one.heel_rad for one in found]),
        truth=np.array(
            [
                (one.run.roll_rms**2, one.run.lift_square, one.run.fin_rate_mean,
                 one.run.beyond_square, one.busy)
                for one in found
            ]
        ),
    )  # fmt: skip


def one_case(ship: Ship, sea: System, heel_rad: float) -> tuple[np.ndarray, float, np.ndarray]:
    """Inputs of the fit, how far it counts, and the mean of three seas of its outputs."""
    nodes, energy = energy_of(ship, sea)
    factors = np.array([1.0, wave_groups.LESSER, wave_groups.GREATER])
    hull = response.HullRoll(ship.omega0, ship.zeta, ship.quadratic, heel_rad)
    _, seas, rows, blades = response._pack(factors[:, None] * energy, hull, fins_of(ship))
    rolls, fins = response._solve(seas, nodes, no_radiation(nodes).table, rows, blades)
    seas_rolls, seas_fins = rolls.T[:, None], np.moveaxis(fins, 1, 0)[:, :, None]
    put = limit_fit.limit_inputs(seas_rolls, seas_fins, ship.lag, ship.limit, ship.omega0)
    weight = wave_groups.group_weight(seas_fins[0], ship.lag, DEFAULT_POST_STALL_SLOPE, ship.moment)
    shares = wave_groups.group_shares(weight)
    roll = wave_groups.sums_over_groups(tuple(one.T for one in seas_rolls), shares)
    together = wave_groups.over_groups(tuple(seas_fins), shares)
    pair = together[:, 0, 0]
    lift = float(limit_fit.lift_square(together)[0, 0])
    mean = (roll[0, 0], lift, pair[_ROW["travel"]], pair[_ROW["beyond"]] ** 2)
    return put[0, 0], float(weight[0]), np.array(mean)


def fit(put: np.ndarray, weight: np.ndarray, left: np.ndarray, unit: np.ndarray, seed: int = 0):
    """Numbers of the network that brings ``weight`` times its answer to ``left``."""
    n, h, o = put.shape[1], HIDDEN, left.shape[1]
    sizes = np.cumsum([n * h, h, h * o, o])

    def parts(t):
        a, b, c, d = np.split(t, sizes[:-1])
        return a.reshape(n, h), b, c.reshape(h, o), d

    def loss(t):
        inner, start, outer, out_start = parts(t)
        u = put @ inner + start
        root = np.sqrt(1.0 + u * u)
        a = u / root
        e = (weight[:, None] * (a @ outer + out_start) - left) / unit
        q = np.sqrt(1.0 + (e / LINEAR_FROM) ** 2)
        g = weight[:, None] * e / q / unit / len(put)
        da = (g @ outer.T) / root**3
        value = np.sum(LINEAR_FROM**2 * (q - 1.0)) / len(put)
        value += SHRINK * (np.sum(inner**2) + 20.0 * np.sum(outer**2))
        slope = (put.T @ da + 2 * SHRINK * inner, da.sum(0))
        slope += (a.T @ g + 40.0 * SHRINK * outer, g.sum(0))
        return value, np.concatenate([one.ravel() for one in slope])

    rng = np.random.default_rng(seed)
    start = rng.normal(0.0, 0.3, sizes[-1]) * np.repeat((0.7, 1.0, 0.3, 0.0), np.diff([0, *sizes]))
    found = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": RUNS})
    return parts(found.x), float(found.fun)


def load(paths: list[str]) -> tuple[np.ndarray, ...]:
    """Inputs, weights, logarithms of what is left, and their units, of kept cases."""
    rows = []
    for path in paths:
        with np.load(path) as kept:
            together = [kept[name] for name in ("ships", "seas", "heel", "truth")]
        for ship, sea, heel, truth in zip(*together, strict=True):
            values = dict(zip((f.name for f in fields(Ship)), map(float, ship), strict=True))
            values["slope"] = None
            spread = None if np.isnan(sea[4]) else float(sea[4])
            put, weight, mean = one_case(Ship(**values), System(*sea[:4], spread), float(heel))
            if not np.all(np.isfinite(put)):
                continue
            # What is next to nothing beyond the stall is not fitted to.
            tells = min(truth[3], mean[3]) > 2e-3 * truth[1]
            left = np.log(
                truth[:4] / np.maximum(mean, 1e-30), where=truth[:4] > 0.0, out=np.zeros(4)
            )
            left[3] = left[3] if tells else 0.0
            unit = np.where([True, True, True, tells], UNIT, np.inf)
            rows.append((put, weight, left, unit, truth[4]))
    return tuple(np.array(column) for column in zip(*rows, strict=True))


def write(path: Path, numbers: dict[str, np.ndarray]) -> None:
    """The module of numbers, four digits each."""
    lines = ['"""Numbers of ``limit_fit.py``, made by ``tests/benchmarks/fit_limits.py``."""', ""]
    lines += ["from __future__ import annotations", "", "import numpy as np", ""]
    lines += ["# fmt: off"]
    for name, values in numbers.items():
        text = ", ".join(f"{value:.4g}" for value in values.ravel())
        end = f".reshape{values.shape}" if values.ndim == 2 else ""
        rows = textwrap.wrap(text, 95, initial_indent="    ", subsequent_indent="    ")
        lines += [f"{name} = np.array([", *rows, f"]){end}"]
    path.write_text("\n".join([*lines, "# fmt: on", ""]), encoding="utf-8")


def main() -> None:
    """Run."""
    what, *rest = sys.argv[1:]
    if what == "simulate":
        path, *more = rest
        count = int(more[0]) if more else 1000
        simulate(path, count, int(more[1]) if len(more) > 1 else 9001, "wide" in more)
        return
    if what == "table":
        simulate_table(rest[0])
        return
    put, weight, left, unit, _ = load(rest)
    centres, scales = put.mean(axis=0), put.std(axis=0)
    scaled = np.clip((put - centres) / scales, -limit_fit.FURTHEST, limit_fit.FURTHEST)
    tries = [fit(scaled, weight, left, unit, seed) for seed in range(3)]
    (inner, start, outer, out_start), _ = min(tries, key=lambda one: one[1])
    full = weight > 0.5
    numbers = {
        "CENTRES": centres, "SCALES": scales, "HIDDEN": inner, "HIDDEN_START": start,
        "OUTER": outer, "OUTER_START": out_start,
        "SMALLEST": left[full].min(axis=0),
        "LARGEST": left[full].max(axis=0),
    }  # fmt: skip
    write(Path(limit_fit.__file__).with_name("limit_fit_numbers.py"), numbers)


if __name__ == "__main__":
    main()
