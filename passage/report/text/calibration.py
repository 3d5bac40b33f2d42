"""A calibration as a table for the screen and as a picture."""

from __future__ import annotations

from pathlib import Path

from passage.planning.calibrate.calibrate import Calibration, Compared
from passage.planning.calibrate.fit import CONFIDENCE

_BEFORE, _AFTER = "#9aa3ad", "#0b5cad"


def calibration_table(found: Calibration) -> str:
    """Old value, new value and band of every fitted key; what was refused and why."""
    rows = [("", "was", "is", "from", "to", "unit")]
    for key in found.keys:
        old = key.old if isinstance(key.old, str) else f"{key.old:.4g}"
        rows.append(
            (key.words, old, f"{key.new:.4g}", f"{key.low:.4g}", f"{key.high:.4g}", key.unit)
        )
    widths = [max(len(row[at]) for row in rows) for at in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [row[0].ljust(widths[0])]
        cells += [cell.rjust(width) for cell, width in zip(row[1:5], widths[1:5], strict=True)]
        lines.append("  ".join([*cells, row[5]]).rstrip())
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


def draw_calibration(found: Calibration, path: Path) -> None:
    """Measured against computed roll and fuel, before and after, as SVG or PNG.

    The kind follows from the end of the file's name.
    """
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    # Text stays text in the SVG, and the file does not change from run to run.
    with mpl.rc_context({"svg.fonttype": "none", "svg.hashsalt": "passage"}):
        figure = Figure(figsize=(10.0, 5.0), layout="constrained")
        FigureCanvasAgg(figure)
        left, right = figure.subplots(1, 2)
        _scatter(left, found.roll, "roll rms, degrees")
        _scatter(right, found.fuel, "fuel, l/h")
        name = Path(found.log_file).name
        figure.suptitle(f"Computed against measured, {name}")
        kind = "png" if path.suffix.lower() == ".png" else "svg"
        metadata = {"Date": None} if kind == "svg" else None
        figure.savefig(path, format=kind, dpi=120, metadata=metadata)


def _scatter(axes, compared: Compared | None, what: str) -> None:  # type: ignore[no-untyped-def]
    axes.set_xlabel(f"measured {what}")
    axes.set_ylabel(f"computed {what}")
    if compared is None:
        axes.text(0.5, 0.5, "not in the log", ha="center", transform=axes.transAxes)
        return
    top = 1.05 * max(x.max() for x in (compared.measured, compared.before, compared.after))
    axes.plot([0.0, top], [0.0, top], color="black", linewidth=0.8, label="equal")
    for which, colour in (("before", _BEFORE), ("after", _AFTER)):
        values = getattr(compared, which)
        for works, marker, word in ((False, "s", "centred"), (True, "o", "active")):
            rows = compared.group == works
            if rows.any():
                axes.plot(
                    compared.measured[rows],
                    values[rows],
                    marker,
                    color=colour,
                    markersize=4.0,
                    markerfacecolor="none" if which == "before" else colour,
                    label=f"{which}, fins {word}",
                )
    axes.set_xlim(0.0, top)
    axes.set_ylim(0.0, top)
    axes.legend(fontsize="small")
