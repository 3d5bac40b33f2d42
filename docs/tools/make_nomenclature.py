"""Write docs/nomenclature.md from the table of output names.

Run it from the project folder after a change in ``passage/variables.py``::

    python docs/tools/make_nomenclature.py

A test compares the page with the table, so the two cannot drift apart.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from passage.variables import COVERAGE, LEG_VARIABLES, Variable

TARGET = Path(__file__).resolve().parents[2] / "docs" / "nomenclature.md"

HEAD = """# Nomenclature

Made by `docs/tools/make_nomenclature.py` from `passage/variables.py`; do not edit by hand.

These names are keys of the JSON, columns of the CSV and variables of the NetCDF output.
The heading is what the printed table and the page show. Signs and words are explained in
[conventions.md](conventions.md). "How" says how the points of a leg become its value:
mean (weighted by time), sum, direction (of the weighted vector sum), worst (the largest of
the points that are known), or leg (a property of the leg itself). A missing value is `null`
in JSON and empty in CSV, never a number.
"""
FOOT = """
## Words for coverage

| word | what it says |
|---|---|
"""
COVERAGE_WORDS = {
    "ok": "the forecast covers the point",
    "before_forecast": "the point is earlier than the first time of the forecast",
    "after_forecast": "the point is later than the last time of the forecast",
    "outside_area": "the point is outside the area of the forecast",
    "masked": "the forecast has no sea there (land, ice or a hole), so nothing is given",
    "nearest_sea_cell": "taken from the nearest cell that is sea, because it was asked for",
    "sheltered": "no sea there, taken as sheltered water without waves, because it was asked for",
    "time_gap": "the hours of the forecast around it lie too far apart to be bridged",
}


def row(variable: Variable) -> str:
    """One line of the table."""
    unit = {"": "", "1": "1"}.get(variable.unit, variable.unit)
    standard = f"`{variable.standard_name}`" if variable.standard_name else ""
    cells = (
        f"`{variable.name}`",
        variable.heading,
        unit,
        variable.how,
        variable.meaning.replace("|", "\\|"),
        standard,
    )
    return "| " + " | ".join(cells) + " |"


def page() -> str:
    """The whole page."""
    lines = [
        HEAD,
        "| name | heading | unit | how | meaning | CF standard name |",
        "|---|---|---|---|---|---|",
        *(row(variable) for variable in LEG_VARIABLES),
        FOOT.rstrip("\n"),
        *(f"| `{word}` | {COVERAGE_WORDS[word]} |" for word in COVERAGE),
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    TARGET.write_text(page(), encoding="utf-8")
