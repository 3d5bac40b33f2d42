"""Progress on stderr for work that takes more than a moment."""

from __future__ import annotations

import sys
import time
from types import TracebackType

import click

#: Work shorter than this is not worth a word. [s]
_QUIET_S = 2.0


class Progress:
    """Called with done and total; writes a line on stderr once 2 s have gone by.

    On a terminal the line is rewritten in place; elsewhere a new one comes at most
    every ten seconds, so that logs stay short.
    """

    def __init__(self, what: str) -> None:
        self._what = what
        self._begun = self._started = self._last = time.monotonic()
        self._first: int | None = None
        self._shown = False
        self._live = sys.stderr.isatty()

    def __enter__(self) -> Progress:
        """Itself."""
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """End the line."""
        if self._shown and self._live:
            click.echo("", err=True)

    def __call__(self, done: int, total: int) -> None:
        """Say how far it is."""
        now = time.monotonic()
        elapsed = now - self._begun
        if self._first is None:
            # The pace is that of the steps, not of what came before them.
            self._first, self._started = done, now
        if elapsed < _QUIET_S or (now - self._last < (0.2 if self._live else 10.0) and self._shown):
            return
        self._last, self._shown = now, True
        text = f"{self._what}: {done} of {total}, {elapsed:.0f} s"
        if done > self._first:
            left = (now - self._started) / (done - self._first) * (total - done)
            text += f", about {left:.0f} s left"
        click.echo(f"\r{text}\033[K" if self._live else text, nl=not self._live, err=True)
