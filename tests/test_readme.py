"""What README and docs/plan.md show is what the program prints today."""

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from passage.cli.main import group

ROOT = Path(__file__).parents[1]


def blocks(page: str, name: str, kind: str) -> str:
    text = (ROOT / page).read_text(encoding="utf-8")
    found = re.findall(rf"<!-- {kind}: {name} -->\n```\w*\n(.*?)```", text, re.S)
    assert len(found) == 1
    return found[0]


def words_of(page: str, name: str) -> list[str]:
    """The words of a marked command after ``passage``."""
    command = blocks(page, name, "ci").replace("\\\n", " ")
    return shlex.split(command[command.index("bin/passage ") + len("bin/passage ") :])


def output(page: str, name: str, monkeypatch) -> str:
    monkeypatch.chdir(ROOT / "sample_forecasts")
    monkeypatch.delenv("COLUMNS", raising=False)
    result = CliRunner().invoke(group, words_of(page, name), standalone_mode=False)
    assert result.exception is None
    return result.stdout


@pytest.mark.parametrize(("page", "name"), [("README.md", "main"), ("docs/plan.md", "plan")])
def test_shown_output_is_what_is_printed(page, name, monkeypatch):
    """A snapshot of our own: it keeps the pages true, it does not validate the numbers."""
    shown = blocks(page, name, "output").strip()
    assert shown == output(page, name, monkeypatch).strip()


def test_the_plan_shown_is_of_the_passage_that_readme_chooses():
    """Route, departure and speed of the first sentence are those of the command in docs/plan.md."""
    chosen = re.search(
        r"Leave \w+ (\d+) May (\d\d):00Z by route (\w+) at (\d+) kn",
        blocks("README.md", "main", "output"),
    )
    words = words_of("docs/plan.md", "plan")
    assert chosen is not None
    assert words[1] == f"{chosen[3]}.csv"
    assert words[words.index("--departure") + 1] == f"2026-05-{chosen[1]}T{chosen[2]}:00Z"
    assert words[words.index("--speed") + 1] == chosen[4]


def test_shown_output_is_short_and_opens_with_the_verdict():
    shown = blocks("README.md", "main", "output").strip().splitlines()
    assert len(shown) < 40
    assert max(map(len, shown)) <= 100
    assert shown[2].startswith("Leave ")
