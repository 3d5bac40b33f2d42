"""Formulas and what is said about them: units in every docstring, no formula without a user."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import passage

PACKAGE = Path(passage.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))


def test_physics_that_enters_no_plan_is_listed() -> None:
    """A public function that nothing calls is on the list of methods.md, or goes."""
    used, public = set(), {}
    for path in MODULES:
        tree = ast.parse(path.read_text("utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Name):
                used.add(node.id)
            elif isinstance(node, ast.Attribute):
                used.add(node.attr)
        if "physics" in path.relative_to(PACKAGE).parts:
            module = (
                path.relative_to(PACKAGE)
                .as_posix()
                .removeprefix("physics/")
                .removesuffix(".py")
                .replace("/", ".")
            )
            for node in tree.body:
                if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                    public[f"{module}.{node.name}"] = node.name
    page = Path(__file__).parents[1] / "docs" / "methods.md"
    text = page.read_text("utf-8")
    listed = set(re.findall(r"`([\w.]+)`", text[text.index("Formulas that are here for") :]))
    unused = {full for full, name in public.items() if name not in used}
    built_on = (
        "hull.sections.",
        "hull.hydrostatics.",
        "motions.strip",
    )  # strip theory, being added
    assert sorted(name for name in unused - listed if not name.startswith(built_on)) == []
