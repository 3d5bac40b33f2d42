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

    ``resumed`` is said at once where the first call finds something done already.

    On a terminal the line is rewritten in place; elsewhere a new one comes at most
    every ten seconds, so that logs stay short.
    """

    def __init__(self, what: str, resumed: str = "") -> None:
        self._what, self._resumed = what, resumed
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
            if done and self._resumed:
                click.echo(self._resumed.format(done, total), err=True)
        if elapsed < _QUIET_S or (now - self._last < (0.2 if self._live else 10.0) and self._shown):
            return
        self._last, self._shown = now, True
        text = f"{self._what}: {done} of {total}, {duration(elapsed)}"
        if done > self._first:
            left = (now - self._started) / (done - self._first) * (total - done)
            text += f", about {duration(left)} left"
        click.echo(f"\r{text}\033[K" if self._live else text, nl=not self._live, err=True)


def duration(seconds: float) -> str:
    """``40 s``, ``3 min 20 s``, ``2 h 05 min``."""
    minutes, rest = divmod(round(seconds), 60)
    if minutes < 1:
        return f"{rest} s"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min {rest:02d} s"
