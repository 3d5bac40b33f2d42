"""Progress on stderr: one line that is rewritten on a terminal, plain lines elsewhere.

Never silent for more than two seconds: a thread writes how far the work is, and how long
it has taken, whenever nothing else was written. ``PASSAGE_PROGRESS=off``
leaves it out.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from types import TracebackType

import click

from passage.cli import pace

#: Longest silence, a little under the two seconds that are promised. [s]
SILENCE_S = 1.7
#: The line of a terminal is rewritten this often. [s]
_LIVE_S = 0.5
#: Elsewhere lines come further apart once the work has taken this long. [s]
_LONG_S = 600.0
#: Time that had gone by in silence before a command could begin. [s]
_BEFORE_S = 0.6
#: Time between looks at the clock. [s]
_LOOK_S = 0.1


class Progress:
    """Work that takes a while: its name, and how much of it is done.

    Called with done and total. Opened within another, it is shown in its place until it
    ends. ``resumed`` is printed at once if the first call finds work already done. ``part``:
    the time left is that of this step only. ``like`` is the key of similar commands: where
    nothing is counted, the time left goes by the last of them.
    """

    def __init__(self, what: str, resumed: str = "", *, part: bool = False, like: str = "") -> None:
        self._what, self._resumed, self._part = what, resumed, part
        self._like = like
        self._last_s: float | None = None
        self._asked = False
        self._begun = time.monotonic()
        self._steps: list[tuple[float, int]] = []
        self._total = 0
        self._named = False

    def __enter__(self) -> Progress:
        """Itself, now the work that is shown."""
        self._begun = time.monotonic()
        _LINE.open(self)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        value: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Show again the work that it was part of."""
        _LINE.close(self)
        if self._like and kind is None:
            pace.keep(self._like, time.monotonic() - self._begun)

    def __call__(self, done: int, total: int) -> None:
        """How far it is; fewer done than before starts the count again."""
        if not self._steps and done and self._resumed:
            _LINE.say(self._resumed.format(done, total))
        if self._steps and done < self._steps[-1][1]:
            self._steps.clear()
        self._total = total
        self._steps.append((time.monotonic(), done))
        _LINE.lead(self)

    def stage(self, what: str) -> None:
        """Go on with another step, of which nothing is counted yet."""
        self._what, self._named = what, True
        self._steps.clear()
        _LINE.lead(self)

    @property
    def has_news(self) -> bool:
        """Whether it has begun; until then the work that it is part of is shown."""
        return self._named or bool(self._steps)

    @property
    def counts(self) -> bool:
        """Whether steps are counted, from which the time left follows."""
        return bool(self._steps)

    def text(self) -> str:
        """``routes at a speed: 2 of 6, 4 s, about 9 s left``."""
        now = time.monotonic()
        gone = duration(now - self._begun)
        if not self._steps:
            return f"{self._what}, {gone}{self.by_the_last(now)}"
        done = self._steps[-1][1]
        if done >= self._total:
            return f"{self._what}: all {self._total} done, {gone}"
        text = f"{self._what}: {done} of {self._total}, {gone}"
        left = self.left_s(now)
        if left is None:
            return text
        return f"{text}, about {duration(left)} left{' of this step' if self._part else ''}"

    def by_the_last(self, now: float) -> str:
        """Time left going by the last similar run, or how long that took once this takes longer."""
        if self._like and not self._asked:
            self._asked, self._last_s = True, pace.last_s(self._like)
        if self._last_s is None:
            return ""
        left = self._last_s - (now - self._begun)
        if left < 0.5:
            return f"; the last similar run took {duration(self._last_s)}"
        return f", about {duration(left)} left, going by the last similar run"

    def left_s(self, now: float) -> float | None:
        """Time left by the pace of the steps, None until two of them are known. [s]

        The first step is left out: it makes the tables that the others only read.
        """
        first = 2 if len(self._steps) > 1 and self._steps[1][1] > self._steps[0][1] else 1
        if self._steps[0][1] > 0 and not self._resumed:
            first = 1
        if len(self._steps) <= first:
            return None
        (from_s, from_done), (to_s, done) = self._steps[first - 1], self._steps[-1]
        if done <= from_done:
            return None
        pace = (to_s - from_s) / (done - from_done)
        return max(pace * (self._total - done) - (now - to_s), 0.0)


class _Line:
    """What stderr shows of the innermost work, kept alive by a thread."""

    def __init__(self) -> None:
        self._lock = threading.RLock()
        self._works: list[Progress] = []
        self._thread: threading.Thread | None = None
        self._end = threading.Event()
        self._last = self._begun = 0.0
        self._shown = False

    def open(self, work: Progress) -> None:
        with self._lock:
            self._works.append(work)
            if self._thread is None and os.environ.get("PASSAGE_PROGRESS") != "off":
                self._begun = time.monotonic()
                self._last = self._begun - _BEFORE_S
                self._end = threading.Event()
                self._thread = threading.Thread(
                    target=self._run, args=(self._end,), name="progress", daemon=True
                )
                self._thread.start()

    def close(self, work: Progress) -> None:
        with self._lock:
            if work in self._works:
                self._works.remove(work)
            if self._works:
                if work.has_news:
                    self._works[0].stage("writing the answer")
                return
            thread, self._thread = self._thread, None
            self._end.set()
            self.clear()
        if thread is not None:
            thread.join()

    def lead(self, work: Progress) -> None:
        """Show this work rather than others that are open."""
        with self._lock:
            if work in self._works[1:]:
                self._works.remove(work)
                self._works.append(work)

    def clear(self) -> None:
        """Wipe the line, so that something else can be written."""
        with self._lock:
            if self._shown:
                click.echo("\r\033[K", nl=False, err=True)
                self._shown = False
            self._last = time.monotonic()

    def say(self, text: str) -> None:
        with self._lock:
            self.clear()
            click.echo(text, err=True)

    def _run(self, end: threading.Event) -> None:
        while not end.wait(_LOOK_S):
            with self._lock:
                if end.is_set() or not self._works:
                    continue
                try:
                    self._look()
                except (OSError, ValueError):
                    # Nobody reads stderr any more; the work goes on.
                    return

    def _look(self) -> None:
        now = time.monotonic()
        live = sys.stderr is not None and sys.stderr.isatty()
        wait = _LIVE_S if live and self._shown else SILENCE_S
        if not live and now - self._begun > _LONG_S:
            # A log of a night's work stays readable.
            wait = max(wait, 0.01 * (now - self._begun))
        if now - self._last < wait:
            return
        work = next((w for w in reversed(self._works) if w.has_news), self._works[0])
        text = work.text()
        if work is not self._works[0] and not work.counts:
            text += self._works[0].by_the_last(now)
        click.echo(f"\r{text}\033[K" if live else text, nl=not live, err=True)
        self._last, self._shown = now, live


_LINE = _Line()


def clear() -> None:
    """Wipe the line of progress before anything else is written to the terminal."""
    _LINE.clear()


def duration(seconds: float) -> str:
    """``40 s``, ``3 min 20 s``, ``2 h 05 min``."""
    minutes, rest = divmod(round(seconds), 60)
    if minutes < 1:
        return f"{rest} s"
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02d} min" if hours else f"{minutes} min {rest:02d} s"
