"""Names for the steps of long work, passed to a progress that shows them."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[int, int], None]


def stage(progress: Progress | None, words: str) -> None:
    """Name the step that begins; a plain ``progress(done, total)`` is left as it is."""
    named = getattr(progress, "stage", None)
    if named is not None:
        named(words)
