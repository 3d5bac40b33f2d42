"""A suggested route as a file, with the times of its plan."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from passage.files import write_text
from passage.planning.compare.route import route_text
from passage.planning.suggest.files import Suggestion


def write_suggestion(made: Suggestion, path: Path, name: str, *, force: bool = False) -> None:
    """Write the route of the plan ``name`` with its schedule, named as one to be appraised.

    Raises
    ------
    OutputError
        The suffix is not known, or the file cannot be written.
    """
    route = made.route_of(name)
    legs = made.plans[name].legs
    planned = route.with_schedule(
        [_seconds(leg["etd_utc"]) for leg in legs], [_seconds(leg["eta_utc"]) for leg in legs]
    )
    write_text(path, route_text(route, path, planned), force=force)


def _seconds(text: str | None) -> float | None:
    return None if text is None else datetime.fromisoformat(text).timestamp()
