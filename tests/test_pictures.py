"""The pictures of the README show what the program writes today."""

from __future__ import annotations

import re
from pathlib import Path
from types import ModuleType

import pytest
from schema_tool import tool

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def pictures() -> ModuleType:
    return tool("make_pictures")


PAGE = (
    '<style>p{color:red}</style><div id="verdict"><p>Leave {when} at 10 kn: {roll} deg, '
    "{fuel} l, {share} %.</p><dl></dl></div><nav>{rest}</nav>"
)


def made(**changed: str) -> str:
    told = {"when": "18:00Z", "roll": "3.7", "fuel": "5,693", "share": "47", "rest": "x", **changed}
    text = PAGE
    for name, value in told.items():
        text = text.replace("{" + name + "}", value)
    return text


def test_a_quantity_or_what_comes_below_leaves_a_picture_fresh(pictures: ModuleType) -> None:
    same = pictures.fingerprint(made())
    for changed in ({"roll": "3.8"}, {"fuel": "15,708"}, {"share": "9"}, {"rest": "y"}):
        assert pictures.fingerprint(made(**changed)) == same


def test_another_decision_or_style_makes_it_stale(pictures: ModuleType) -> None:
    same = pictures.fingerprint(made())
    assert pictures.fingerprint(made(when="12:00Z")) != same
    assert pictures.fingerprint(made().replace("10 kn", "12 kn")) != same
    assert pictures.fingerprint(made().replace("red", "blue")) != same


def test_every_picture_is_shown_in_the_readme_or_a_tutorial(pictures: ModuleType) -> None:
    pages = [ROOT / "README.md", *(ROOT / "docs" / "tutorials").glob("*.md")]
    text = " ".join(page.read_text("utf-8") for page in pages)
    for name, *_ in pictures.PICTURES:
        file = ROOT / "docs" / "pictures" / f"{name}.png"
        assert f"pictures/{name}.png)" in text
        assert 5_000 < file.stat().st_size < 100_000


def test_plan_and_sheet_show_the_passage_that_the_readme_chooses(pictures: ModuleType) -> None:
    readme = " ".join((ROOT / "README.md").read_text("utf-8").split())
    found = re.search(r"Leave \w+ (\d+) May (\d\d:\d\d)Z by route (\w+) at (\S+) kn", readme)
    assert found is not None
    day, time, route, speed = found.groups()
    for name, words, *_ in pictures.PICTURES:
        if name not in ("compare", "season"):
            assert Path(words[1]).stem == route
            assert words[words.index("--departure") + 1] == f"2026-05-{day}T{time}Z"
            assert words[words.index("--speed") + 1] == speed


@pytest.mark.slow
def test_no_picture_is_stale(
    pictures: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(ROOT)
    assert pictures.stale(tmp_path) == [], "run docs/tools/make_pictures.py"
