"""The pages keep their promises: links, options, names of functions, examples.

What cannot be followed on a page is a fault of the program or of the page; these
tests find either.
"""

from __future__ import annotations

import doctest
import importlib
import pkgutil
import re
import shlex
from pathlib import Path

import click
import pytest
from reference_rows import FOLDER, header, rows

import passage.physics
from passage.cli.main import COMMANDS, group
from passage.variables import LEG_VARIABLES

ROOT = Path(__file__).resolve().parents[1]
#: The package as it is tested: in CI the installed wheel, not a folder beside the tests.
PACKAGE = Path(passage.physics.__file__).parents[1]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
METHODS = ROOT / "docs" / "methods.md"
LIMITS = ROOT / "docs" / "limits-of-validity.md"

pages = pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)


def headings(text: str) -> set[str]:
    """Anchors of a page, as GitHub makes them from headings."""
    found = set()
    for line in re.findall(r"^#+\s+(.*)$", text, flags=re.M):
        words = re.sub(r"[^\w\- ]", "", line.strip().lower())
        found.add(words.replace(" ", "-"))
    return found


@pages
def test_links_lead_somewhere(page):
    text = page.read_text(encoding="utf-8")
    broken = []
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if re.match(r"[a-z]+:", target):
            continue
        file, _, anchor = target.partition("#")
        path = page.parent / file if file else page
        if not path.exists() or (
            anchor and anchor not in headings(path.read_text(encoding="utf-8"))
        ):
            broken.append(target)
    assert not broken, f"{page.name}: nothing at {', '.join(broken)}"


def options_of(name: str) -> dict[str, click.Option]:
    """Options of a command by every spelling."""
    command = group.get_command(click.Context(group), name)
    assert command is not None
    found = {}
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            for spelling in (*parameter.opts, *parameter.secondary_opts):
                found[spelling] = parameter
    return found | {"--help": None, "-h": None}


@pytest.fixture(scope="module")
def known():
    """Command -> its options."""
    return {name: options_of(name) for name in COMMANDS}


def spoken(text: str) -> list[list[str]]:
    """Command lines of the program on a page, as words, without its own name."""
    blocks = re.findall(r"^```(?:\w*)\n(.*?)^```", text, flags=re.M | re.S)
    spans = re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```", "", text, flags=re.M | re.S))
    joined = [line for block in blocks for line in _lines(block)] + spans
    found = []
    for line in joined:
        for part in re.split(r"&&|\|(?!\w)|;", line):
            match = re.match(r"\s*(?:\$ )?(?:\S*/)?passage +(?=[a-z-])(.*)", part)
            if match:
                try:
                    found.append(shlex.split(match.group(1), comments=True))
                except ValueError:
                    found.append(match.group(1).split())
    return found


def _lines(block: str) -> list[str]:
    """Lines of a block, continued ones joined: after a backslash or by indenting."""
    block = re.sub(r"\\\n\s*", " ", block)
    return re.sub(r"\n\s+(?=[\[-])", " ", block).splitlines()


@pages
def test_command_lines_name_commands_and_options_that_exist(page, known):
    wrong = []
    for words in spoken(page.read_text(encoding="utf-8")):
        command, rest = words[0], words[1:]
        if command in {"COMMAND", "--help", "-h", "--version"}:
            continue
        if command not in known:
            # A sentence of the program's output may begin with its name.
            if re.fullmatch(r"[a-z]+", command) and not any(w.startswith("-") for w in rest):
                continue
            wrong.append(command)
            continue
        for word in rest:
            option = word.strip("[]").partition("=")[0]
            if re.fullmatch(r"-{1,2}[a-z][a-z-]*", option) and option not in known[command]:
                wrong.append(f"{command} {option}")
    assert not wrong, f"{page.name}: no such thing as {', '.join(wrong)}"


@pages
def test_options_named_in_the_text_exist_and_take_what_is_stated(page, known):
    text = re.sub(r"^```.*?^```", "", page.read_text(encoding="utf-8"), flags=re.M | re.S)
    own = known.get(page.stem)
    wrong = []
    for span in re.findall(r"`(--?[a-z][^`\n]*)`", text):
        words = span.split()
        name, value = words[0].partition("=")[0], words[1] if len(words) > 1 else ""
        if not re.fullmatch(r"--[a-z][a-z-]*|-[a-z]", name):
            continue
        homes = [options[name] for options in known.values() if name in options]
        if own is not None and name in own:
            homes = [own[name]]
        if not homes:
            wrong.append(span)
            continue
        choices = {
            c for o in homes if o and isinstance(o.type, click.Choice) for c in o.type.choices
        }
        if choices and re.fullmatch(r"[a-z-]+", value) and value not in choices:
            wrong.append(span)
    assert not wrong, f"{page.name}: no such option: {', '.join(wrong)}"


def test_every_command_has_its_page_or_a_place_in_one():
    text = "\n".join(page.read_text(encoding="utf-8") for page in PAGES)
    assert [name for name in COMMANDS if f"passage {name}" not in text] == []


def physics_modules() -> list[str]:
    """Names of all modules of the physics."""
    return [m.name for m in pkgutil.walk_packages(passage.physics.__path__, "passage.physics.")]


def test_examples_in_the_docstrings_of_the_physics_run():
    attempted = 0
    for name in physics_modules():
        module = importlib.import_module(name)
        result = doctest.testmod(module)
        assert result.failed == 0, name
        attempted += result.attempted
    assert attempted > 0


# --- the page of methods -----------------------------------------------------------

PACKAGES = tuple(
    m.name.removeprefix("passage.")
    for m in pkgutil.walk_packages(passage.__path__, "passage.")
    if m.ispkg and not m.name.startswith("passage.data")
)


def resolve(name: str) -> bool:
    """Whether ``module.attribute`` (or ``package.module.attribute``) is ours."""
    parts = name.split(".")
    for package in ("", *PACKAGES):
        start = ["passage", *filter(None, [package])]
        for cut in range(1, len(parts) + 1):
            try:
                found = importlib.import_module(".".join([*start, *parts[:cut]]))
            except ImportError:
                break
            for attribute in parts[cut:]:
                found = getattr(found, attribute, None)
                if found is None:
                    break
            if found is not None:
                return True
    return False


@pytest.mark.parametrize("page", [METHODS, LIMITS], ids=lambda path: path.name)
def test_functions_and_tests_named_in_the_pages_exist(page):
    text = page.read_text(encoding="utf-8")
    names = re.findall(r"`([a-z][a-z_0-9]*(?:\.[A-Za-z_][A-Za-z_0-9]*)+)(?:\(\))?`", text)
    code = [n for n in names if not n.endswith((".py", ".md", ".csv", ".toml", ".nc"))]
    assert code, "no function is named"
    assert [n for n in code if not resolve(n)] == []
    tests = set(re.findall(r"`(test_[a-z_0-9]+)(?:\.py)?`", text))
    if page == METHODS:
        assert tests
    missing = sorted(tests - {path.stem for path in (ROOT / "tests").rglob("test_*.py")})
    assert missing == []


def test_methods_page_has_a_place_for_every_output():
    text = METHODS.read_text(encoding="utf-8")
    named = set(re.findall(r"`([a-z_0-9]+)`", text))
    assert [v.name for v in LEG_VARIABLES if v.name not in named] == []


STATUSES = ("published", "from memory", "common practice", "assumption", "derived", "fit")


def test_every_row_of_the_methods_page_says_where_its_formula_comes_from():
    """Rows of tables with a status column carry one of the words that the page explains."""
    text = METHODS.read_text(encoding="utf-8")
    checked = 0
    column = None
    for line in text.splitlines():
        if not line.startswith("|"):
            column = None
            continue
        cells = [cell.strip() for cell in re.split(r"(?<!\\)\|", line.strip("|"))]
        if column is None:
            column = cells.index("status") if "status" in cells else -1
            continue
        if column >= 0 and not set(cells[0]) <= {"-"}:
            assert cells[column].startswith(STATUSES), line
            checked += 1
    assert checked > 20


# Words by which a docstring or a comment says that a number has no source.
DOUBT = re.compile(r"assumption|from memory|common practice|no source", re.I)
#: Phrases that deny an assumption.
DENIED = re.compile(r"no \w+ assumptions?|without assumptions?", re.I)


def test_every_module_that_admits_an_unsourced_number_is_on_the_limits_page():
    text = LIMITS.read_text(encoding="utf-8")
    missing = []
    for folder in ("physics", "planning", "inputs"):
        for path in sorted((PACKAGE / folder).rglob("*.py")):
            named = re.search(rf"`(?:[a-z_.]+\.)?{path.stem}`", text)
            if DOUBT.search(DENIED.sub("", path.read_text(encoding="utf-8"))) and not named:
                missing.append(path.stem)
    assert not missing, f"say what has no source on {LIMITS.name}: {', '.join(missing)}"


def test_modules_in_brackets_of_the_limits_page_exist():
    stems = {path.stem for path in PACKAGE.rglob("*.py")}
    named = []
    for inside in re.findall(r"\[(`[^\]]*`)\](?!\()", LIMITS.read_text(encoding="utf-8")):
        named += re.findall(r"`([^`]+)`", inside)
    assert len(named) > 20
    assert [name for name in named if name.rpartition(".")[2] not in stems] == []


@pytest.mark.parametrize("file", sorted(p.name for p in FOLDER.glob("*.csv")))
def test_reference_files_say_where_they_come_from(file):
    lines = header(file)
    for word in ("source:", "digits:"):
        assert any(line.startswith(word) for line in lines), f"{file}: no {word}"
    assert rows(file)
