"""Names of the steps of long work, for a progress display."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int], None]


def stage(progress: Progress | None, words: str) -> None:
    """Name the step that begins, if ``progress`` can show names."""
    named = getattr(progress, "stage", None)
    if named is not None:
        named(words)
