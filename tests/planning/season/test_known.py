"""What a season says of departures that its data cover in part."""

from __future__ import annotations

import numpy as np

from passage.planning.season.departures import STATUS, partly_known_note

MASKED, LATE = STATUS.index("masked"), STATUS.index("after_forecast")


def test_a_gap_is_given_with_its_share_its_fuel_and_a_remedy():
    status = np.array([0, MASKED, MASKED], dtype=np.int8)
    note = partly_known_note(status, np.array([100.0, 83.2, 90.9]), np.array([1.0, 4000.0, 5000.0]))
    assert note.startswith("of 2 departures 83 to 90 % of the hours are known")
    assert "2 of them take ~4,500 l (median)" in note
    assert "--harbour" in note


def test_without_a_gap_or_beside_the_data_there_is_no_share():
    whole = np.zeros(2, dtype=np.int8)
    assert partly_known_note(whole, np.full(2, 100.0), np.ones(2)) == ""
    late = np.full(1, LATE, dtype=np.int8)
    assert partly_known_note(late, np.zeros(1), np.full(1, np.nan)) == ""
    part = partly_known_note(late, np.full(1, 40.0), np.full(1, np.nan))
    assert "40 % of the hours are known" in part
    assert "harbour" not in part
