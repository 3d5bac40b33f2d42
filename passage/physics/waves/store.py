"""What a keeper of finished tables offers; the keeper itself touches files and lies outside."""

from __future__ import annotations

from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class TableStore(Protocol):
    """Where tables of one kernel are kept between runs."""

    def load(self, speed_m_s: float, gamma: float, width_rad: float) -> NDArray[np.float32] | None:
        """Table of one speed and shape, (periods, headings, channels); None if not kept."""
        ...

    def save(
        self, speed_m_s: float, gamma: float, width_rad: float, table: NDArray[np.float32]
    ) -> None:
        """Keep a table."""
        ...
