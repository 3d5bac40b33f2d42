"""Wind and current of the files that reach nothing of the way are seen as such."""

import numpy as np

from passage.planning.season.departures import STATUS, passage_status
from passage.planning.voyage.flows import commonest_reason, missing_words, reaches_nothing
from passage.variables import COVERAGE

OK, AFTER, OUTSIDE, MASKED = (
    COVERAGE.index(word) for word in ("ok", "after_forecast", "outside_area", "masked")
)


def codes(*rows):
    return np.array(rows, np.int8)


def test_only_a_flow_that_is_nowhere_is_missing():
    found = reaches_nothing(
        codes([OK, OK], [OK, MASKED], [MASKED, OUTSIDE], [AFTER, AFTER]), np.array([True, True])
    )
    assert found.tolist() == [False, False, True, True]


def test_points_at_which_a_flow_does_not_act_are_left_out():
    at_rest_only = codes([MASKED, OK])
    assert reaches_nothing(at_rest_only, np.array([True, False])).tolist() == [True]
    assert reaches_nothing(at_rest_only, np.array([False, False])).tolist() == [False]


def test_the_reason_is_the_commonest_gap():
    assert commonest_reason(codes([MASKED, OUTSIDE, OUTSIDE])) == "is of another area"
    assert commonest_reason(codes([OK, OK, AFTER])) == "ends before"
    assert "left out of every number" in missing_words("wind", "ends before")


def test_a_departure_without_the_flows_of_the_files_has_no_numbers():
    waves = codes([OK, OK], [OK, OK], [OK, OK], [MASKED, OK])
    flows = {
        "wind": codes([OK, MASKED], [MASKED, MASKED], [OK, OK], [MASKED, MASKED]),
        "current": codes([OK, OK], [OK, OK], [OUTSIDE, OK], [OK, OK]),
    }
    no_way = np.zeros((4, 2), bool)
    under_way = np.array([True, False])
    status = passage_status(waves, flows, no_way, under_way)
    assert [STATUS[code] for code in status] == [
        "ok", "wind_missing", "current_missing", "masked",
    ]  # fmt: skip
    # Without such files there is nothing to miss.
    assert passage_status(waves, {}, no_way, under_way)[:3].tolist() == [0, 0, 0]
