"""Blocks that a report page is built from: tables, notes, key figures, charts, maps.

A block is plain data. ``page.render_page`` turns blocks into markup; words from a user's
file are escaped by its template engine or by ``svg``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from passage.report.drawing.meanings import meaning_of

#: Shown where a number is missing.
MISSING = "\u2013"


def shown(value: object, decimals: int | None = None) -> str:
    """A cell's text: numbers to ``decimals`` places, a dash when missing.

    The minus sign is the typographic one. There are no thousands separators, so that
    figures can be copied. Words are returned unchanged (and unescaped).
    """
    if value is None:
        return MISSING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value if value else MISSING
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        return str(value)
    if not math.isfinite(number):
        return MISSING
    if decimals is None:
        decimals = 0 if number == int(number) else 2
    # Adding zero after rounding turns a rounded -0.0 into 0.0.
    return f"{round(number, decimals) + 0.0:.{decimals}f}".replace("-", "\u2212")


@dataclass(frozen=True)
class Column:
    """One column: heading, unit as people read it, decimals, meaning (shown on hover)."""

    heading: str
    unit: str = ""
    decimals: int | None = None
    meaning: str = ""


@dataclass(frozen=True)
class Table:
    """Rows of raw values under columns; the first cell of a row is its header.

    ``marked`` are numbers of rows to highlight (the chosen plan), labelled ``mark``.
    ``sums`` is an optional last row of totals. ``at_s`` gives a time for each row, so that
    the read-out of a time chart can find it.
    """

    columns: Sequence[Column | str]
    rows: Sequence[Sequence[object]]
    caption: str = ""
    marked: Sequence[int] = ()
    mark: str = "chosen"
    sums: Sequence[object] | None = None
    at_s: Sequence[float] | None = None

    def heads(self) -> list[Column]:
        """Columns with the meaning of each heading; strings become columns.

        Where the heading is a user's own name, the meaning is made from the caption.
        """
        made = [Column(c) if isinstance(c, str) else c for c in self.columns]
        other = f"by {{}}, of {self.caption}" if self.caption else "by {}"
        return [
            c
            if c.meaning or not c.heading
            else replace(c, meaning=meaning_of(c.heading) or other.format(c.heading))
            for c in made
        ]

    def texts(self) -> list[list[str]]:
        """The cells as shown, row by row.

        Raises
        ------
        ValueError
            A row has more or fewer values than there are columns.
        """
        heads = self.heads()
        for i, row in enumerate(self.rows):
            if len(row) != len(heads):
                raise ValueError(f"row {i} has {len(row)} cells for {len(heads)} columns")
        return [
            [shown(v, h.decimals) for v, h in zip(row, heads, strict=True)] for row in self.rows
        ]

    def sums_texts(self) -> list[str]:
        """The row of totals as shown; empty cells stay empty."""
        heads = self.heads()
        return [
            "" if v is None else shown(v, h.decimals)
            for v, h in zip(self.sums or (), heads, strict=True)
        ]

    def numeric(self) -> list[bool]:
        """Whether each column holds numbers (aligned right)."""
        self.texts()  # raises the clear message for rows of the wrong length
        columns = list(zip(*self.rows, strict=True)) if self.rows else [()] * len(self.columns)
        return [
            any(not isinstance(v, (str, bool, type(None))) for v in column)
            and not any(isinstance(v, str) for v in column)
            for column in columns
        ]


@dataclass(frozen=True)
class Chart:
    """A drawing in two widths (for wide and for narrow windows) with its table.

    For charts with a read-out ``axis`` holds the left and right edge of the plot in the
    wide and in the narrow drawing, and the values there. Charts with the same ``link``
    ("way": time on passage, "leave": time of departure) show the same moment.
    """

    title: str
    description: str
    wide: str
    narrow: str
    table: Table
    note: str = ""
    axis: tuple[float, float, float, float, float, float] | None = None
    link: str = ""


@dataclass(frozen=True)
class MapFrame:
    """The map at one time; ``heights`` and ``winds`` are the grid for its read-out."""

    label: str
    wide: str
    narrow: str
    time_s: float | None = None
    heights: str = ""
    winds: str = ""


@dataclass(frozen=True)
class Map:
    """One or more frames of the same map, a key, and the table of what is drawn."""

    title: str
    description: str
    frames: Sequence[MapFrame]
    key: str
    table: Table
    note: str = ""
    geometry: str = ""
    track: str = ""


@dataclass(frozen=True)
class Note:
    """A remark; ``severity`` is "note", "caution" or "limit"."""

    text: str
    severity: str = "note"
    where: str = ""

    def word(self) -> str:
        """The severity in a word, so that colour is not its only carrier."""
        return {"caution": "Caution", "limit": "Warning"}.get(self.severity, "Note")

    def head(self) -> str:
        """Start of the remark: severity and place, or only the place of a plain note."""
        if self.where and self.word() == "Note":
            return f"{self.where[0].upper()}{self.where[1:]}:"
        return f"{self.word()}, {self.where}" if self.where else self.word()


@dataclass(frozen=True)
class Notes:
    """A list of remarks; plain strings are notes."""

    items: Sequence[Note | str]
    title: str = ""

    def notes(self) -> list[Note]:
        """All as :class:`Note`."""
        return [Note(i) if isinstance(i, str) else i for i in self.items]


@dataclass(frozen=True)
class Figure:
    """One key figure: what, value as shown, unit, and a line under it."""

    label: str
    value: str
    unit: str = ""
    under: str = ""
    severity: str = "note"


@dataclass(frozen=True)
class Figures:
    """The answer in a few figures, with a sentence before them."""

    items: Sequence[Figure]
    sentence: str = ""


@dataclass(frozen=True)
class Facts:
    """Pairs of term and value: provenance, assumptions."""

    items: Sequence[tuple[str, object]]
    title: str = ""

    def pairs(self) -> list[tuple[str, str]]:
        """Pairs as shown."""
        return [(term, shown(value)) for term, value in self.items]


@dataclass(frozen=True)
class Card:
    """One named option: its name, what it is, its figures, and what is against it.

    ``rows`` are pairs of label and value; ``style`` is the number of the route's mark, None
    for none; ``state`` is "good", "caution", "limit" or "note", with its reason in ``note``.
    """

    name: str
    what: str = ""
    rows: Sequence[tuple[str, str]] = field(default_factory=tuple)
    note: str = ""
    state: str = "note"
    style: int | None = None
    chosen: bool = False


@dataclass(frozen=True)
class Cards:
    """Options side by side."""

    items: Sequence[Card]
    title: str = ""


Block = Chart | Table | Notes | Map | Figures | Facts | Cards


@dataclass(frozen=True)
class Section:
    """A part of the page.

    ``short`` is its name in the contents line; a ``folded`` section opens on a click; a
    ``sheet`` is printed on a page of its own.
    """

    heading: str
    intro: str = ""
    blocks: Sequence[Block] = field(default_factory=tuple)
    short: str = ""
    folded: bool = False
    sheet: bool = False
