"""Every code block of README, DEVELOPERS.md and docs is run or read here, or says why not.

A comment on the line before a block, which no page shows, says what becomes of it:
``<!-- not run: REASON -->``, ``<!-- file: NAME -->`` for the content of a file, and the marks
of README and of ``docs/tools/run_tutorials.py``. A block without one is TOML, which is read
here, or a page's whose blocks another test runs. What is not run is parsed all the same.
"""

from __future__ import annotations

import json
import re
import shlex
import tomllib
from dataclasses import dataclass
from pathlib import Path

import click
import pytest

from passage.cli.defaults import read_file
from passage.cli.forms import check_name
from passage.cli.main import group
from passage.inputs.forecast.mapping import read_map
from passage.inputs.records.log import read_log
from passage.inputs.route import read_route
from passage.inputs.vessel import read_vessel

ROOT = Path(__file__).resolve().parents[1]
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted((ROOT / "docs").rglob("*.md")),
]
#: Marks of two pages, and what looks at them.
MARKS = {
    "README.md": {"ci: main", "ci: test", "output: main"},  # .ci/run, test_readme.py
    "docs/plan.md": {"ci: plan", "output: plan"},  # test_readme.py
}
NOT_RUN = re.compile(r"not run: (.{4,})")


@dataclass(frozen=True)
class Block:
    """A fenced block: its page, line, language, the marks before it, and what is in it."""

    page: str
    line: int
    language: str
    marks: tuple[str, ...]
    text: str

    def __str__(self) -> str:
        return f"{self.page}:{self.line}"

    @property
    def reason(self) -> str:
        """Why it is not run; nothing where it is."""
        return next((m[1] for mark in self.marks if (m := NOT_RUN.fullmatch(mark))), "")


def blocks(text: str, page: str) -> list[Block]:
    """Fenced blocks of a page, in order; the marks are comments on the lines just before."""
    found, marks, open_fence = [], [], None
    for number, line in enumerate(text.splitlines(), 1):
        bare = line.strip()
        if open_fence is None:
            if fence := re.match(r"(`{3,}|~{3,})\s*(.*)$", bare):
                open_fence = (fence[1], fence[2], number, tuple(marks), [])
            elif comment := re.fullmatch(r"<!--\s*(.*?)\s*-->", bare):
                marks.append(comment[1])
                continue
            marks = []
        elif bare == open_fence[0]:
            _, language, start, before, inside = open_fence
            found.append(Block(page, start, language, before, "\n".join(inside) + "\n"))
            open_fence = None
        else:
            open_fence[4].append(line)
    assert open_fence is None, f"{page}:{open_fence[2]}: the block does not end"
    return found


def all_blocks() -> list[Block]:
    return [
        block
        for page in PAGES
        for block in blocks(page.read_text("utf-8"), page.relative_to(ROOT).as_posix())
    ]


def run_elsewhere(block: Block) -> bool:
    """Whether another test, or ``.ci/run``, runs it or compares it with what is printed."""
    if MARKS.get(block.page, set()) & set(block.marks):
        return True
    if block.page == "docs/python.md":
        return block.language == "python"  # tests/api/test_python_page.py
    if block.page.startswith("docs/tutorials/"):  # tests/test_tutorials.py
        return block.language in ("bash", "text") or any(
            m.startswith("file: ") for m in block.marks
        )
    return False


# --- what is read --------------------------------------------------------------------


def vessel_with(sections: str, sample: str) -> str:
    """The sample yacht with these sections in place of her own."""
    new = set(tomllib.loads(sections))
    kept, keep = [], True
    for line in sample.splitlines():
        if header := re.match(r"\[+([a-z_]+)", line):
            keep = header[1] not in new
        kept += [line] * keep
    return "\n".join([*kept, sections])


def read_toml(text: str, folder: Path) -> None:
    """By the program's reader of such a file; sections of a vessel file go into the sample."""
    keys = set(tomllib.loads(text))
    path = folder / "block.toml"
    sample = (ROOT / "sample_forecasts" / "brambling.toml").read_text("utf-8")
    if keys == {"names"}:
        path.write_text(text, "utf-8")
        read_map(path)
    elif keys <= set(tomllib.loads(sample)) | {"standing"}:
        path.write_text(text if "vessel" in keys else vessel_with(text, sample), "utf-8")
        read_vessel(path)
    else:
        path.write_text(text, "utf-8")
        read_file(path)


def read_named(name: str, text: str, folder: Path) -> None:
    """The content of a file of that name."""
    path = folder / name
    path.write_text(text, "utf-8")
    if name.endswith(".toml"):
        read_toml(text, folder)
    elif name.startswith("log"):
        assert read_log(path)
    else:
        assert read_route(path).legs


# --- what is parsed though it is not run -------------------------------------------


def command_lines(text: str) -> list[list[str]]:
    """Words of each ``passage`` command, lines joined as a shell does, or by indenting."""
    text = re.sub(r"\\\n\s*", " ", text)
    text = re.sub(r"\n\s+(?=[\[(-])", " ", text)
    lines = [re.match(r"(?:\S*/)?passage +(.*)", line.strip()) for line in text.splitlines()]
    return [shlex.split(line[1], comments=True) for line in lines if line]


def the_command(name: str) -> click.Command:
    command = group.get_command(click.Context(group), name)
    assert command is not None, f"no command {name}"
    return command


def parse(words: list[str]) -> None:
    """As the program does before it opens a file, with the defaults of where it is typed."""
    command = the_command(words[0])
    try:
        check_name(command.make_context(words[0], words[1:], parent=click.Context(group)))
    except click.UsageError as err:
        raise AssertionError(f"{' '.join(words)}: {err.format_message()}") from None


def parse_synopsis(words: list[str]) -> None:
    """What is needed is there without brackets, and the words of a choice are all its words."""
    command = the_command(words[0])
    options = {name: p for p in command.params for name in (*p.opts, *p.secondary_opts)}
    text = " ".join(words[1:])
    for name, value in re.findall(r"(?<!\S)[\[(]*(--?[a-z][a-z-]*)(?: ([^\s\])]+))?", text):
        option = options.get(name)
        assert option is not None, f"passage {words[0]} has no {name}"
        if isinstance(option.type, click.Choice) and "|" in value:
            assert set(value.split("|")) == set(option.type.choices), f"{name} {value}"
    outside = re.sub(r"\[[^\]]*\]", "", text)
    for param in command.params:
        if param.required and isinstance(param, click.Option):
            assert set(param.opts) & set(outside.split()), f"{words[0]} needs {param.opts[0]}"


def check_shell(block: Block, before: list[list[str]]) -> None:
    """Commands parse, and files of the project that are named exist."""
    for words in command_lines(block.text):
        if block.reason == "a synopsis":
            parse_synopsis(words)
            continue
        if words[1] == "...":
            earlier = [w for w in before if w[0] == words[0]]
            assert earlier, f"{' '.join(words)}: of what command above?"
            words = [*earlier[-1], *words[2:]]
        parse(words)
        before.append(words)
    named = re.findall(r"(?<![\w./])(?:tests|docs|sample_forecasts)/[\w./]+", block.text)
    assert [name for name in named if not (ROOT / name).exists()] == []


def check(block: Block, folder: Path, before: list[list[str]]) -> None:
    """Read or parse a block; an error that names it where it does not hold, or has no mark."""
    named = [mark.removeprefix("file: ") for mark in block.marks if mark.startswith("file: ")]
    try:
        if named:
            read_named(named[0], block.text, folder)
        elif block.language == "toml":
            read_toml(block.text, folder)
        else:
            assert run_elsewhere(block) or block.reason, (
                "nothing runs this block. Put <!-- not run: REASON --> or <!-- file: NAME --> "
                "on the line before it."
            )
        if block.language == "json":
            json.loads(block.text)
        if block.language == "python" and ">>>" not in block.text:
            compile(block.text, str(block), "exec")
        if block.language == "bash":
            check_shell(block, before)
    except Exception as err:
        raise AssertionError(f"{block}: {err}") from err


@pytest.fixture(autouse=True)
def own_defaults(tmp_path, monkeypatch):
    """Commands take defaults from ``passage.toml`` of a page, and from nowhere else."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.delenv("PASSAGE_DEFAULTS")


def test_every_block_of_the_pages_is_run_read_or_marked(tmp_path, monkeypatch):
    found = all_blocks()
    assert len(found) > 50
    wrong, before, folder = [], [], tmp_path
    for block in found:
        if folder.name != block.page.replace("/", "-"):
            folder, before = tmp_path / block.page.replace("/", "-"), []
            folder.mkdir()
            monkeypatch.chdir(folder)
        try:
            check(block, folder, before)
        except AssertionError as err:
            wrong.append(str(err))
    assert not wrong, "\n".join(wrong)


def test_no_block_is_without_a_language():
    assert [str(block) for block in all_blocks() if not block.language] == []


@pytest.mark.parametrize(
    ("page", "text", "words"),
    [
        ("docs/new.md", "```\nanything\n```", "nothing runs this block"),
        ("docs/new.md", "```python\nx = 1\n```", "nothing runs this block"),
        ("docs/new.md", "```bash\npassage defaults\n```", "nothing runs this block"),
        ("README.md", "~~~bash\nls\n~~~", "nothing runs this block"),
        ("docs/new.md", "<!-- not run: -->\n```bash\nls\n```", "nothing runs this block"),
        ("docs/new.md", "<!-- not run: a file -->\n\n```text\nx\n```", "nothing runs this block"),
        ("docs/new.md", "<!-- not run: an idea -->\n```python\nx =\n```", "invalid syntax"),
        ("docs/new.md", "<!-- not run: an idea -->\n```json\n{'a': 1}\n```", "Expecting property"),
        ("docs/new.md", '```toml\nvesel = "a.toml"\n```', "vesel"),
        ("docs/new.md", "```toml\n[roll]\nperiod_s = 8.0\n```", "period_s"),
        ("docs/new.md", "<!-- file: r.csv -->\n```csv\nname,lat,lon\nA,95,0\nB,1,1\n```", "95"),
        (
            "docs/new.md",
            "<!-- not run: slow -->\n```bash\npassage plan r.csv --speeed 3\n```",
            "--speeed",
        ),
        (
            "docs/new.md",
            "<!-- not run: slow -->\n```bash\npassage record r.csv -o a.png\n```",
            "does not write .png",
        ),
        (
            "docs/new.md",
            "<!-- not run: a synopsis -->\n```bash\npassage calibrate LOG [--vessel FILE]\n```",
            "calibrate needs --vessel",
        ),
        (
            "docs/new.md",
            "<!-- not run: a synopsis -->\n```bash\npassage decay FILE [--format table|csv]\n```",
            "--format table|csv",
        ),
        (
            "docs/new.md",
            "<!-- not run: slow -->\n```bash\npytest tests/test_none.py\n```",
            "test_none",
        ),
    ],
)
def test_a_block_that_is_wrong_or_unmarked_is_found(page, text, words, tmp_path):
    (block,) = blocks(text, page)
    with pytest.raises(AssertionError, match=re.escape(words)):
        check(block, tmp_path, [])
