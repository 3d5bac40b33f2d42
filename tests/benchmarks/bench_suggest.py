"""How ``suggest`` does against the route given, on random passages over the sample's sea.

    python tests/benchmarks/bench_suggest.py [PASSAGES]

Prints the dearest and the cheapest answer as a share of the route given, both by the plan
itself, how often one of more fuel keeps limits that the route given does not, and the computing
time of a passage.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "planning" / "suggest")]
from test_best import FILES, SAMPLES, never_dearer

from passage.inputs.forecast import open_forecast
from passage.inputs.vessel import read_vessel
from passage.planning.voyage.yacht import Yacht


def main(passages: int = 50) -> None:
    """Search and compare so many passages."""
    boat = Yacht(read_vessel(SAMPLES / "brambling.toml"))
    share, kept = [], 0
    start = time.process_time()
    with open_forecast(FILES) as sea:
        for seed in range(passages):
            mine, theirs, within = never_dearer(boat, sea, seed)
            kept += within
            if not within:
                share.append(mine / theirs - 1.0)
    each = (time.process_time() - start) / passages
    print(
        f"{passages} passages: {100 * min(share):+.2f} to {100 * max(share):+.3f} % of the route "
        f"given, {100 * float(np.mean(share)):+.2f} % in the mean; {kept} keep limits that it does "
        f"not; {each:.1f} s of computing time each"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 50)
