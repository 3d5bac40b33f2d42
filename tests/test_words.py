"""Printed strings keep to the words of docs/writing.md."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import passage

PACKAGE = Path(passage.__file__).parent
FORBIDDEN = re.compile(
    r"\b(doors?|twins?|nought|told|said|stands?|stood|walk(?:s|ed|ing)?|dear(?:er)?|in truth|"
    r"thousand million|voyages?|(?:in)?feasible|thresholds?|alarms?|error bars?|rolling angle|"
    r"of limit|lim %|to think about|cannot be done|held against|bell curve|to be had|"
    r"worth a (?:word|second look)|frequenc(?:y|ies) of meeting|of the day|trips?|tilt(?:s|ed)?|"
    r"candidates?|feedback|trimmed|relative bearings?|weather data|cache[sd]?|half as|ways? out|"
    r"in the mean|we (?:know|guess|will not))\b",
    re.IGNORECASE,
)
#: Where the trade uses the word.
ALLOWED = re.compile(r"twin-screw|stands? (?:centred|on deck)", re.IGNORECASE)
DOCS = Path(__file__).parents[1] / "docs"
#: The page that lists the words.
PAGE = DOCS / "writing.md"
#: Besides, what a page of the documentation may say: names, and the words in their plain sense.
ALLOWED_IN_DOCS = re.compile(
    r"(?:cache folder|empty cache|round trips?|people walking|feedback gains|level, tilt"
    r"|the tilt)\b"
)


def printed(source: str) -> Iterator[tuple[int, str]]:
    """Line and text of every literal of more than one word that is no docstring."""
    tree = ast.parse(source)
    bare = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if not isinstance(node, ast.Constant) or id(node) in bare:
            continue
        # A single word is a key or a name of a file, not a sentence.
        if isinstance(node.value, str) and " " in node.value:
            yield node.lineno, node.value


def forbidden(source: str) -> list[tuple[int, str]]:
    """Line and word of each word that we do not print."""
    return [
        (line, found[0])
        for line, text in printed(source)
        for found in FORBIDDEN.finditer(ALLOWED.sub("", text))
    ]


def test_printed_strings_have_no_forbidden_word() -> None:
    found = [
        f"{path.relative_to(PACKAGE)}:{line}: {word}"
        for path in sorted(PACKAGE.rglob("*.py"))
        for line, word in forbidden(path.read_text(encoding="utf-8"))
    ]
    assert not found, "see docs/writing.md:\n" + "\n".join(found)


def test_assets_printed_as_they_are_have_no_forbidden_word() -> None:
    """The template of a vessel file and those of the pages."""
    found = []
    for path in sorted((*PACKAGE.rglob("*.toml"), *PACKAGE.rglob("*.j2"))):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            words = FORBIDDEN.findall(ALLOWED.sub("", line))
            found += [f"{path.relative_to(PACKAGE)}:{number}: {word}" for word in words]
    assert not found, "see docs/writing.md:\n" + "\n".join(found)


def forbidden_in_page(text: str) -> list[tuple[int, str]]:
    """Line and word of a page's own sentences: what it quotes as code is left out."""
    # As many lines as before, so that the number of a line holds.
    prose = re.sub(r"^```.*?^```$", lambda m: "\n" * m[0].count("\n"), text, flags=re.S | re.M)
    return [
        (number, found[0])
        for number, line in enumerate(prose.splitlines(), 1)
        for found in FORBIDDEN.finditer(
            ALLOWED_IN_DOCS.sub("", ALLOWED.sub("", re.sub(r"`[^`]*`", "", line)))
        )
    ]


def test_pages_of_the_documentation_have_no_forbidden_word() -> None:
    found = [
        f"{path.relative_to(DOCS)}:{line}: {word}"
        for path in sorted(DOCS.rglob("*.md"))
        if path != PAGE
        for line, word in forbidden_in_page(path.read_text(encoding="utf-8"))
    ]
    assert not found, "see docs/writing.md:\n" + "\n".join(found)


def test_search_of_pages_leaves_out_code_and_keeps_the_lines() -> None:
    text = "```text\nthe door\n```\n`planning.voyage` stands\nin the user's cache folder\n"
    assert forbidden_in_page(text) == [(4, "stands")]


def test_every_word_that_the_page_rules_out_is_looked_for() -> None:
    text = PAGE.read_text(encoding="utf-8")
    listed = text.split("## Never in what is printed\n")[1].split(".")[0]
    words = [" ".join(part.split()) for part in re.sub(r"\([^)]*\)", "", listed).split(",")]
    assert len(words) > 20
    assert [word for word in words if not FORBIDDEN.fullmatch(word)] == []


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ('say("checked at the door")', ["door"]),
        ('say(f"{n} points are told here")', ["told"]),
        ('say("fins stand centred; the tank stands full")', ["stands"]),
        ('say("a twin-screw yacht on a walkway")', []),
        ('def f():\n    """What the door refused."""', []),
    ],
)
def test_search_sees_parts_of_formatted_strings_and_passes_the_words_of_the_trade(
    source, words
) -> None:
    assert [word for _, word in forbidden(source)] == words
