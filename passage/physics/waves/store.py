"""Interface of a store of finished tables; its implementation uses files and is elsewhere."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class TableStore(Protocol):
    """Store that keeps the tables of one kernel between runs."""

    def load(self, speed_m_s: float, gamma: float, width_rad: float) -> NDArray[np.float32] | None:
        """Table of one speed and shape, (periods, headings, channels); None if not stored."""
        ...

    def save(
        self, speed_m_s: float, gamma: float, width_rad: float, table: NDArray[np.float32]
    ) -> None:
        """Store the table of one speed and shape."""
        ...
