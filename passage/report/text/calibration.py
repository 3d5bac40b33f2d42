"""A calibration as a table for the screen."""

from __future__ import annotations

from passage.planning.calibrate.calibrate import Calibration
from passage.planning.calibrate.fit import CONFIDENCE


def calibration_table(found: Calibration) -> str:
    """Old value, new value and band of every fitted key; what was refused and why."""
    rows = [("", "was", "is", "from", "to", "unit", "")]
    for key in found.keys:
        old = key.old if isinstance(key.old, str) else f"{key.old:.4g}"
        rows.append(
            (
                key.words,
                old,
                f"{key.new:.4g}",
                f"{key.low:.4g}",
                f"{key.high:.4g}",
                key.unit,
                "" if key.differs else "stays: the band holds it",
            )
        )
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [row[0].ljust(widths[0])]
        cells += [cell.rjust(width) for cell, width in zip(row[1:5], widths[1:5], strict=True)]
        lines.append("  ".join([*cells, row[5].ljust(widths[5]), row[6]]).rstrip())
    lines.append(f"All these bands hold together with {100.0 * CONFIDENCE:.0f} % certainty.")
    for what, compared in (("roll", found.roll), ("fuel", found.fuel)):
        if compared is not None:
            before, after = (100.0 * compared.scatter(which) for which in ("before", "after"))
            lines.append(
                f"Computed {what} is off the log by {before:.1f} % before and {after:.1f} % "
                f"after, rms of {compared.measured.size} intervals."
            )
    if found.refused:
        lines.append("Not fitted:")
        lines += [f"  {what}: {why}" for what, why in found.refused]
    return "\n".join(lines) + "\n"
