"""The tutorials show what their commands print."""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGES = sorted((ROOT / "docs" / "tutorials").glob("*.md"))


@pytest.mark.slow
@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.stem)
def test_a_tutorial_shows_what_is_printed(page, monkeypatch):
    monkeypatch.chdir(ROOT)
    tool = runpy.run_path("docs/tools/run_tutorials.py")
    text = page.read_text(encoding="utf-8")
    with tool["workplace"]():
        assert tool["renewed"](text) == text


def test_every_user_has_a_tutorial_with_commands_that_run():
    assert {p.stem for p in PAGES} == {"master", "owner", "planner"}
    for page in PAGES:
        assert page.read_text(encoding="utf-8").count("```bash\npassage") >= 2


def test_lines_shown_on_the_page_of_seasons_are_the_planners():
    """``docs/season.md`` shows some lines of what the tutorial's test compares."""
    page = (ROOT / "docs" / "season.md").read_text(encoding="utf-8")
    lines = page.split("```text\n")[1].split("```")[0].splitlines()
    tutorial = (ROOT / "docs" / "tutorials" / "planner.md").read_text(encoding="utf-8")
    assert len(lines) > 5
    assert [line for line in lines if line not in tutorial.splitlines()] == []
