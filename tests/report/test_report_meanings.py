"""Headings say on hover what they mean."""

import pytest

from passage.report.drawing.blocks import Column, Table
from passage.report.drawing.meanings import MEANINGS, meaning_of


def test_a_heading_brings_its_meaning_or_takes_the_common_one():
    heads = Table(["leg", Column("fuel", "l", 0, "of this leg"), "", "north about"], []).heads()
    assert [h.meaning for h in heads] == [MEANINGS["leg"], "of this leg", "", "by north about"]
    named = Table(["north about"], [], caption="Where she is").heads()
    assert named[0].meaning == "by north about, of Where she is"


@pytest.mark.parametrize(
    ("heading", "words"),
    [
        ("25 %", "25 of 100 departures stay below this"),
        ("list 2.50 deg", "at this list"),
        ("before leg 3", "volume in the tank before leg 3"),
        ("north: about: fuel", f"north: about: {MEANINGS['fuel']}"),
        ("north about", ""),
    ],
)
def test_headings_with_a_number_or_a_name_in_them(heading, words):
    assert meaning_of(heading) == words


def test_meanings_are_one_short_line():
    for heading, words in MEANINGS.items():
        assert heading.strip()
        assert 3 < len(words) <= 90
        assert "\n" not in words
        assert not words.endswith(".")
