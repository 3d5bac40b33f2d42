"""The page about vessel files says what the program takes: its tables are made from it.

Run this file to print the tables: ``python tests/inputs/vessel/test_vessel_docs.py``.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from passage.inputs.vessel import vessel_from_text
from passage.inputs.vessel.messages import is_list, model_inside, unit_of
from passage.inputs.vessel.schema import VesselFile

PAGE = Path(__file__).parents[3] / "docs" / "vessel-file.md"


def bounds(info):
    """Limits of a number, as in "> 0, <= 20"."""
    signs = (("gt", ">"), ("ge", ">="), ("lt", "<"), ("le", "<="))
    found = [
        f"{sign} {getattr(rule, name):.12g}"
        for rule in info.metadata
        for name, sign in signs
        if getattr(rule, name, None) is not None
    ]
    return ", ".join(found)


def table(model):
    lines = ["| key | unit | limits | needed | what it is |", "|---|---|---|---|---|"]
    for key, info in model.model_fields.items():
        needed = "yes" if info.is_required() else ""
        unit = unit_of(key, info) if "float" in str(info.annotation) else ""
        lines.append(f"| `{key}` | {unit} | {bounds(info)} | {needed} | {info.description} |")
    return "\n".join(lines)


def tables():
    """All tables, each under the name of its section."""
    out = []
    for section, info in VesselFile.model_fields.items():
        model = model_inside(info.annotation)
        if model is None:
            continue
        header = f"[[{section}]]" if is_list(info.annotation) else f"[{section}]"
        about = " ".join((model.__doc__ or "").split())
        out.append(f"### `{header}`\n{about}\n\n{table(model)}")
    return "\n\n".join(out)


def test_tables_of_the_page_are_the_ones_of_the_program():
    page = PAGE.read_text(encoding="utf-8")
    start, end = "<!-- keys -->\n", "\n<!-- end of keys -->"
    assert page[page.index(start) + len(start) : page.index(end)].strip() == tables().strip()


def test_examples_of_the_page_are_valid():
    page = PAGE.read_text(encoding="utf-8")
    blocks = re.findall(r"```toml\n(.*?)```", page, flags=re.S)
    assert len(blocks) >= 2
    vessel_from_text(blocks[0])
    for block in blocks[1:]:
        tomllib.loads(block)


if __name__ == "__main__":
    print(tables())
