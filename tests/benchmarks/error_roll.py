"""Error table of the spectral roll against direct 1000 x 720 integration.

    python tests/benchmarks/error_roll.py [seas per kind] [between] [kind ...]

With "between" speeds fall between the speed nodes of the tables. Prints a
Markdown table; 500 seas per kind take about twenty minutes on one core.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parents[2])]

from roll_seas import KINDS, Tabled, centred, random_case
from roll_truth import direct


def row(kind: str, fins: str, errors: list[float]) -> str:
    """One row of the table."""
    high = np.percentile(errors, 99)
    return (
        f"| {kind} | {fins} | {len(errors)} | {np.median(errors):.3f} "
        f"| {high:.3f} | {max(errors):.3f} |"
    )


def main(seas: int, between: bool, kinds: list[str]) -> None:
    """Run and print."""
    print("| seas | fins | n | median % | 99 % | largest % | not stable |")
    print("|---|---|---|---|---|---|---|")
    everything: dict[str, list[float]] = {"centred": [], "active": []}
    worst = []
    start = time.perf_counter()
    for kind in kinds:
        rng = np.random.default_rng([20260314, KINDS.index(kind)])
        errors: dict[str, list[float]] = {"centred": [], "active": []}
        skipped = 0
        speeds = [1.2, 8.2, 10.3, 12.25, 15.3] if between else [1.0, 8.0, 10.0, 12.0, 15.0]
        places = [(knots, omega0) for knots in speeds for omega0 in (0.6, 0.8164)]
        for n in range(seas):
            # One speed after the other, so that few tables are held at a time.
            if n * len(places) % seas < len(places):
                tabled = Tabled()
            knots, omega0 = places[n * len(places) // seas]
            systems, ship = random_case(rng, kind, knots * 1852 / 3600, omega0)
            for name, case in (("centred", centred(ship)), ("active", ship)):
                answer = tabled.roll(systems, case)
                if np.isnan(answer):
                    skipped += 1
                    continue
                truth = direct(systems, case)["roll"]
                errors[name].append(100 * abs(answer / truth - 1))
                worst.append((errors[name][-1], name, kind, systems, case))
        for name, e in errors.items():
            everything[name] += e
            print(row(kind, name, e), f" {skipped} |", sep="", flush=True)
    for name, e in everything.items():
        print(row("all", name, e), " |", sep="")
    print(f"\n{time.perf_counter() - start:.0f} s", file=sys.stderr)
    for item in sorted(worst, key=lambda i: -i[0])[:4]:
        print(item, file=sys.stderr)


if __name__ == "__main__":
    chosen = [k for k in KINDS if k in sys.argv] or list(KINDS)
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500, "between" in sys.argv, chosen)
