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


def readme_output(monkeypatch) -> str:
    monkeypatch.chdir(ROOT / "sample_forecasts")
    monkeypatch.delenv("COLUMNS", raising=False)
    command = blocks("main", "ci").replace("\\\n", " ")
    words = shlex.split(command[command.index("bin/passage ") + len("bin/passage ") :])
    result = CliRunner().invoke(group, words, standalone_mode=False)
    assert result.exception is None
    return result.stdout


def test_shown_output_is_what_is_printed(monkeypatch):
    """A snapshot of our own: it keeps README true, it does not validate the numbers."""
    assert blocks("main", "output").strip() == readme_output(monkeypatch).strip()


def test_shown_output_is_short_and_opens_with_the_verdict():
    shown = blocks("main", "output").strip().splitlines()
    assert len(shown) < 40
    assert max(map(len, shown)) <= 100
    assert shown[2].startswith("Leave ")
