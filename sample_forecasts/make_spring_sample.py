"""Make the second sample forecast: the days after a blow over the Bay of Biscay, invented.

Run it from the project folder::

    python sample_forecasts/make_spring_sample.py [FOLDER]

It is the weather of ``make_sample.py`` some two days on and in May: the sea goes down from
hour to hour, sooner in the east, so that there is something to choose. Nothing in it was
observed, and nothing may be used for a real passage.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import invented_sea as sea
import make_sample

HERE = Path(__file__).resolve().parent
RUN = "2026-05-19T00:00Z"
#: What differs in the vessel file: the tender is swung out for the last miles, and the
#: owner asks less of accelerations and sickness.
CHANGED = {
    "events": '[{ miles_to_go = 20, moment_t_m = -18.0, what = "tender swung out to port" }]',
    "vertical_acceleration_rms_g": "0.15",
    "lateral_acceleration_rms_g": "0.11",
    "motion_sickness_percent": "55.0",
}
HEAD = """# Vessel file of the motor yacht "Brambling" in May: INVENTED, for demonstration only.
# Made by make_spring_sample.py from brambling.toml; the tender of the last miles and the limits
# of accelerations and sickness are new.
"""
#: The run begins this long after that of the first sample. [h]
LATER_H = 46.0


def may_vessel() -> str:
    """The vessel file of the spring: that of March with what differs."""
    lines = (HERE / "brambling.toml").read_text("utf-8").splitlines()
    made = []
    for line in lines[1:]:
        key = line.split(" = ")[0]
        made.append(f"{key} = {CHANGED[key]}" if key in CHANGED else line)
    return HEAD + "\n".join(made) + "\n"


def make(folder: Path) -> list[Path]:
    """Write the three files in ``folder`` and return their paths."""
    kept = {
        (module, name): getattr(module, name)
        for module, name in (
            (sea, "LOW_TRACK"), (sea, "RIDGE_TRACK"), (sea, "STORM_MIDDLE_H"),
            (make_sample, "RUN"), (make_sample, "EPOCH"), (make_sample, "SPIN_UP_H"),
        )
    }  # fmt: skip
    try:
        for name in ("LOW_TRACK", "RIDGE_TRACK"):
            track = getattr(sea, name).copy()
            track[:, 0] -= LATER_H
            setattr(sea, name, track)
        sea.STORM_MIDDLE_H -= LATER_H
        make_sample.RUN = RUN
        make_sample.EPOCH = f"hours since {RUN[:10]} 00:00:00 UTC"
        make_sample.SPIN_UP_H -= LATER_H
        return make_sample.make(folder, "spring")
    finally:
        for (module, name), value in kept.items():
            setattr(module, name, value)


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else HERE
    for written in make(target):
        print(written, written.stat().st_size, "bytes")
    (target / "brambling_may.toml").write_text(may_vessel(), "utf-8")
