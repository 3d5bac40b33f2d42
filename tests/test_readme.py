"""What README shows is what the program prints today."""

import re
import shlex
from pathlib import Path

from click.testing import CliRunner

from passage.cli.main import group

ROOT = Path(__file__).parents[1]


def blocks(name: str, kind: str) -> str:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.findall(rf"<!-- {kind}: {name} -->\n```\w*\n(.*?)```", text, re.S)
    assert len(found) == 1
    return found[0]


def readme_plan(monkeypatch) -> str:
    monkeypatch.chdir(ROOT)
    command = blocks("main", "ci").replace("\\\n", " ")
    words = shlex.split(command[command.index("/passage plan") + len("/passage") :])
    result = CliRunner().invoke(group, words, standalone_mode=False)
    assert result.exception is None
    return result.stdout


def test_shown_output_is_what_is_printed(monkeypatch):
    """A snapshot of our own: it keeps README true, it does not validate the numbers."""
    assert blocks("main", "output").strip() == readme_plan(monkeypatch).strip()
