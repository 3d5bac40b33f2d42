"""Time of the spectral roll: 100,000 points, three wave systems, one core.

    OMP_NUM_THREADS=1 python tests/benchmarks/bench_roll.py [points]

Prints a Markdown table of processor time: gathering the excitation, then roll with fins centred and
active, for one and for two pairs. Speeds are one node of
the tables ("one speed") or anywhere between 8 and 14 knots ("many speeds").
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parents[2])]

from passage.physics.fins.force import Fins
from passage.physics.roll.excitation import roll_excitation_kernel
from passage.physics.roll.response import HullRoll, solve_roll
from passage.physics.waves.spectrum import COS2_WIDTH_RAD, SWELL_WIDTH_RAD
from passage.physics.waves.table import SpeedTables
from passage.units import KNOT_M_S

CHUNK = 10_000


def run(points: int, pairs: int, many_speeds: bool) -> tuple[float, float, float]:
    """Processor seconds for excitation, centred and active, chunk by chunk."""
    rng = np.random.default_rng(0)
    kernel = roll_excitation_kernel(0.8164, 9.0)
    tables = SpeedTables(kernel)
    gamma = np.array([3.3, 5.0, 5.0])
    width = np.array([COS2_WIDTH_RAD, SWELL_WIDTH_RAD, SWELL_WIDTH_RAD])
    fins = Fins(
        np.full(pairs, 0.125 / pairs), np.full(pairs, 0.583), np.radians(25), np.radians(30), 0.2,
        np.radians(26.4), 0.5, 0.5, 4.0, 0.0, np.radians(4),
    )  # fmt: skip
    hull = HullRoll(0.8164, 0.04, 0.15, np.radians(1))
    spent = np.zeros(3)
    for warm in (True, False):
        spent[:] = 0.0
        for start in range(0, points, CHUNK):
            n = min(CHUNK, points - start)
            speed = rng.uniform(8, 14, n) if many_speeds else np.full(n, 12.0)
            args = (
                speed * KNOT_M_S, rng.uniform(0.3, 2.5, (n, 3)), rng.uniform(3, 15, (n, 3)),
                rng.uniform(0, np.pi, (n, 3)), gamma, width,
            )  # fmt: skip
            t0 = time.process_time()
            excitation = tables.variance(*args)
            t1 = time.process_time()
            solve_roll(excitation, kernel.nodes_rad_s, hull, fins.centred())
            t2 = time.process_time()
            solve_roll(excitation, kernel.nodes_rad_s, hull, fins)
            t3 = time.process_time()
            spent += (t1 - t0, t2 - t1, t3 - t2)
            if warm:
                break
    return tuple(spent)


def build_time() -> float:
    """Seconds to integrate one more speed for two spectral shapes."""
    tables = SpeedTables(roll_excitation_kernel(0.8164, 9.0))
    shapes = ([1.0, 1.0], [8.0, 9.0], [1.0, 1.0], [3.3, 5.0], [COS2_WIDTH_RAD, SWELL_WIDTH_RAD])
    tables.variance(5.0 * KNOT_M_S, *shapes)
    start = time.process_time()
    tables.variance(6.0 * KNOT_M_S, *shapes)
    return time.process_time() - start


def main(points: int) -> None:
    """Run and print."""
    print("| pairs | speeds | excitation s | centred s | active s | together s |")
    print("|---|---|---|---|---|---|")
    for pairs in (1, 2):
        for many in (False, True):
            t = run(points, pairs, many)
            speeds = "many" if many else "one"
            print(
                f"| {pairs} | {speeds} | {t[0]:.2f} | {t[1]:.2f} | {t[2]:.2f} | {sum(t):.2f} |",
                flush=True,
            )
    print(f"\nbuilding a speed with two shapes: {build_time():.2f} s")
    print(f"largest memory: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
