"""Where each key of a TOML text is.

The standard library's reader gives values but no positions. This scanner reads a
text *that has already been read without error* and notes, for every key and every
list item, the line and the span of its value, so that messages can name a line and
a value can be replaced without touching the comments around it.
"""

from __future__ import annotations

import bisect
import re
from dataclasses import dataclass, field

Path = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_ESCAPES = {"n": "\n", "t": "\t", "r": "\r", "b": "\b", "f": "\f", "e": "\x1b"}


@dataclass(frozen=True)
class Span:
    """Line (from 1) of a key or header, and where its value starts and ends."""

    line: int
    start: int
    end: int


@dataclass
class KeyMap:
    """All spans of a text.

    ``keys`` maps a path such as ``("fins", 0, "area_m2")`` to its span; tables map
    to the span of their header. ``table_end`` is where a new key of a table may be
    inserted: the start of the line after its last key.
    """

    keys: dict[Path, Span] = field(default_factory=dict)
    table_end: dict[Path, int] = field(default_factory=dict)

    def line(self, path: Path) -> int | None:
        """Line of a path, or of the nearest thing that holds it."""
        while path:
            if path in self.keys:
                return self.keys[path].line
            path = path[:-1]
        return None


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.map = KeyMap()
        self.array_length: dict[Path, int] = {}
        starts = [match.end() for match in re.finditer("\n", text)]
        self.starts = [0, *starts]

    def line(self, position: int) -> int:
        """Line number of a position."""
        return bisect.bisect_right(self.starts, position)

    def peek(self, size: int = 1) -> str:
        return self.text[self.at : self.at + size]

    def skip(self, *, lines: bool) -> None:
        """Pass over blanks, and over comments and line ends if ``lines``."""
        blanks = " \t\r\n" if lines else " \t"
        while self.at < len(self.text):
            if self.text[self.at] in blanks:
                self.at += 1
            elif lines and self.text[self.at] == "#":
                end = self.text.find("\n", self.at)
                self.at = len(self.text) if end < 0 else end
            else:
                return

    def string(self) -> str:
        """Pass over a string of any of the four kinds and return its text."""
        quote = self.peek(3)
        if quote not in ('"""', "'''"):
            quote = self.peek()
        start = self.at + len(quote)
        self.at = start
        while self.peek(len(quote)) != quote:
            if self.at >= len(self.text):
                raise ValueError("unterminated string")
            self.at += 2 if quote[0] == '"' and self.peek() == "\\" else 1
        end = self.at
        self.at += len(quote)
        if len(quote) == 3:  # up to two quotes may come just before the closing ones
            while self.peek() == quote[0]:
                self.at += 1
                end += 1
        inner = self.text[start:end]
        if quote[0] == "'":
            return inner
        return re.sub(r"\\(.)", lambda m: _ESCAPES.get(m[1], m[1]), inner)

    def key(self) -> Path:
        """Read a key, dotted or not."""
        parts: list[str | int] = []
        while True:
            self.skip(lines=False)
            if self.peek() in ('"', "'"):
                parts.append(self.string())
            else:
                match = _BARE.match(self.text, self.at)
                if match is None:
                    raise ValueError("no key")
                parts.append(match[0])
                self.at = match.end()
            self.skip(lines=False)
            if self.peek() != ".":
                return tuple(parts)
            self.at += 1

    def value(self, path: Path) -> None:
        """Pass over a value, noting what it holds."""
        start = self.at
        line = self.line(start)
        mark = self.peek()
        if mark in ('"', "'"):
            self.string()
        elif mark == "[":
            self.items(path)
        elif mark == "{":
            self.pairs(path)
        else:
            while self.at < len(self.text) and self.text[self.at] not in ",]}#\r\n":
                self.at += 1
            while self.text[self.at - 1] in " \t":
                self.at -= 1
        self.map.keys[path] = Span(line, start, self.at)

    def items(self, path: Path) -> None:
        """Pass over a list."""
        self.at += 1
        index = 0
        while True:
            self.skip(lines=True)
            if self.peek() == "]":
                self.at += 1
                return
            self.value((*path, index))
            index += 1
            self.skip(lines=True)
            if self.peek() == ",":
                self.at += 1

    def pairs(self, path: Path) -> None:
        """Pass over an inline table."""
        self.at += 1
        while True:
            self.skip(lines=True)
            if self.peek() == "}":
                self.at += 1
                return
            self.pair(path)
            self.skip(lines=True)
            if self.peek() == ",":
                self.at += 1

    def pair(self, table: Path) -> None:
        """Pass over ``key = value``."""
        line = self.line(self.at)
        path = table + self.key()
        self.at += 1  # the equals sign
        self.skip(lines=False)
        self.value(path)
        span = self.map.keys[path]
        self.map.keys[path] = Span(line, span.start, span.end)

    def resolve(self, path: Path) -> Path:
        """Put in the index of the last item wherever a header passes through a list."""
        full: Path = ()
        for part in path:
            full = (*full, part)
            if full in self.array_length:
                full = (*full, self.array_length[full] - 1)
        return full

    def header(self) -> Path:
        """Read ``[table]`` or ``[[table]]`` and return its path."""
        start = self.at
        double = self.peek(2) == "[["
        self.at += 2 if double else 1
        parts = self.key()
        self.at = self.text.index("]", self.at) + (2 if double else 1)
        if double:
            base = (*self.resolve(parts[:-1]), parts[-1])
            count = self.array_length.get(base, 0)
            self.array_length[base] = count + 1
            path: Path = (*base, count)
            self.map.keys.setdefault(base, Span(self.line(start), start, self.at))
        else:
            path = self.resolve(parts)
        self.map.keys[path] = Span(self.line(start), start, self.at)
        return path

    def next_line(self) -> int:
        end = self.text.find("\n", self.at)
        return len(self.text) if end < 0 else end + 1

    def run(self) -> KeyMap:
        table: Path = ()
        self.map.table_end[table] = 0
        while True:
            self.skip(lines=True)
            if self.at >= len(self.text):
                return self.map
            if self.peek() == "[":
                table = self.header()
            else:
                self.pair(table)
            self.map.table_end[table] = self.next_line()


def map_keys(text: str) -> KeyMap:
    """Find every key of a TOML text.

    Parameters
    ----------
    text
        A text the standard reader accepts.

    Returns
    -------
    KeyMap
        Spans by path; empty if the text uses a form this scanner does not know,
        in which case messages go without line numbers.
    """
    try:
        return _Scanner(text).run()
    except (ValueError, IndexError, RecursionError):
        return KeyMap()
