"""Longest silence of each command, and its first estimate against what was left then.

The aim is two seconds and a factor of two, on a machine with nothing else to do.

Run: python tests/benchmarks/bench_progress.py
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), str(TESTS), str(TESTS / "cli")]

from test_progress import heard, long_runs


def main() -> None:
    """Print a row for each command."""
    print("command    longest silence s   estimated s   was left s   ratio")
    with tempfile.TemporaryDirectory() as name:
        for command, words in long_runs(Path(name)).items():
            made = heard([command, *words], terminal=False)
            row = f"{command:10} {made.longest_gap_s:17.1f}"
            found = made.first_estimate()
            if found is not None:
                row += f" {found[0]:13.1f} {found[1]:12.1f} {found[0] / found[1]:7.2f}"
            print(row)


if __name__ == "__main__":
    main()
