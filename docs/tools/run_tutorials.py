"""Run the tutorials and put what their commands print into their pages.

Run from the project folder::

    python docs/tools/run_tutorials.py [--check]

A tutorial is a page whose ``bash`` blocks are run one after the other in a copy of
``sample_forecasts``. A block after ``<!-- file: NAME -->`` is written to that file first. The
``text`` block that follows a command shows what it prints; ``<!-- first N lines -->`` before it
keeps the first N. ``--check`` changes nothing and says which pages no longer agree.
"""

from __future__ import annotations

import contextlib
import os
import re
import runpy
import shlex
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from click.testing import CliRunner

from passage.cli.main import group

PAGES = Path("docs/tutorials")
SAMPLES = Path("sample_forecasts")
_BLOCK = re.compile(
    r"(?:<!-- file: (?P<file>\S+) -->\n)?(?:<!-- first (?P<lines>\d+) lines -->\n)?"
    r"```(?P<kind>\w+)\n(?P<body>.*?)```",
    re.S,
)


def run(words: list[str]) -> str:
    """What one command prints on standard output; a failure is the page's."""
    if words[0] == "python":
        before = sys.argv
        sys.argv = words[1:]
        try:
            runpy.run_path(words[1], run_name="__main__")
        finally:
            sys.argv = before
        return ""
    if words[0] != "passage":
        raise SystemExit(f"A tutorial runs passage and python, not {words[0]}")
    result = CliRunner().invoke(group, words[1:], standalone_mode=False)
    if result.exception:
        raise result.exception
    return str(result.stdout)


def renewed(text: str) -> str:
    """The page with what its commands print now; run where the files are."""
    made, end, printed = [], 0, ""
    for block in _BLOCK.finditer(text):
        made.append(text[end : block.start()])
        shown, body = block[0], block["body"]
        if block["file"]:
            Path(block["file"]).write_text(body, encoding="utf-8")
        elif block["kind"] == "bash":
            lines = body.replace("\\\n", " ").splitlines()
            printed = "".join(run(shlex.split(line)) for line in lines if line.strip())
        elif block["kind"] == "text":
            lines = [line.rstrip() for line in printed.strip("\n").splitlines()]
            most = int(block["lines"] or len(lines))
            rest = ["..."] if len(lines) > most else []
            new = "\n".join([*lines[:most], *rest])
            shown = shown[: shown.index("```text")] + f"```text\n{new}\n```"
        made.append(shown)
        end = block.end()
    return "".join([*made, text[end:]])


@contextlib.contextmanager
def workplace() -> Iterator[Path]:
    """A copy of the samples to work in, without anybody's own defaults."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "evening"
        shutil.copytree(SAMPLES, place, ignore=shutil.ignore_patterns("__pycache__"))
        home, kept = Path.cwd(), dict(os.environ)
        os.environ["XDG_CONFIG_HOME"] = folder
        os.environ.pop("COLUMNS", None)
        for name in [n for n in os.environ if n.startswith("PASSAGE_") and n != "PASSAGE_CACHE"]:
            del os.environ[name]
        os.chdir(place)
        try:
            yield place
        finally:
            os.chdir(home)
            os.environ.clear()
            os.environ.update(kept)


def main() -> None:
    """Renew or check every page."""
    wrong = []
    for page in sorted(PAGES.glob("*.md")):
        text = page.read_text(encoding="utf-8")
        with workplace():
            now = renewed(text)
        if now != text and "--check" in sys.argv:
            wrong.append(page.name)
        elif now != text:
            page.write_text(now, encoding="utf-8")
    if wrong:
        sys.exit(f"Run docs/tools/run_tutorials.py: {', '.join(wrong)} no longer agree.")


if __name__ == "__main__":
    main()
