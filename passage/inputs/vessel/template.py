"""Vessel files to fill in: no value in them counts until it is written in."""

from __future__ import annotations

import re
from importlib.resources import files

from passage.inputs.vessel.messages import field_at, unit_of
from passage.inputs.vessel.short import OPEN, header, padded

#: What nobody can guess, and what may be given instead.
NEEDED = {
    ("vessel", "name"): "",
    ("vessel", "length_waterline_m"): "",
    ("vessel", "beam_waterline_m"): "",
    ("vessel", "draught_m"): "or displacement_t",
    ("roll", "natural_period_s"): "or gm_m in [vessel]",
    ("fins", "area_m2"): "where she has fins",
    ("propulsion", "speed_kn"): "two speeds at least, as [10.0, 12.0]",
    ("propulsion", "fuel_l_per_h"): "",
}
_SHORT = (
    ("vessel", "name"),
    ("vessel", "length_waterline_m"),
    ("vessel", "beam_waterline_m"),
    ("vessel", "draught_m"),
    ("vessel", "displacement_t"),
    ("vessel", "gm_m"),
    ("roll", "natural_period_s"),
    ("fins", "area_m2"),
    ("propulsion", "speed_kn"),
    ("propulsion", "fuel_l_per_h"),
    ("limits", "roll_significant_deg"),
)
_HEAD = """\
# Vessel file to fill in. Nothing counts while its line begins with "#": take the "#"
# away where you write a number, and from the [section] line above it. NEEDED is what
# nobody can guess; all else is estimated where it is left as it is, and every plan
# lists what was estimated. `passage check --vessel FILE` shows what was read.
# A number's unit is at the end of its key: _m metres, _t tonnes, _kn knots,
# _deg degrees, _kw kilowatts, _l litres.
"""
_AXES = """\
# Axes: x forward of midship, y to starboard of the centreline, z up from the
# waterline. Heel, list and moments are positive to starboard.
# Values in these comments are those of an INVENTED yacht, to show form and size.
"""


def short_template() -> str:
    """The keys that cannot be estimated and those that may replace them; no number in it."""
    lines, section = [*_HEAD.splitlines()], ""
    for place in _SHORT:
        if place[0] != section:
            section = place[0]
            lines += ["", header(section, live=section in OPEN)]
        field = field_at(place)[1]
        assert field is not None
        unit = unit_of(place[1], field)
        about = f"{field.description}{', ' + unit if unit else ''}"
        lines.append(padded(f"# {place[1]} =", _marked(place, about)))
    lines += ["", "# More keys, tanks and places: passage particulars --no-input"]
    return "\n".join(lines) + "\n"


def full_template() -> str:
    """Every section and key, each in a comment with the invented yacht's value as an example."""
    source = files("passage.inputs.vessel").joinpath("particulars.toml").read_text("utf-8")
    body = source[source.index("\n[vessel]") + 1 :]
    lines, section = [*(_HEAD + _AXES).splitlines(), ""], ""
    for line in body.splitlines():
        opened = re.match(r"\[+([\w.]+)\]+", line)
        if opened:
            section = opened[1]
        kept = not line or line.startswith("#") or (opened and section in OPEN)
        lines.append(line if kept else _commented(section, line))
    return "\n".join(lines) + "\n"


def _commented(section: str, line: str) -> str:
    """A line as a comment; a needed value is blank."""
    # A text of an example may hold "#"; none does, and the test of the template would see it.
    code, _, about = line.partition("#")
    key = re.match(r"(\w+)\s*=", code)
    place = (section, key[1]) if key else None
    if place in NEEDED:
        return padded(f"# {place[1]} =", _marked(place, about.strip()))
    return padded(f"# {code.rstrip()}", about.strip())


def _marked(place: tuple[str, str], about: str) -> str:
    if place not in NEEDED:
        return about
    more = NEEDED[place]
    return f"NEEDED{', ' + more if more else ''}: {about}" if about else f"NEEDED {more}".strip()
