"""Text files that would take for ever, or all memory, to parse: refused before that.

Parsers recurse over nesting, and a header of a million columns is compared name by
name. No file of ours is deep or wide, so the text itself shows what to refuse.
"""

from __future__ import annotations

import re

#: The longest line of a table, and of a vessel or map file. A row of ours has some
#: twenty cells. [characters]
MOST_IN_A_LINE = 20_000
#: Levels of brackets or of dotted names. A GeoJSON file has eight, a vessel file three.
MOST_LEVELS = 40
#: Settings of a vessel or map file; one with every tank and line of a hull has some hundreds.
MOST_SETTINGS = 3000
_DOTTED = re.compile(rf"(?<![A-Za-z0-9_\"'-])(?:[A-Za-z0-9_\"'-]+[ \t]*\.[ \t]*){{{MOST_LEVELS}}}")
_OPENING = "[{"
_LONG_LINE = re.compile(rf"(?:\A|(?<=[\r\n]))[^\r\n]{{{MOST_IN_A_LINE + 1}}}")
_SIGNS = re.compile(r'\\.|["\n\[\]{}]')


def why_not_a_table(text: str) -> str:
    """Why a text cannot be a table or settings file of ours, or nothing: a line too long."""
    # Any of the three line ends; old spreadsheets write a bare carriage return.
    found = _LONG_LINE.search(text)
    if found is None:
        return ""
    long = len(re.split(r"[\r\n]", text[found.start() :], maxsplit=1)[0])
    return f"has a line of {long:,} characters"


def why_not_settings(text: str) -> str:
    """Why a text cannot be a vessel or map file (TOML) of ours, or nothing."""
    if text.count("=") + text.count("[") > MOST_SETTINGS:
        return f"has more than {MOST_SETTINGS:,} settings and lists"
    return why_not_a_table(text) or why_too_deep(text, in_a_line=True)


def why_too_deep(text: str, *, in_a_line: bool = False) -> str:
    """Whether brackets or dotted names of JSON or TOML nest deeper than any file of ours.

    ``in_a_line`` counts every line by itself, for TOML, whose comments may hold any
    bracket; what nests over lines is left to its parser.
    """
    if in_a_line and _DOTTED.search(text):
        return f"has names of more than {MOST_LEVELS} parts"
    level, quoted = 0, False
    for found in _SIGNS.finditer(text):
        sign = found[0]
        if sign == '"':
            quoted = not quoted
        elif sign == "\n":
            # Neither JSON nor TOML lets a plain string run over a line end.
            quoted, level = False, 0 if in_a_line else level
        elif not quoted and len(sign) == 1:
            level += 1 if sign in _OPENING else -1
            if level > MOST_LEVELS:
                return f"is nested deeper than {MOST_LEVELS} levels"
    return ""
