"""Bands of a short vessel file against full files of yachts they were not made from."""

import re

import numpy as np
import pytest
from schema_tool import tool

made = tool("held_back_yachts")


@pytest.mark.slow
def test_bands_of_eleven_numbers_hold_the_full_files_answer():
    """Four of the twenty; all of them: docs/vessel-file.md."""
    fuel, roll = made.shares(made.held(4))
    assert fuel >= 80.0
    assert roll >= 80.0


def test_the_short_file_has_eleven_numbers_and_a_name():
    yacht = made.numbers(np.random.default_rng(made.SEED))
    text = made.short_text(yacht)
    assert len(re.findall(r"\d+\.\d+", text)) == 11
    assert text.count('"') == 2
