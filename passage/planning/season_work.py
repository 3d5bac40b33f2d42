"""One block of a season: departures of some days, every route and speed."""

from __future__ import annotations

from typing import Any

import numpy as np

from passage.inputs.forecast import Forecast
from passage.planning.season import Setup, longest_s, open_hindcast, setup
from passage.planning.season_chain import chain_points
from passage.planning.season_rows import departure_rows

#: Points worked on together, so that their arrays stay in the cache.
CHUNK_POINTS = 8192


def block_departures(made: Setup, forecast: Forecast) -> int:
    """Departures of one block."""
    return 64


def work(job: Any) -> dict[str, Any]:
    """Rows ``(passages, departures)`` of one block; a pure function of its job."""
    files, options, start, stop = job
    made = setup(files, options)
    departures = made.departures_s[start:stop]
    parts: list[dict[str, Any]] = []
    with open_hindcast(made, float(departures[0]), float(departures[-1]) + longest_s(made)) as sea:
        for passage in made.passages:
            size = max(1, CHUNK_POINTS // len(passage.track))
            rows = []
            for at in range(0, departures.size, size):
                points = chain_points(
                    passage, sea, departures[at : at + size], options.heel, options.wave_method
                )
                rows.append(
                    departure_rows(
                        passage.vessel,
                        passage.route,
                        passage.track,
                        points.values,
                        points.fin_codes,
                        points.status,
                    )
                )
            parts.append({name: np.concatenate([r[name] for r in rows]) for name in rows[0]})
    return {name: np.stack([part[name] for part in parts]) for name in parts[0]}


def read_bytes(made: Setup, forecast: Forecast) -> float:
    """Bytes of data the run reads."""
    return 0.0
