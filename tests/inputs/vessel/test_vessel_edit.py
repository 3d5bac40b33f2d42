"""Where keys are in a TOML text, and changing them: the standard reader is the judge."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from passage.errors import one_line
from passage.inputs.vessel import (
    read_vessel,
    update_vessel_text,
    vessel_from_text,
    vessel_to_toml,
)
from passage.inputs.vessel.keylines import map_keys

SAMPLE = Path(__file__).parents[3] / "sample_forecasts" / "brambling.toml"
TEXT = SAMPLE.read_text(encoding="utf-8")

#: Forms TOML 1.0 allows that a crew's file may hold (toml.io, version 1.0.0).
ODD = '''
title = "a # is no comment, ] nor } here" # but this is
[vessel]
"name" = 'a \\ stays in single quotes'
dotted.key.deep = 1
inline = { a = 1, b = [ 1, 2, { c = "}" } ], "quoted key" = 3 }
multi = [
  1.5,   # comment with ] in it
  2.5,
]
text = """
[not.a.table]
x = 1 ""two quotes"" end"""
literal = \'\'\'
# not a comment
\'\'\'
escaped = "a \\" quote"
date = 2026-03-14T06:00:00Z
[a.b]
c = true
[[list]]
x = 1
[list.sub]
y = 2
[[list]]
x = 3
[[list.inner]]
z = 4
[[list.inner]]
z = 5
'''


def leaves(value, path=()):
    """Every path of a parsed text with its value, tables and lists too."""
    if path:
        yield path, value
    if isinstance(value, dict):
        for key, item in value.items():
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for i, item in enumerate(value):
            yield from leaves(item, (*path, i))


@pytest.mark.parametrize(
    "text", [TEXT, ODD, TEXT.replace("\n", "\r\n")], ids=["sample", "odd", "crlf"]
)
def test_key_map_gives_the_place_of_every_value(text):
    keys = map_keys(text).keys
    checked = 0
    for path, value in leaves(tomllib.loads(text)):
        if isinstance(value, dict) or (isinstance(value, list) and value and path not in keys):
            continue
        span = keys[path]
        written = text[span.start : span.end]
        if written.startswith("[["):
            continue  # header of an array of tables, not a value
        assert tomllib.loads(f"x = {written}")["x"] == value
        key = next(part for part in reversed(path) if isinstance(part, str))
        if isinstance(path[-1], str):
            assert key in text.splitlines()[span.line - 1]
        checked += 1
    assert checked > 20


def test_line_of_an_unknown_path_is_that_of_what_holds_it():
    keys = map_keys(TEXT)
    header = TEXT.splitlines().index(next(x for x in TEXT.splitlines() if x.startswith("[[fins]]")))
    assert keys.line(("fins", 0, "nothing")) == header + 1
    assert keys.line(("nowhere", "x")) is None


def test_change_keeps_everything_else():
    new = update_vessel_text(TEXT, {("roll", "damping_ratio"): 0.041})
    before, after = TEXT.splitlines(), new.splitlines()
    changed = [(a, b) for a, b in zip(before, after, strict=True) if a != b]
    assert len(changed) == 1
    assert changed[0][1].startswith("damping_ratio = 0.041 ")
    # The comment stays, in its column.
    assert changed[0][0].index("#") == changed[0][1].index("#")
    assert changed[0][0].split("#", 1)[1] == changed[0][1].split("#", 1)[1]


def test_note_says_what_was_there():
    new = update_vessel_text(TEXT, {("fins", 0, "efficiency"): 0.84}, note="fitted to log.csv")
    assert "# efficiency was 0.90; fitted to log.csv\nefficiency = 0.84 " in new
    assert read_back(new)["fins"][0]["efficiency"] == 0.84


def read_back(text):
    return tomllib.loads(text)


def test_new_key_goes_to_the_end_of_its_section_and_new_section_to_the_end():
    changes = {("roll", "axis_above_waterline_m"): 0.7, ("forecast_names", "wind speed"): "w"}
    new = update_vessel_text(TEXT, changes)
    content = read_back(new)
    assert content["roll"]["axis_above_waterline_m"] == 0.7
    assert content["forecast_names"] == {"wind speed": "w"}
    assert new.index("axis_above_waterline_m = 0.7") < new.index("[[fins]]")


def test_lists_can_be_replaced():
    speeds, fuel = [8.0, 10.0, 12.0], [60.0, 121.5, 207.25]
    changes = {("propulsion", "speed_kn"): speeds, ("propulsion", "fuel_l_per_h"): fuel}
    vessel = vessel_from_text(update_vessel_text(TEXT, changes))
    assert vessel.propulsion.speed_kn == tuple(speeds)
    assert vessel.propulsion.fuel_l_per_h == tuple(fuel)


def test_line_ends_are_kept():
    windows = TEXT.replace("\n", "\r\n")
    new = update_vessel_text(windows, {("roll", "damping_ratio"): 0.05}, note="test")
    assert new.count("\n") == new.count("\r\n")


def test_text_without_a_last_line_end():
    new = update_vessel_text("[roll]\ndamping_ratio = 0.03", {("roll", "quadratic_damping"): 0.2})
    assert read_back(new) == {"roll": {"damping_ratio": 0.03, "quadratic_damping": 0.2}}


def test_what_cannot_be_changed_safely_is_refused():
    # The section exists only through a dotted key; adding [roll] would define it twice.
    with pytest.raises(ValueError, match="cannot be changed in place"):
        update_vessel_text("roll.damping_ratio = 0.03\n", {("roll", "quadratic_damping"): 0.2})


PATHS = [
    path
    for path, value in leaves(tomllib.loads(TEXT))
    if isinstance(value, float) and not isinstance(value, bool)
]


@given(st.dictionaries(st.sampled_from(PATHS), st.floats(-1e6, 1e6), min_size=1, max_size=8))
def test_any_numbers_can_be_changed_and_only_those(changes):
    new = update_vessel_text(TEXT, changes, note="fitted")
    before = dict(leaves(tomllib.loads(TEXT)))
    for path, value in leaves(tomllib.loads(new)):
        if path in changes:
            assert value == changes[path]
        elif not isinstance(value, dict | list):
            assert value == before[path]


def test_written_vessel_reads_back_the_same():
    vessel = read_vessel(SAMPLE)
    again = vessel_from_text(vessel_to_toml(vessel))
    assert again == vessel
    assert again.estimated == vessel.estimated


# The reader makes one line of printable text of a name; no time check, for a busy machine is slow.
@settings(deadline=None)
@given(
    st.text(st.characters(exclude_categories=["Cs"]), max_size=30).map(one_line).filter(bool),
    st.floats(0.3, 4.0),
    st.floats(-20, 20),
    st.floats(0.021, 0.9),
)
def test_written_vessel_reads_back_the_same_for_any_values(name, gm, list_deg, zeta):
    text = update_vessel_text(
        TEXT,
        {
            ("vessel", "name"): name,
            ("vessel", "gm_m"): gm,
            ("vessel", "minimum_gm_m"): 0.1,
            ("loading", "list_deg"): list_deg,
            ("roll", "damping_ratio"): zeta,
        },
    )
    vessel = vessel_from_text(text)
    assert vessel.name == name
    assert vessel_from_text(vessel_to_toml(vessel)) == vessel


def test_least_file_written_and_read_estimates_the_same():
    text = (
        '[vessel]\nname = "x"\nlength_waterline_m = 45\nbeam_waterline_m = 9\ndraught_m = 2.8\n'
        "displacement_t = 560\ngm_m = 1\n"
        "[propulsion]\nspeed_kn = [8, 12]\nfuel_l_per_h = [60, 205]\n"
    )
    vessel = vessel_from_text(text)
    assert vessel_from_text(vessel_to_toml(vessel)) == vessel
