"""The picture of a calibration: computed against measured, before and after.

It is a file of its own, without the page's style sheet, so its colours are in the markup.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from markupsafe import escape

from passage.planning.calibrate.calibrate import Calibration, Compared
from passage.report.drawing import svg
from passage.report.drawing.svg_scale import Scale, nice_range, nice_step, tick_text, ticks

_BEFORE, _AFTER = "#7a838d", "#0b5cad"
_SIDE, _LEFT, _TOP, _GAP, _BELOW = 340.0, 64.0, 44.0, 88.0, 52.0
_CIRCLE, _SQUARE = 0, 1


def calibration_drawing(found: Calibration) -> str:
    """Measured against computed roll and fuel, side by side, as one SVG drawing."""
    name = Path(found.log_file).name
    title = f"Computed against measured, {name}"
    width = _LEFT + 2 * _SIDE + _GAP + 16.0
    parts = [
        svg.tag("rect", width=width, height=_TOP + _SIDE + _BELOW, fill="#ffffff"),
        svg.text(width / 2, 22.0, title, text_anchor="middle", font_size=15),
        *_panel(found.roll, "roll rms, degrees", _LEFT),
        *_panel(found.fuel, "fuel, l/h", _LEFT + _SIDE + _GAP),
    ]
    return svg.drawing(
        width,
        _TOP + _SIDE + _BELOW,
        svg.group(parts, font_family="sans-serif", font_size=12, fill="#1b2733"),
        title=title,
        description="Every logged interval; on the line, computed equals measured.",
        key="calibration",
    )


def calibration_picture(found: Calibration, suffix: str) -> str:
    """The drawing as the text of an ``.svg`` or an ``.html`` file."""
    drawn = calibration_drawing(found)
    if suffix == ".svg":
        return drawn.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1) + "\n"
    name = escape(Path(found.log_file).name)
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f"<title>Computed against measured, {name}</title></head>\n<body>{drawn}</body></html>\n"
    )


def _panel(compared: Compared | None, what: str, left: float) -> Iterator[str]:
    bottom, right = _TOP + _SIDE, left + _SIDE
    yield svg.tag("rect", x=left, y=_TOP, width=_SIDE, height=_SIDE, fill="none", stroke="#7a838d")
    yield svg.text((left + right) / 2, bottom + 40.0, f"measured {what}", text_anchor="middle")
    turned = f"rotate(-90 {svg.number(left - 46.0)} {svg.number(_TOP + _SIDE / 2)})"
    yield svg.text(
        left - 46.0, _TOP + _SIDE / 2, f"computed {what}", text_anchor="middle", transform=turned
    )
    if compared is None:
        middle = _TOP + _SIDE / 2
        yield svg.text((left + right) / 2, middle, "not in the log", text_anchor="middle")
        return
    shown = [compared.measured, compared.before, compared.after]
    _, top = nice_range([float(values.max()) for values in shown])
    across, up = Scale(0.0, top, left, right), Scale(0.0, top, bottom, _TOP)
    step = nice_step(top, 5)
    for value in ticks(0.0, top):
        words = tick_text(value, step)
        yield svg.text(across.at(value), bottom + 18.0, words, text_anchor="middle")
        yield svg.text(left - 8.0, up.at(value) + 4.0, words, text_anchor="end")
    diagonal = f"M{svg.number(left)} {svg.number(bottom)}L{svg.number(right)} {svg.number(_TOP)}"
    yield svg.tag("path", d=diagonal, stroke="#1b2733", stroke_width="0.8")
    at = _TOP + 18.0
    for which, colour in (("before", _BEFORE), ("after", _AFTER)):
        values = getattr(compared, which)
        style = {"stroke": colour, "fill": "none" if which == "before" else colour}
        for works, kind, word in ((False, _SQUARE, "centred"), (True, _CIRCLE, "active")):
            rows = compared.group == works
            if not rows.any():
                continue
            for x, y in zip(across(compared.measured[rows]), up(values[rows]), strict=True):
                yield svg.marker(kind, float(x), float(y), 3.0, **style)
            yield svg.marker(kind, left + 12.0, at - 4.0, 3.0, **style)
            yield svg.text(left + 22.0, at, f"{which}, fins {word}")
            at += 16.0
