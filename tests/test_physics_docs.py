"""Formulas and their documentation: units in every docstring, no formula without a user."""

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


#: A unit in brackets, as numpydoc writes it here, or the word for none.
UNIT = re.compile(r"\[[^\]\n]{1,20}\]|any unit|[Dd]imensionless|\bin rad\b|\bradians?\b")


def test_every_public_formula_says_its_units():
    bare = []
    for path in sorted((PACKAGE / "physics").rglob("*.py")):
        name = path.relative_to(PACKAGE / "physics").as_posix()
        if name == "compiled.py":  # decorators, no formulas
            continue
        for node in ast.parse(path.read_text("utf-8")).body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            if not UNIT.search(ast.get_docstring(node) or ""):
                bare.append(f"{name}:{node.lineno} {node.name}")
    assert bare == []
