"""A calibration as a table for the screen."""

from __future__ import annotations

from passage.planning.calibrate.calibrate import Calibration
from passage.planning.calibrate.fit import CONFIDENCE
from passage.planning.calibrate.from_record import CERTAINTY, Factor, Proposal
from passage.planning.calibrate.keys import FUEL_POINTS
from passage.report.text.layout import Layout, TextColumn, fitted, hung, paragraph
from passage.report.text.verdict import listed


def calibration_answer(found: Calibration) -> str:
    """How many numbers of the vessel file the log changes, and the gain, in two sentences."""
    moved, count = sum(key.differs for key in found.keys), len(found.keys)
    if not moved:
        return (
            "The log agrees with the vessel file: each old number lies in the band of the new one."
        )
    gains = []
    for what, compared in (("roll", found.roll), ("fuel", found.fuel)):
        if compared is not None:
            before, after = (100.0 * compared.scatter(which) for which in ("before", "after"))
            gains.append(f"{what} is within {after:.1f} % of the log (now {before:.1f} %)")
    words = "number" if count == 1 else "numbers"
    text = f"The log changes {moved} of the {count} {words} fitted."
    stay = count - moved
    if stay:
        others = f"{stay} keep" if stay > 1 else "one keeps"
        them = "them" if stay > 1 else "it"
        text += f" The other {others} the file's value: the log does not show {them} to be wrong."
    if gains:
        # The misfit after is that of all numbers as fitted, the kept ones too.
        with_all = "With all of them as the log suggests" if stay else "With these"
        text += f" {with_all}, computed {listed(gains)}."
    points = [key for key in found.keys if key.path[:2] == FUEL_POINTS]
    if any(key.differs for key in points) and not all(key.differs for key in points):
        text += (
            " Only a part of the fuel curve changes: look at its shape, or set the kept points by "
            "hand."
        )
    return text


def calibration_table(
    found: Calibration,
    layout: Layout = Layout(),  # noqa: B008 - frozen
) -> str:
    """The answer; old value, new value and band of each fitted key; keys not fitted, and why."""
    columns = [
        TextColumn("", left=True), TextColumn("vessel\nfile"),
        TextColumn("the log\nsuggests", meaning="best fit"),
        TextColumn("from", 1, meaning="low end of its band"),
        TextColumn("to", 1, meaning="high end"), TextColumn("unit", 2, left=True),
        TextColumn("new\nfile", left=True, meaning="kept where the file's value lies in the band"),
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
                "changed" if key.differs else "kept",
            )
        )
    lines = [paragraph(calibration_answer(found), layout.width), ""]
    lines += fitted(columns, rows, layout)
    if layout.quiet:
        return "\n".join(lines) + "\n"
    lines.append(f"All these bands hold together with {100.0 * CONFIDENCE:.0f} % certainty.")
    for what, compared in (("roll", found.roll), ("fuel", found.fuel)):
        if compared is not None:
            before, after = (100.0 * compared.scatter(which) for which in ("before", "after"))
            words = (
                f"Computed {what} differs from the log by {before:.1f} % with the file's numbers "
                f"and {after:.1f} % with all that the log suggests, rms of "
                f"{compared.measured.size} intervals."
            )
            lines.append(paragraph(words, layout.width))
    if found.refused:
        lines.append("Not fitted:")
        lines += [hung(f"  {what}: {why}", layout) for what, why in found.refused]
    return "\n".join(lines) + "\n"


def proposal_table(
    found: Proposal,
    layout: Layout = Layout(),  # noqa: B008 - frozen
) -> str:
    """Proposed fuel curve, with factor and band of each point, and the evidence in words."""
    columns = [
        TextColumn("speed\nkn"), TextColumn("was\nl/h", 1, meaning="in the vessel file"),
        TextColumn("proposed\nl/h", meaning="that times the factor"),
        TextColumn("factor", meaning="burnt over computed"),
        TextColumn("from", meaning="low end of the factor's band"),
        TextColumn("to", meaning="high end"), TextColumn("remark", 2, left=True),
    ]  # fmt: skip
    rows = []
    for point in found.fuel:
        one = point.factor
        cells = ["-", "-", "-"] if one is None else [f"{x:.3f}" for x in _ends(one)]
        why = (
            point.why if one is None else "" if one.differs else "unchanged: 1 lies within the band"
        )
        new = f"{point.new_l_per_h:.4g}"
        rows.append([f"{point.speed_kn:g}", f"{point.old_l_per_h:.4g}", new, *cells, why])
    lines = [
        paragraph(
            f"{found.vessel}, proposed from the passages in {found.file}. Nothing is changed.",
            layout.width,
        ),
        "",
        *fitted(columns, rows, layout),
    ]
    known = next((point.factor for point in found.fuel if point.factor), None)
    if known is not None:
        lines.append(f"Fuel: {known.legs} legs on {known.passages} passages.")
    for use, one in found.roll.items():
        if one is None:
            lines.append(f"Roll, fins {use}: too few passages.")
        else:
            middle, low, high = (100.0 * (x - 1.0) for x in _ends(one))
            lines.append(
                f"Roll, fins {use}: {middle:+.0f} % against what was computed ({low:+.0f} to "
                f"{high:+.0f} %), {one.legs} legs on {one.passages} passages."
            )
    lines += [paragraph(f"{word[0].upper()}{word[1:]}.", layout.width) for word in found.words]
    lines.append(
        paragraph(
            f"Each band is {100.0 * CERTAINTY:.0f} %, from the scatter between passages. After a "
            "change, review the old logs again with --vessel, so that the record fits the new "
            "numbers.",
            layout.width,
        )
    )
    return "\n".join(lines) + "\n"


def _ends(one: Factor) -> tuple[float, float, float]:
    return one.middle, one.low, one.high
