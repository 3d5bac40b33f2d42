"""A vessel file made from a few answers: what was answered, and the rest as comments."""

from __future__ import annotations

from collections.abc import Mapping

from passage.inputs.vessel import model
from passage.inputs.vessel.edit import Value, toml_value
from passage.inputs.vessel.messages import model_inside, unit_of
from passage.inputs.vessel.reader import vessel_from_text
from passage.inputs.vessel.schema import VesselFile

Answers = Mapping[tuple[str, str], Value]

#: Sections written out; others are named in a remark.
_SECTIONS = (
    "vessel",
    "roll",
    "fins",
    "propulsion",
    "hotel",
    "windage",
    "loading",
    "limits",
    "money",
)
#: Keys that are tables of their own, and belong in the full template.
_TABLES = ("sections", "burn", "events", "underway", "at_rest")

#: The numbers of the invented yacht, for the short template.
EXAMPLE: dict[tuple[str, str], Value] = {
    ("vessel", "name"): "Brambling",
    ("vessel", "length_waterline_m"): 44.0,
    ("vessel", "beam_waterline_m"): 9.0,
    ("vessel", "draught_m"): 2.8,
    ("roll", "natural_period_s"): 7.8,
    ("fins", "area_m2"): 2.0,
    ("propulsion", "speed_kn"): [8.0, 12.0, 14.0],
    ("propulsion", "fuel_l_per_h"): [62.0, 205.0, 340.0],
}


def short_file(answers: Answers, head: str = "") -> str:
    """The text of a vessel file: answers as keys, all else commented with its estimate.

    Raises
    ------
    VesselError
        The answers do not make a vessel; every problem at once.
    """
    vessel = vessel_from_text(_bare(answers), "the answers")
    estimates = {item.key.replace("[1]", ""): item for item in vessel.estimated}
    lines = [f"# {line}" for line in head.splitlines()] + [""] * bool(head)
    for section in _SECTIONS:
        info = VesselFile.model_fields[section]
        part = model_inside(info.annotation)
        assert part is not None
        given = [key for where, key in answers if where == section]
        opens = bool(given) or section in ("vessel", "roll", "propulsion")
        mark = "" if opens else "# "
        header = f"[[{section}]]" if section == "fins" else f"[{section}]"
        lines.append(f"{mark}{header}")
        for key, field in part.model_fields.items():
            if key in _TABLES:
                continue
            about = field.description or ""
            if (section, key) in answers:
                lines.append(_padded(f"{key} = {toml_value(answers[section, key])}", about))
            elif (found := estimates.get(f"{section}.{key}")) is not None:
                lines.append(_padded(f"# {key} = {_rounded(found)}", f"{about}; estimated"))
            else:
                unit = unit_of(key, field)
                lines.append(_padded(f"# {key} =", f"{about}{', ' + unit if unit else ''}"))
        lines.append("")
    lines += [
        "# Tanks, transfers, places and more: passage particulars --no-input",
        "# writes a file with every section, to copy from.",
    ]
    return "\n".join(lines) + "\n"


def _bare(answers: Answers) -> str:
    """Only what was answered."""
    lines: list[str] = []
    for section in dict.fromkeys(where for where, _ in answers):
        lines.append(f"[[{section}]]" if section == "fins" else f"[{section}]")
        lines += [
            f"{key} = {toml_value(value)}"
            for (where, key), value in answers.items()
            if where == section
        ]
    return "\n".join(lines) + "\n"


def _rounded(found: model.Estimate) -> str:
    value = found.value
    return toml_value(value if isinstance(value, str) else float(f"{value:.3g}"))


def _padded(text: str, about: str) -> str:
    return f"{text:<35} # {about}" if about else text
