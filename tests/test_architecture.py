"""Rules of the house, checked on the source as it is installed.

They are read from ``DEVELOPERS.md``: which folder may import which, conversion
factors in one module, heavy libraries only where they are used.
"""

from __future__ import annotations

import ast
import io
import subprocess
import sys
import tokenize
from pathlib import Path

import pytest

import passage

PACKAGE = Path(passage.__file__).parent
MODULES = sorted(PACKAGE.rglob("*.py"))
#: Folder or top module -> what of ours it may import.
LEAVES = ("units", "errors", "variables", "files", "sources", "cache")
MAY_IMPORT = {
    **dict.fromkeys(LEAVES, ()),
    "files": ("errors",),
    "cache": ("sources",),
    "physics": ("units", "sources", "physics"),
    "inputs": (*LEAVES, "physics", "inputs"),
    "planning": (*LEAVES, "physics", "inputs", "planning"),
    "report": (*LEAVES, "physics", "inputs", "planning", "report"),
    "api": (*LEAVES, "physics", "inputs", "planning", "report", "api"),
    "cli": (*LEAVES, "physics", "inputs", "planning", "report", "api", "cli"),
    "__init__": ("api", "errors"),
    "__main__": ("cli",),
}
HEAVY = ("numpy", "xarray", "pandas", "pydantic", "numba", "scipy", "netCDF4")
LONGEST_MODULE = 400


def name_of(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def folder_of(path: Path) -> str:
    """Folder, or name of a module at the top."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def ours(tree: ast.AST, path: Path) -> list[tuple[int, str]]:
    """Line and subfolder of every import of this package, in functions as well."""
    found: list[tuple[int, str]] = []
    folder = ("passage", *path.relative_to(PACKAGE).parent.parts)
    for node in ast.walk(tree):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                start = folder[: len(folder) - node.level + 1]
                base = ".".join([*start, *([node.module] if node.module else [])])
            names = [f"{base}.{alias.name}" for alias in node.names]
        for name in names:
            parts = name.split(".")
            if parts[0] == "passage" and len(parts) > 1:
                found.append((node.lineno, parts[1]))
    return found


def breaches(source: str, path: Path) -> list[str]:
    """Imports of ``source``, placed at ``path``, that the rule forbids."""
    allowed = MAY_IMPORT.get(folder_of(path))
    if allowed is None:  # passage/__init__.py and data folders
        allowed = ()
    return [
        f"{name_of(path)}:{line} imports passage.{target}"
        for line, target in ours(ast.parse(source), path)
        if target not in allowed and not target.startswith("__")
    ]


def test_imports_go_one_way() -> None:
    assert len(MODULES) > 10
    wrong = [b for path in MODULES for b in breaches(path.read_text("utf-8"), path)]
    assert wrong == []


@pytest.mark.parametrize(
    ("place", "line"),
    [
        ("physics/roll.py", "from passage.inputs.vessel import read_vessel"),
        ("physics/roll.py", "from ..inputs import vessel"),
        ("physics/roll.py", "import passage.planning.plan.plan"),
        ("physics/roll.py", "from passage import variables"),
        ("physics/roll.py", "def f():\n    from passage.report import page"),
        ("inputs/route/csv.py", "from passage.planning import plan"),
        ("planning/plan/plan.py", "from passage.report.pages.page import render_page"),
        ("report/pages/page.py", "from passage.cli import main"),
        ("units.py", "from passage.errors import PassageError"),
    ],
)
def test_the_import_rule_sees_a_breach(place: str, line: str) -> None:
    assert len(breaches(line, PACKAGE / place)) == 1


def test_every_folder_is_in_the_rule() -> None:
    folders = {folder_of(path) for path in MODULES} - {"__init__"}
    assert folders <= set(MAY_IMPORT), "say in DEVELOPERS.md and here what it may import"


#: Inside a folder: subfolder -> others of that folder that it may import. "" is a loose module.
ROOMS_MAY_IMPORT = {
    "physics": {
        "": (),
        "waves": ("",),
        "hull": ("",),
        "fins": ("", "waves"),
        "roll": ("", "waves", "hull", "fins"),
        "motions": ("", "waves", "hull", "roll"),
        "resistance": ("", "waves", "hull", "motions"),
        "fuel": ("", "fins", "resistance"),
        "tables": ("", "waves", "hull", "fins", "roll", "motions", "resistance"),
    },
    "planning": {
        "": (),
        "voyage": ("",),
        "odds": ("", "voyage"),
        "record": ("", "odds"),
        "plan": ("", "voyage", "odds", "record"),
        "calibrate": ("", "voyage", "record"),
        "review": ("", "voyage", "record", "plan"),
        "compare": ("", "voyage", "odds", "plan"),
        "heel": ("", "voyage", "odds", "plan"),
        "season": ("", "voyage", "plan", "compare", "heel"),
        "suggest": ("", "voyage", "odds", "plan", "compare", "heel"),
    },
}
#: Modules that may lie outside the subfolders of a folder.
MOST_LOOSE = 3


def runtime_imports(tree: ast.AST) -> list[tuple[int, str]]:
    """Line and full name of every import, but those for type checking only."""
    skip = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for body in node.body
        for inner in ast.walk(body)
    }
    found = []
    for node in ast.walk(tree):
        if id(node) in skip:
            continue
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            found += [(node.lineno, f"{node.module}.{alias.name}") for alias in node.names]
    return found


def subfolder_of(folder: str, dotted: str) -> str:
    """Subfolder in ``passage.folder.subfolder.module``; "" for a module outside them."""
    part = dotted.split(".")[2]
    return part if part in ROOMS_MAY_IMPORT[folder] else ""


def upward(source: str, place: str) -> list[str]:
    """Imports from a subfolder further up in the same folder."""
    folder = place.split("/")[0]
    if folder not in ROOMS_MAY_IMPORT or place.endswith("__init__.py"):
        return []
    rules = ROOMS_MAY_IMPORT[folder]
    own = subfolder_of(folder, "passage." + place.removesuffix(".py").replace("/", "."))
    return [
        f"{place}:{line} imports {name}"
        for line, name in runtime_imports(ast.parse(source))
        if name.startswith(f"passage.{folder}.")
        and (target := subfolder_of(folder, name)) != own
        and target not in rules[own]
    ]


def test_no_folder_imports_upward() -> None:
    wrong = [b for path in MODULES for b in upward(path.read_text("utf-8"), name_of(path))]
    assert wrong == []


@pytest.mark.parametrize(
    ("place", "line"),
    [
        ("planning/voyage/march.py", "from passage.planning.plan.result import Caution"),
        ("planning/plan/marks.py", "from passage.planning.compare.cell import Cell"),
        ("planning/calibrate/fit.py", "def f():\n    from passage.planning.plan import plan"),
        ("physics/waves/table.py", "import passage.physics.motions.places"),
        ("physics/fins/use.py", "from passage.physics.roll import gains"),
    ],
)
def test_the_layout_rule_sees_a_breach(place: str, line: str) -> None:
    assert len(upward(line, place)) == 1


def test_no_import_goes_in_a_circle() -> None:
    names = {"passage." + name_of(p).removesuffix(".py").replace("/", "."): p for p in MODULES}
    graph = {}
    for name, path in names.items():
        targets = set()
        for _, full in runtime_imports(ast.parse(path.read_text("utf-8"))):
            targets |= {full, full.rpartition(".")[0]} & names.keys()
        graph[name] = targets - {name}
    while True:
        # A module whose imports are all gone is in no circle.
        done = {name for name, targets in graph.items() if not targets & graph.keys()}
        if not done:
            break
        graph = {name: targets for name, targets in graph.items() if name not in done}
    assert sorted(graph) == []


@pytest.mark.parametrize("folder", ["physics", "planning"])
def test_few_modules_are_outside_a_folder(folder: str) -> None:
    loose = [p for p in (PACKAGE / folder).glob("*.py") if p.name != "__init__.py"]
    assert len(loose) <= MOST_LOOSE


def test_every_folder_says_what_it_holds() -> None:
    short = [
        name_of(path)
        for path in MODULES
        if path.name == "__init__.py"
        and len((ast.get_docstring(ast.parse(path.read_text("utf-8"))) or "").split()) < 5
    ]
    assert short == []


def factors(source: str) -> list[str]:
    """Number literals that are conversion factors or gravity."""
    found = []
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type == tokenize.NUMBER:
            digits = token.string.replace("_", "").lower()
            if (
                digits.startswith(("0.514", ".514", "9.80", "1.94384", "57.29", "0.01745"))
                or digits in {"1852", "1852.0", "1852.", "9.8", "9.81"}
                or digits.startswith("1.852")
            ):
                found.append(f"{token.start[0]}: {token.string}")
    return found


def test_conversion_factors_are_in_units_only() -> None:
    wrong = [
        f"{name_of(path)}:{factor}"
        for path in MODULES
        if folder_of(path) != "units"
        for factor in factors(path.read_text("utf-8"))
    ]
    assert wrong == []


@pytest.mark.parametrize(
    "line", ["v = 0.5144 * kn", "m = 1852.0 * nm", "g = 9.81", "g = 9.80665", "1_852"]
)
def test_the_factor_rule_sees_a_breach(line: str) -> None:
    assert len(factors(line)) == 1


def test_no_module_is_too_long() -> None:
    long = {
        name_of(path): lines
        for path in MODULES
        if (lines := len(path.read_text("utf-8").splitlines())) > LONGEST_MODULE
    }
    assert long == {}


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys, passage.cli.main\n"
        "from passage.cli.main import group\n"
        "try:\n    group.main(['--help'], standalone_mode=False)\n"
        "except SystemExit:\n    pass\n"
        f"print('loaded', [m for m in {HEAVY!r} if m in sys.modules])\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert run.stdout.splitlines()[-1] == "loaded []"


def test_commands_bring_heavy_libraries_only_when_they_run() -> None:
    """``passage COMMAND --help`` opens the command's module but computes nothing."""
    from passage.cli.main import COMMANDS

    for module, _ in COMMANDS.values():
        path = PACKAGE / (module.removeprefix("passage.").replace(".", "/") + ".py")
        if not path.exists():
            continue
        tree = ast.parse(path.read_text("utf-8"))
        top = [
            alias.name.split(".")[0]
            for node in tree.body
            if isinstance(node, ast.Import)
            for alias in node.names
        ] + [
            (node.module or "").split(".")[0]
            for node in tree.body
            if isinstance(node, ast.ImportFrom)
        ]
        assert not set(top) & set(HEAVY), f"{name_of(path)} imports {top} at its top"


#: Folders whose modules a plan loads, and the libraries it does without.
OF_A_PLAN = ("physics", "inputs/vessel", "inputs/route", "inputs/forecast")
OF_A_PLAN += tuple(f"planning/{name}" for name in ("voyage", "odds", "record", "plan"))
TOO_SLOW = ("scipy", "xarray", "pandas")


def test_a_plan_loads_no_library_that_takes_longer_than_it_saves() -> None:
    top = {
        name_of(path): node
        for path in MODULES
        if name_of(path).startswith(OF_A_PLAN)
        and not name_of(path).startswith(("physics/tables", "physics/roll/linearisation"))
        for node in ast.parse(path.read_text("utf-8")).body
        if isinstance(node, (ast.Import, ast.ImportFrom))
        and ast.unparse(node).split()[1].startswith(TOO_SLOW)
    }
    assert {name: ast.unparse(node) for name, node in top.items()} == {}


def test_nothing_prints_outside_the_command_line() -> None:
    wrong = [
        f"{name_of(path)}:{node.lineno}"
        for path in MODULES
        if folder_of(path) != "cli"
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "print"
    ]
    assert wrong == []


def test_physics_touches_no_files_and_no_labelled_arrays() -> None:
    barred = {"xarray", "netCDF4", "pandas", "pathlib", "os", "io", "click", "pydantic"}
    wrong = []
    for path in MODULES:
        if folder_of(path) != "physics":
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom) and node.level == 0:
                names = [node.module or ""]
            wrong += [
                f"{name_of(path)}:{node.lineno} imports {name}"
                for name in names
                if name.split(".")[0] in barred
            ]
    assert wrong == []


@pytest.mark.parametrize("name", ["plan", "compare", "heel", "season", "suggest"])
def test_a_question_of_the_command_line_goes_through_the_python_functions(name) -> None:
    """The command asks ``passage.api`` and starts no work of planning itself."""
    tree = ast.parse((PACKAGE / "cli" / f"{name}.py").read_text(encoding="utf-8"))
    taken = {
        (node.module or "", alias.name)
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert any(m.startswith("passage.api.") and got == name for m, got in taken)
    starts = [
        got
        for module, got in taken
        if module.startswith("passage.planning.") and (got.endswith("_files") or "run" in got)
    ]
    assert not starts


def test_public_physics_is_documented() -> None:
    wrong = []
    for path in MODULES:
        if folder_of(path) != "physics" or path.name == "__init__.py":
            continue
        tree = ast.parse(path.read_text("utf-8"))
        if not ast.get_docstring(tree):
            wrong.append(f"{name_of(path)}: module")
        for node in tree.body:
            if (
                isinstance(node, (ast.FunctionDef, ast.ClassDef))
                and not node.name.startswith("_")
                and not ast.get_docstring(node)
            ):
                wrong.append(f"{name_of(path)}:{node.lineno} {node.name}")
    assert wrong == []
