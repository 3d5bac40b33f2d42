"""Deep, wide and endless text files are refused at once, in every reader of text."""

import time

import pytest

from passage.errors import PassageError
from passage.inputs.bounds import why_not_a_table, why_not_settings, why_too_deep
from passage.inputs.forecast.mapping import read_map
from passage.inputs.moves_file import read_moves
from passage.inputs.records.decay_record import read_decay_record
from passage.inputs.records.log import read_log
from passage.inputs.route import read_route
from passage.inputs.vessel import read_vessel
from passage.planning.suggest.closed import read_no_go

N, MILLION = 400, 1_000_000
#: Loaded machines included; reading the file takes most of it. [s]
AT_ONCE_S = 10.0


def _moves(path):
    return read_moves(path, None, 3)


DEEP_JSON = '{"policies": ' + "[" * N + "]" * N + "}"
WIDE = ",".join(f"c{i}" for i in range(MILLION)) + "\n1,2\n"
XML = "<gpx>" + "<a>" * N + "</a>" * N + "</gpx>"
ATTRIBUTES = "<route " + " ".join(f'a{i}="1"' for i in range(MILLION // 2)) + "/>"
KEYS = "\n".join(f"c{i} = 1" for i in range(MILLION // 10))
CASES = [
    (read_route, DEEP_JSON, "deeper than 40"),
    (read_route, XML, "deeper than 40"),
    (read_route, XML.replace("gpx", "route"), "deeper than 40"),
    (read_route, ATTRIBUTES, "wider than 100 attributes"),
    (read_route, WIDE, "a line of 7,888,889 characters"),
    (read_route, '{"a": "' + '\\"' * MILLION, "not JSON"),
    (read_no_go, DEEP_JSON, "deeper than 40"),
    (_moves, DEEP_JSON, "deeper than 40"),
    (_moves, WIDE, "a line of 7,888,889 characters"),
    (read_log, WIDE, "a line of 7,888,889 characters"),
    (read_decay_record, WIDE, "a line of 7,888,889 characters"),
    (read_vessel, "a = " + "[" * N + "]" * N, "deeper than 40"),
    (read_vessel, "a = " + "{b = " * N + "1" + "}" * N, "deeper than 40"),
    (read_vessel, "[" + ".".join("a" * N) + "]", "more than 40 parts"),
    (read_vessel, "[a]\n" * 100_000, "more than 3,000 settings"),
    (read_vessel, KEYS, "more than 3,000 settings"),
    (read_vessel, "a = '" + "x" * MILLION + "'", "a line of 1,000,006 characters"),
    (read_map, "a = " + "[" * N + "]" * N, "deeper than 40"),
    (read_map, "[" + ".".join("a" * N) + "]", "more than 40 parts"),
    (read_map, "[names]\n" + KEYS, "more than 3,000 settings"),
]


@pytest.mark.parametrize(("read", "text", "words"), CASES)
def test_refused_at_once_in_a_short_message(tmp_path, read, text, words):
    path = tmp_path / "file.txt"
    path.write_text(text)
    began = time.perf_counter()
    with pytest.raises(PassageError, match=words) as refused:
        read(path)
    assert time.perf_counter() - began < AT_ONCE_S
    assert len(str(refused.value)) < len(str(path)) + 250


def test_files_within_the_bounds_are_accepted():
    assert why_too_deep('{"a": "' + "[" * 100 + '\\"' + "{" * 100 + '"}') == ""
    assert why_too_deep("[[1], [2]]" * 1000) == ""
    # Comments hold what they like, and old spreadsheets end lines with a carriage return.
    assert why_not_settings("# see [1\n" * 100 + "a = 1\n") == ""
    assert why_not_a_table("name,lat,lon\r" + "a,50,1\r" * 10_000) == ""
    assert why_not_a_table("x" * 20_000 + "\n") == ""
    assert "20,001" in why_not_a_table("a\n" + "x" * 20_001)


def test_the_check_of_bounds_is_fast():
    began = time.perf_counter()
    why_not_settings(("a" * 19_000 + "\n") * 100)
    why_not_settings(("a." * 30 + "=" + "\n") * 2_000)
    why_too_deep('"' + '\\"' * MILLION)
    assert time.perf_counter() - began < AT_ONCE_S
