"""Run a command and time the silences between what it writes, on a pipe or a terminal."""

from __future__ import annotations

import os
import pty
import re
import select
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

_LEFT = re.compile(r"about (?:(\d+) h )?(?:(\d+) min )?(?:(\d+) s )?left(?! of this step)")


@dataclass(frozen=True)
class Heard:
    """What was written: times since the start with text, the end, and the exit code. [s]"""

    pieces: tuple[tuple[float, str], ...]
    end_s: float
    code: int

    @property
    def longest_gap_s(self) -> float:
        """Longest time in which nothing was written, from the start to the answer. [s]"""
        times = [0.0, *(t for t, _ in self.pieces)] if self.pieces else [0.0, self.end_s]
        return max(b - a for a, b in pairwise(times))

    @property
    def text(self) -> str:
        """All of it."""
        return "".join(text for _, text in self.pieces)

    def first_estimate(self) -> tuple[float, float] | None:
        """The first time left that was named, and the time that was in fact left. [s]"""
        for at, text in self.pieces:
            found = _LEFT.search(text)
            if found:
                h, m, s = (int(part or 0) for part in found.groups())
                return 3600.0 * h + 60.0 * m + s, self.end_s - at
        return None


def heard(words: Sequence[str], *, terminal: bool) -> Heard:
    """Run ``passage`` with these words, and hear stdout and stderr together."""
    command = [sys.executable, "-m", "passage", *words]
    env = {**os.environ, "PASSAGE_PROGRESS": "on"}
    ours, theirs = pty.openpty() if terminal else os.pipe()
    start = time.monotonic()
    process = subprocess.Popen(command, stdout=theirs, stderr=theirs, env=env)
    os.close(theirs)
    pieces = []
    while True:
        ready, _, _ = select.select([ours], [], [], 0.05)
        if not ready:
            continue
        try:
            data = os.read(ours, 65536)
        except OSError:  # a terminal whose other end is closed
            data = b""
        if not data:
            break
        pieces.append((time.monotonic() - start, data.decode(errors="replace")))
    code = process.wait()
    end = time.monotonic() - start
    os.close(ours)
    return Heard(tuple(pieces), end, code)


if __name__ == "__main__":
    made = heard(sys.argv[2:], terminal=sys.argv[1] == "terminal")
    for at, text in made.pieces:
        sys.stdout.write(f"{at:7.2f} {text!r}\n")
    sys.stdout.write(
        f"{made.end_s:7.2f} end, exit {made.code}, longest gap {made.longest_gap_s:.2f} s, "
        f"first estimate {made.first_estimate()}\n"
    )
