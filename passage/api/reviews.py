"""After the passage: a log against its plan, and the record of many."""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

from passage.api.given import one, paths_of
from passage.api.options import PathLike
from passage.errors import LogError, PassageError

if TYPE_CHECKING:
    from passage.api.review_results import RecordResult, ReviewResult
    from passage.inputs.forecast import Forecast
    from passage.inputs.records.record_file import Record
    from passage.inputs.vessel import Vessel
    from passage.planning.record.summary import RecordSummary

    Seas = PathLike | Iterable[PathLike] | Forecast


def review(
    log: PathLike,
    plan: PathLike,
    *,
    sea: Seas | None = None,
    forecast: Seas | None = None,
    vessel: PathLike | None = None,
    name_map: PathLike | None = None,
    nearest_sea_cell_km: float | None = None,
    record: PathLike | None = None,
    hull_cleaned: str | None = None,
) -> ReviewResult:
    """Compare a log with the plan of the same passage.

    Parameters
    ----------
    log, plan
        CSV of the passage; JSON of ``passage plan``, made before it.
    sea : optional
        The sea as it was (a later analysis or hindcast): splits the miss into its causes.
    forecast : optional
        The forecast of the plan: with ``sea`` gives the parts in the other order too.
    vessel : optional
        Vessel file instead of the copy that the plan carries.
    record : optional
        Record to keep the passage in; made if there is none.
    hull_cleaned : str, optional
        Date of the last cleaning before the passage, as "2026-01-31", for the record.

    Raises
    ------
    PassageError
        What is wrong with the files, or that they are not of one passage.
    """
    from passage.api.review_results import ReviewResult
    from passage.inputs.forecast import Forecast, open_forecast
    from passage.inputs.records.plan_file import read_plan
    from passage.inputs.records.recording import read_recording
    from passage.planning.review.causes import causes_of_miss
    from passage.planning.review.review import review as hold
    from passage.planning.voyage.prepare import forecast_names

    if forecast is not None and sea is None:
        raise PassageError("forecast splits the miss in a second order: give sea as well.")
    if hull_cleaned is not None:
        if record is None:
            raise PassageError("hull_cleaned is for the record: give record as well.")
        hull_cleaned = cleaning_day(hull_cleaned)
    planned = read_plan(Path(plan), None if vessel is None else Path(vessel))
    found = hold(read_recording(Path(log)), planned)
    causes = None
    if sea is not None:
        names = forecast_names(planned.vessel, None if name_map is None else Path(name_map))

        def opened(given: Seas) -> AbstractContextManager[Forecast]:
            if isinstance(given, Forecast):
                return nullcontext(given)
            return open_forecast(
                paths_of(given), names=names, nearest_sea_cell_km=nearest_sea_cell_km
            )

        with (
            opened(sea) as was,
            nullcontext(None) if forecast is None else opened(forecast) as expected,
        ):
            causes = causes_of_miss(found, was, expected)
    kept, replaced = None, 0
    if record is not None:
        from passage.inputs.records.record_file import add_to_record
        from passage.planning.review.entry import entry_of

        kept, replaced = add_to_record(Path(record), entry_of(found, causes, hull_cleaned))
    return ReviewResult(found, causes, kept, replaced)


def cleaning_day(text: str) -> str:
    """A date such as 2026-01-31, as that; a PassageError for anything else."""
    from datetime import date

    try:
        return date.fromisoformat(text.strip()).isoformat()
    except ValueError:
        raise PassageError(f"{text!r} is not a date. Give the day as 2026-01-31.") from None


def record(file: PathLike, *, vessel: PathLike | Vessel | None = None) -> RecordResult:
    """Sum up a record of reviewed passages.

    Parameters
    ----------
    file
        What ``review(..., record=file)`` keeps.
    vessel : optional
        Sums up her passages, those made with the numbers she has now; without it those of
        the vessel sailed last, with the numbers she had then.
    """
    from passage.api.review_results import RecordResult

    return RecordResult(record_summary(file, vessel))


def record_summary(
    file: PathLike | Record, vessel: PathLike | Vessel | None = None
) -> RecordSummary:
    """The summary of one vessel's record."""
    from passage.inputs.records.record_file import Record, read_record
    from passage.planning.record.shares import KEPT, numbers_of
    from passage.planning.record.summary import summarise, vessels_of
    from passage.planning.voyage.prepare import as_vessel

    kept = file if isinstance(file, Record) else read_record(Path(file))
    if not kept.passages:
        raise LogError(f"{kept.file}: holds no passage yet. passage review --record adds one.")
    if vessel is None:
        return summarise(kept)
    ship = as_vessel(one(vessel))
    if ship.name not in vessels_of(kept):
        names = ", ".join(vessels_of(kept))
        raise LogError(f"{kept.file}: holds no passage of {ship.name}, but of {names}.")
    return summarise(kept, ship.name, {key: numbers_of(ship, key) for key, _ in KEPT})
