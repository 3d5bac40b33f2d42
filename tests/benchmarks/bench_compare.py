"""Time and memory of a comparison on the sample forecast, and of its page.

    python tests/benchmarks/bench_compare.py

3 routes x 49 departures x 5 speeds, from files to the judged table, in a process of its
own (import and compiled code included), then the page.
"""

import resource
import sys
import time
from pathlib import Path

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
HOUR_S = 3600.0
FIRST_S = 1773360000.0  # 2026-03-13T00:00Z


def main() -> None:
    """Print seconds of wall clock and processor, and the largest memory."""
    start = time.perf_counter()
    from passage.planning.compare.compare import CompareOptions
    from passage.planning.compare.files import CompareFiles, Wanted, compare_files

    files = CompareFiles(
        tuple(SAMPLES / f"{name}.csv" for name in ("direct", "western", "eastern")),
        SAMPLES / "brambling.toml",
        tuple(SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")),
    )
    departures = tuple(FIRST_S + HOUR_S * i for i in range(49))
    options = CompareOptions(departures, (8.0, 9.0, 10.0, 11.0, 12.0))
    found = compare_files(files, options, Wanted(map_times=6))
    took, cpu = time.perf_counter() - start, time.process_time()
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    sys.stdout.write(
        f"{len(found)} combinations: {took:.1f} s, {cpu:.1f} s of processor, {memory:.2f} GB\n"
    )
    start = time.perf_counter()
    from passage.report.pages.compare import compare_page

    page = compare_page(found)
    took = time.perf_counter() - start
    sys.stdout.write(f"page: {took:.1f} s, {len(page.encode()) / 1e6:.2f} MB\n")


if __name__ == "__main__":
    main()
