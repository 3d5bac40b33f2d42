"""Keep the first numbers of the draws' sequence in ``passage/data/sobol_64.npz``.

They are those of scipy, whose module takes most of a second to load and may one day
scramble otherwise. Run from the project folder after a change of the seed or of the
numbers that a draw needs; ``tests/planning/odds/test_error_model.py`` compares the two.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

from passage.planning.odds import error_model
from passage.planning.odds.drawn import DIMENSIONS

TARGET = Path(__file__).parents[2] / "passage" / "data" / "sobol_64.npz"
#: Draws of a plan, and waves of a field.
COUNT = 64


def main() -> None:
    """Write the file."""
    steps = {}
    for dimensions in (error_model.WAVE_AXES, DIMENSIONS):
        made = error_model.sobol_sequence(COUNT, dimensions) / error_model.SOBOL_STEP
        steps[str(dimensions)] = made.astype(np.uint32)
    np.savez(TARGET, **steps)


if __name__ == "__main__":
    main()
