"""Make an invented log of a passage, and a roll-decay record, to practise on.

Run it where the files should lie, with the JSON of ``passage plan``::

    python make_log.py plan.json [LOG]

The log has a line for each point of the plan: the plan's own numbers with the scatter of
readings, a tenth more roll and a twentieth more fuel than planned, and the fins centred for
one line in five. Beside it ``decay.csv`` has the peaks of a roll that dies away. Nothing in
them was measured, and nothing may be learnt from them about a real yacht.
"""

from __future__ import annotations

import csv
import json
import math
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

SEED = 20260520
COLUMNS = (
    "time",
    "lat",
    "lon",
    "heading_deg",
    "speed_through_water_kn",
    "fuel_l_per_h",
    "roll_rms_deg",
    "fins",
)


def main() -> None:
    """Write the log and the decay record."""
    plan = Path(sys.argv[1])
    log = Path(sys.argv[2]) if len(sys.argv) > 2 else Path("log.csv")
    write_log(json.loads(plan.read_text(encoding="utf-8"))["track"], log)
    write_decay(log.with_name("decay.csv"))
    print(f"wrote {log} and decay.csv: INVENTED, not measured")


def write_log(track: dict[str, list[float]], path: Path) -> None:
    """The points of a plan as a crew might have logged them; stays are left out."""
    rng = np.random.default_rng(SEED)
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow(COLUMNS)
        for at, time_s in enumerate(track["time_s"]):
            if track["track_course_deg"][at] is None:
                continue
            centred = at % 5 == 4
            roll = track["roll_centred_rms_deg" if centred else "roll_active_rms_deg"][at]
            fuel = track["fuel_main_engines_l"][at] / track["hours"][at]
            noise = rng.normal(1.0, (0.01, 0.03, 0.06))
            out.writerow(
                [
                    f"{datetime.fromtimestamp(time_s, UTC):%Y-%m-%dT%H:%M:%SZ}",
                    f"{track['lat_deg'][at]:.4f}",
                    f"{track['lon_deg'][at]:.4f}",
                    f"{track['track_course_deg'][at]:.0f}",
                    f"{track['speed_through_water_kn'][at] * noise[0]:.2f}",
                    f"{1.05 * fuel * noise[1]:.1f}",
                    f"{1.1 * roll * noise[2]:.2f}",
                    "centred" if centred else "active",
                ]
            )


def write_decay(path: Path) -> None:
    """Peaks from side to side: 7.9 s of roll period, damping linear and quadratic."""
    rng = np.random.default_rng(SEED)
    lines, roll_deg = ["time_s,roll_deg"], 12.0
    for number in range(14):
        sign = 1 if number % 2 == 0 else -1
        lines.append(f"{number * 3.95:.2f},{sign * roll_deg + rng.normal(0.0, 0.05):.2f}")
        roll_deg *= math.exp(-math.pi * 0.03) / (1.0 + 0.012 * roll_deg)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
