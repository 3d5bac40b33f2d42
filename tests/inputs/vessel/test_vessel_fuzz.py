"""Whatever is done to a vessel file, the answer is a vessel or a message, no traceback."""

from __future__ import annotations

import copy
import tomllib
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from passage.errors import VesselError
from passage.inputs.vessel import Vessel, vessel_from_text
from passage.inputs.vessel.edit import toml_value

SAMPLE = Path(__file__).parents[3] / "sample_forecasts" / "brambling.toml"
TEXT = SAMPLE.read_text(encoding="utf-8")
DATA = tomllib.loads(TEXT)


def judge(text):
    """Read a text; a refusal must be lines that begin with the file's name."""
    try:
        vessel = vessel_from_text(text, "x.toml")
    except VesselError as err:
        lines = str(err).splitlines()
        assert lines
        assert all(line.startswith("x.toml") for line in lines), lines
    else:
        assert isinstance(vessel, Vessel)


@given(st.integers(0, len(TEXT)), st.integers(0, 60), st.text("=[]{}\"'#,.\n x1-", max_size=6))
@settings(max_examples=300, deadline=None)
def test_damaged_text(at, gone, put):
    judge(TEXT[:at] + put + TEXT[at + gone :])


def places(value, path=()):
    if path:
        yield path
    if isinstance(value, dict):
        for key, item in value.items():
            yield from places(item, (*path, key))
    elif isinstance(value, list):
        for i, item in enumerate(value):
            yield from places(item, (*path, i))


PLACES = list(places(DATA))
WEIRD = st.one_of(
    st.sampled_from([True, 0, -1, 10**30, 1e308, 1e-308, "", "x", [], [1], {}, {"a": 1}, [{}]]),
    st.floats(allow_nan=False, allow_infinity=False),
    st.text(st.characters(exclude_categories=["Cs"]), max_size=5),
)


@given(st.lists(st.tuples(st.sampled_from(PLACES), WEIRD), min_size=1, max_size=4))
@settings(max_examples=300, deadline=None)
def test_wrong_kinds_of_values(changes):
    data = copy.deepcopy(DATA)
    for path, value in changes:
        holder = data
        try:
            for part in path[:-1]:
                holder = holder[part]
            # A copy: a dict put into itself has no text.
            holder[path[-1]] = copy.deepcopy(value)
        except (KeyError, IndexError, TypeError):
            continue
    judge("\n".join(f"{key} = {toml_value(value)}" for key, value in data.items()))


@given(st.lists(st.sampled_from(PLACES), min_size=1, max_size=6))
@settings(max_examples=200, deadline=None)
def test_missing_keys(gone):
    data = copy.deepcopy(DATA)
    for path in gone:
        holder = data
        try:
            for part in path[:-1]:
                holder = holder[part]
            del holder[path[-1]]
        except (KeyError, IndexError, TypeError):
            continue
    judge("\n".join(f"{key} = {toml_value(value)}" for key, value in data.items()))
