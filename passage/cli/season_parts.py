"""Days and weights as options of a season, and the message when a run is stopped."""

from __future__ import annotations

import os
import re
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import click

from passage.api.times import utc_seconds
from passage.cli.options import UTC_TIME, Number, say

_DAY = re.compile(r"^\d{4}-\d{2}-\d{2}$", re.ASCII)


class Day(click.ParamType):
    """A day, or a time with its zone; ``last`` takes a day to its end."""

    name = "day"

    def __init__(self, *, last: bool) -> None:
        self.last = last

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Seconds since 1970-01-01T00:00Z."""
        if isinstance(value, float):
            return value
        text = str(value).strip()
        if not _DAY.match(text):
            if re.search(r"\d:\d|T\d|\bnow\b|today|tomorrow", text, re.IGNORECASE):
                return UTC_TIME.convert(text, param, ctx)
            self.fail(f"{text!r} is not a day. Write it as 2021-07-31.", param, ctx)
        try:
            start = utc_seconds(f"{text}T00:00Z")
        except ValueError:
            self.fail(f"{text!r} is not in the calendar. Write it as 2021-07-31.", param, ctx)
        # The last departure of a day leaves before midnight.
        return start + 86399.0 if self.last else start


class Weight(click.ParamType):
    """Tonnes and place of a weight, as ``3,-2.5,-1``."""

    name = "weight"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, ...]:
        """Tonnes, metres to starboard, metres above the waterline."""
        if isinstance(value, tuple):
            return value
        parts = str(value).split(",")
        kinds = (Number(0.001, 1000.0, "t"), Number(-50.0, 50.0, "m"), Number(-50.0, 50.0, "m"))
        if len(parts) != len(kinds):
            self.fail(
                f"{value!r} is not tonnes, metres to starboard and metres above the waterline, as "
                "3,-2.5,-1.",
                param,
                ctx,
            )
        return tuple(k.convert(p, param, ctx) for k, p in zip(kinds, parts, strict=True))


@contextmanager
def explained_when_stopped(folder: Path) -> Iterator[None]:
    """When Ctrl-C or a termination signal stops the run: print how to go on, and exit."""

    def stop(number: int, frame: Any) -> None:
        done = len(list((folder / "blocks").glob("*.blk")))
        say(
            f"Stopped. {done} finished parts are safe in {folder}: give the same command again to "
            "go on from there, with as many processes as you like."
        )
        sys.stderr.flush()
        # At once: the workers end with this process, and the next run removes half-written files.
        os._exit(128 + number)

    before = {}
    for name in (signal.SIGTERM, signal.SIGINT):
        # Only the main thread may set a handler.
        with suppress(ValueError):
            before[name] = signal.signal(name, stop)
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(name, handler)
