"""Table of all time-domain cases, worst first, as in docs/roll-validation.md.

python tests/benchmarks/time_domain_table.py
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve()
sys.path[:0] = [str(HERE.parents[1]), str(HERE.parents[2])]

from time_domain_cases import CASES, Comparison, compare


def words(item: Comparison) -> str:
    """What the case is."""
    c = item.case
    text = f"Hs {c.height_m:g} m, Tp {c.period_s:g} s, {c.mu_deg:g}°, {c.speed_kn:g} kn"
    if c.swell:
        text += ", swell"
    if c.fins == "at rest":
        return f"{text}; at rest, bounded moment {c.rest_deg:g}°"
    if c.fins != "active":
        return f"{text}; fins {c.fins}"
    text += f"; gains {c.rate_gain:g} s, {c.angle_gain:g}"
    if c.acceleration_gain:
        text += f", {c.acceleration_gain:g} s²"
    if c.offset_deg:
        text += f"; offset {c.offset_deg:g}° for {c.heel_deg:g}°"
    if c.stall_deg != 26.4:
        text += f"; stall {c.stall_deg:g}°"
    if c.rate_limit_deg_s != 30:
        text += f"; rate limit {c.rate_limit_deg_s:g}°/s"
    if c.delay_s:
        text += f"; delay {c.delay_s:g} s"
    return text


def main() -> None:
    """Run and print."""
    items = sorted((compare(c) for c in CASES), key=lambda i: -abs(i.roll_percent))
    heads = ("case", "at limit %", "beyond stall %", "roll rms °", "error %", "heel °", "error °")
    print("| " + " | ".join((*heads, "drag %", "travel %")) + " |")
    print("|---|---|---|---|---|---|---|---|---|")
    for i in items:
        print(
            f"| {words(i)} | {100 * i.run.share_at_limit:.1f} | {100 * i.run.share_stalled:.1f} "
            f"| {np.degrees(i.run.roll_rms):.3f} "
            f"| {i.roll_percent:+.2f} | {np.degrees(i.run.mean_heel):+.3f} "
            f"| {i.heel_error_deg:+.3f} | {i.drag_percent:+.1f} | {i.rate_percent:+.1f} |"
        )


if __name__ == "__main__":
    main()
