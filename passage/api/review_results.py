"""Results of the questions after a passage: a review, and the record of many."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from passage.api.results import Result, _frame, _numbers_of

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from passage.inputs.records.record_file import Record
    from passage.planning.record.summary import RecordSummary
    from passage.planning.review.causes import MissCauses
    from passage.planning.review.review import Review


class ReviewResult(Result):
    """A log against its plan: ``passage.review``.

    ``causes`` has the parts of the miss, where the sea as it was is given. ``record`` is the
    record that holds this passage, where one is kept; ``replaced`` is as ``add_to_record``
    gives it.
    """

    def __init__(
        self,
        answer: Review,
        causes: MissCauses | None = None,
        record: Record | None = None,
        replaced: int = 0,
    ) -> None:
        self.answer, self.causes = answer, causes
        self.record, self.replaced = record, replaced

    @property
    def notes(self) -> tuple[str, ...]:
        """What to doubt in the log, and how its figures were obtained."""
        return (*self.answer.doubts, *self.answer.how)

    def to_dict(self) -> dict[str, Any]:
        """The review as in ``passage review --format json``."""
        from passage.report.text.review import review_dict

        return review_dict(self.answer, self.causes)

    def to_dataframe(self) -> pd.DataFrame:
        """A row a leg, indexed by its number; planned, logged, low and high of each quantity."""
        rows = []
        for leg in self.to_dict()["legs"]:
            row: dict[str, Any] = {}
            for name, value in leg.items():
                if isinstance(value, dict):
                    unit = value["unit"].replace("/", "_per_")
                    sides = ("planned", "logged", "low", "high")
                    row |= {f"{name}_{side}_{unit}": value[side] for side in sides}
                elif not isinstance(value, list):
                    row[name] = value
            rows.append(row)
        return _frame(rows).set_index("leg")

    def to_dataset(self) -> xr.Dataset:
        """The numbers of :meth:`to_dataframe` over the legs."""
        return _numbers_of(self.to_dataframe())

    def page(self) -> str:
        """The page of :meth:`to_html` as text."""
        from passage.report.pages.review import review_page

        return review_page(self.answer, self.causes)

    def __repr__(self) -> str:
        from passage.report.text.review import review_answer

        return f"<ReviewResult {self.answer.plan.vessel.name}: {review_answer(self.answer)}>"


class RecordResult(Result):
    """How past passages compare with their plans: ``passage.record``."""

    def __init__(self, answer: RecordSummary) -> None:
        self.answer = answer

    @property
    def notes(self) -> tuple[str, ...]:
        """Why a trend is missing, where it is."""
        return (self.answer.no_trend,) if self.answer.no_trend else ()

    def to_dict(self) -> dict[str, Any]:
        """The record as in ``passage record --format json``."""
        from passage.report.text.record import record_dict

        return record_dict(self.answer)

    def to_dataframe(self) -> pd.DataFrame:
        """Every row of these passages as it is kept: the whole, legs, ages of the forecast."""
        from passage.inputs.records.record_file import NUMBERS, number

        rows: list[dict[str, Any]] = []
        for entry in self.answer.passages:
            for row in entry.rows:
                rows.append({n: number(row, n) if n in NUMBERS else v for n, v in row.items()})
        return _frame(rows)

    def to_dataset(self) -> xr.Dataset:
        """The rows of :meth:`to_dataframe` by number."""
        return _numbers_of(self.to_dataframe())

    def page(self) -> str:
        """A record has no page."""
        raise NotImplementedError("a record has no page; to_dict and to_dataframe have it all")

    def __repr__(self) -> str:
        from passage.report.text.record import record_answer

        return f"<RecordResult {record_answer(self.answer)}>"
