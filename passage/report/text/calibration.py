"""A calibration as a table for the screen."""

from __future__ import annotations

from passage.planning.calibrate.calibrate import Calibration
from passage.planning.calibrate.fit import CONFIDENCE
from passage.report.text.layout import Layout, TextColumn, fitted, hung, paragraph


def calibration_table(
    found: Calibration,
    layout: Layout = Layout(),  # noqa: B008 - frozen
) -> str:
    """Old value, new value and band of every fitted key; what was refused and why."""
    columns = [
        TextColumn("", left=True), TextColumn("was", 1), TextColumn("is"), TextColumn("from"),
        TextColumn("to"), TextColumn("unit", 2, left=True), TextColumn("", 3, left=True),
    ]  # fmt: skip
    rows = []
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
    lines = fitted(columns, rows, layout)
    if layout.quiet:
        return "\n".join(lines) + "\n"
    lines.append(f"All these bands hold together with {100.0 * CONFIDENCE:.0f} % certainty.")
    for what, compared in (("roll", found.roll), ("fuel", found.fuel)):
        if compared is not None:
            before, after = (100.0 * compared.scatter(which) for which in ("before", "after"))
            words = (
                f"Computed {what} is off the log by {before:.1f} % before and {after:.1f} % "
                f"after, rms of {compared.measured.size} intervals."
            )
            lines.append(paragraph(words, layout.width))
    if found.refused:
        lines.append("Not fitted:")
        lines += [hung(f"  {what}: {why}", layout) for what, why in found.refused]
    return "\n".join(lines) + "\n"
