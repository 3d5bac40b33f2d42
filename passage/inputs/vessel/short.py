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
SECTIONS = (
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
LEFT_OUT = ("sections", "burn", "events", "underway", "at_rest")
#: Sections that may be empty: a number under one needs only its own line.
OPEN = ("vessel", "roll", "propulsion", "hotel", "windage", "loading", "limits")


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
    for section in SECTIONS:
        info = VesselFile.model_fields[section]
        part = model_inside(info.annotation)
        assert part is not None
        given = [key for where, key in answers if where == section]
        lines.append(header(section, live=bool(given) or section in OPEN))
        for key, field in part.model_fields.items():
            if key in LEFT_OUT:
                continue
            about = field.description or ""
            if (section, key) in answers:
                lines.append(padded(f"{key} = {toml_value(answers[section, key])}", about))
            elif (found := estimates.get(f"{section}.{key}")) is not None:
                lines.append(padded(f"# {key} = {_rounded(found)}", f"{about}; estimated"))
            else:
                unit = unit_of(key, field)
                lines.append(padded(f"# {key} =", f"{about}{', ' + unit if unit else ''}"))
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


def header(section: str, *, live: bool) -> str:
    """``[hotel]``; as a comment unless ``live``."""
    mark = "" if live else "# "
    return f"{mark}[[{section}]]" if section == "fins" else f"{mark}[{section}]"


def padded(text: str, about: str) -> str:
    """A line with what it is about behind it, in one column."""
    return f"{text:<35} # {about}" if about else text
