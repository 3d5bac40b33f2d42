"""The width of the screen, how much is shown, and tables that fit.

A table that is too wide leaves out its least important columns and names them below;
``--wide`` or CSV has them.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

#: Usual width in characters, and the least that is used on a narrower terminal.
USUAL_WIDTH, LEAST_WIDTH = 100, 80


#: A label with blanks after it, as in the lists of ``check``.
_LABEL = re.compile(r"^\s*\S+(?: \S+)?\s{2,}(?=\S)")


@dataclass(frozen=True)
class Layout:
    """The reader's choices: width in characters, all columns or those that fit, detail.

    ``detail`` is "usual", "quiet" (verdict, table and one line of standing cautions) or
    "verbose" (with method and estimates).
    """

    width: int = USUAL_WIDTH
    wide: bool = False
    detail: str = "usual"

    @property
    def quiet(self) -> bool:
        """Whether only verdict and table are wanted."""
        return self.detail == "quiet"

    @property
    def verbose(self) -> bool:
        """Whether method and estimates are wanted too."""
        return self.detail == "verbose"


def screen_width(columns: int | None) -> int:
    """Width to write for a terminal of ``columns``: 100, less on a narrower one, at least 80."""
    if columns is None or columns <= 0:
        return USUAL_WIDTH
    return min(max(columns, LEAST_WIDTH), USUAL_WIDTH)


@dataclass(frozen=True)
class TextColumn:
    """A column of a table for the screen.

    A column of ``rank`` 0 is always shown; of the others those of lowest rank, as long as
    they fit. ``left`` aligns to the left. ``meaning`` is printed below the table; empty
    where the heading is enough.
    """

    heading: str
    rank: int = 0
    left: bool = False
    meaning: str = ""


def wrapped(text: str, width: int = USUAL_WIDTH, first: str = "- ") -> str:
    """A wrapped bullet with a hanging indent."""
    return textwrap.fill(
        text, width, initial_indent=first, subsequent_indent=" " * len(first),
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip


def paragraph(text: str, width: int = USUAL_WIDTH) -> str:
    """A paragraph, wrapped."""
    return textwrap.fill(text, width, break_long_words=False, break_on_hyphens=False)


def hung(text: str, layout: Layout) -> str:
    """Long lines wrapped with a hanging indent; unchanged with ``layout.wide``.

    A line such as ``  uses      waves: hs, tp`` continues below ``waves``.
    """
    if layout.wide:
        return text
    out = []
    for line in text.split("\n"):
        if len(line) <= layout.width:
            out.append(line)
            continue
        label = _LABEL.match(line)
        indent = " " * (label.end() if label else len(line) - len(line.lstrip()) + 2)
        out.append(
            textwrap.fill(
                line, layout.width, subsequent_indent=indent, break_long_words=False,
                break_on_hyphens=False, replace_whitespace=False, drop_whitespace=True,
            )
        )  # fmt: skip
    return "\n".join(out)


def grid(headings: Sequence[str], rows: Sequence[Sequence[str]], left: set[int]) -> str:
    """Columns aligned with two blanks between; ``left`` are aligned to the left.

    A heading may have a second line, for its unit.
    """
    widths = _widths(headings, rows)
    deep = max(heading.count("\n") for heading in headings) + 1
    tops = [[*heading.split("\n"), *[""] * deep][:deep] for heading in headings]

    def line(cells: Sequence[str]) -> str:
        parts = [
            text.ljust(width) if i in left else text.rjust(width)
            for i, (text, width) in enumerate(zip(cells, widths, strict=True))
        ]
        return "  ".join(parts).rstrip()

    heads = [line([top[i] for top in tops]) for i in range(deep)]
    return "\n".join([*heads, line(["-" * w for w in widths]), *map(line, rows)])


def _widths(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> list[int]:
    return [
        max(len(part) for text in column for part in text.split("\n"))
        for column in zip(headings, *rows, strict=True)
    ]


def fitted(
    columns: Sequence[TextColumn], rows: Sequence[Sequence[str]], layout: Layout
) -> list[str]:
    """The columns that fit, their meanings, and a line that names those left out.

    The longest words go on below only where the columns of rank 0 alone are too wide.
    """
    widths = _widths([column.heading for column in columns], rows)
    kept = [i for i, column in enumerate(columns) if layout.wide or column.rank == 0]

    def total(chosen: Sequence[int]) -> int:
        return sum(widths[i] for i in chosen) + 2 * (len(chosen) - 1)

    for i in sorted(range(len(columns)), key=lambda n: (columns[n].rank, n)):
        if i not in kept and total([*kept, i]) <= layout.width:
            kept.append(i)
    kept.sort()
    over = total(kept) - layout.width
    cells = [[row[i] for i in kept] for row in rows]
    if not layout.wide and over > 0:
        cells = _folded(cells, [columns[i] for i in kept], over)
    left = {at for at, i in enumerate(kept) if columns[i].left}
    out = [grid([columns[i].heading for i in kept], cells, left)]
    if layout.quiet:
        return out
    meant = [f"{_flat(columns[i].heading)}: {columns[i].meaning}" for i in kept
             if columns[i].meaning]  # fmt: skip
    if meant:
        out.append(paragraph(f"{'; '.join(meant)}.", layout.width))
    gone = [_flat(columns[i].heading) for i in range(len(columns)) if i not in kept]
    if gone:
        out.append(
            paragraph(f"Left out to fit: {', '.join(gone)} (--wide has them).", layout.width)
        )
    return out


def _flat(heading: str) -> str:
    return " ".join(heading.split())


def _folded(rows: list[list[str]], columns: Sequence[TextColumn], over: int) -> list[list[str]]:
    """Rows with the widest column of words narrower by ``over``, its words going on below.

    It keeps eight characters at least.
    """
    words = [i for i, column in enumerate(columns) if column.left]
    if not words or not rows:
        return rows
    widest = max(words, key=lambda i: max(len(row[i]) for row in rows))
    room = max(max(len(row[widest]) for row in rows) - over, len(columns[widest].heading), 8)
    out: list[list[str]] = []
    for row in rows:
        first, *more = textwrap.wrap(row[widest], room) or [""]
        out.append([first if i == widest else text for i, text in enumerate(row)])
        out += [[line if i == widest else "" for i in range(len(row))] for line in more]
    return out
