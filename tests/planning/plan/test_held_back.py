"""Bands of a short vessel file against full files of yachts they were not made from."""

import importlib.util
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parents[3] / "docs" / "tools" / "held_back_yachts.py"


def script():
    spec = importlib.util.spec_from_file_location("held_back_yachts", SCRIPT)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.slow
def test_bands_of_eleven_numbers_hold_the_full_files_answer():
    """Four of the twenty; all of them: docs/vessel-file.md."""
    made = script()
    fuel, roll = made.shares(made.held(4))
    assert fuel >= 80.0
    assert roll >= 80.0


def test_the_short_file_has_eleven_numbers_and_a_name():
    import re

    import numpy as np

    made = script()
    yacht = made.numbers(np.random.default_rng(made.SEED))
    text = made.short_text(yacht)
    assert len(re.findall(r"\d+\.\d+", text)) == 11
    assert text.count('"') == 2
