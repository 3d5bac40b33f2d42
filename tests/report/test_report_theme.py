"""Contrast of both themes, computed from the colours themselves."""

from __future__ import annotations

import itertools

import pytest

from passage.report.drawing import theme

BOTH = {"day": theme.DAY, "night": theme.NIGHT}


def test_contrast_against_published_pairs() -> None:
    # WCAG 2.1: black on white is 21:1. #767676 on white is the well-known lightest grey
    # that passes 4.5:1 (4.54), and #777777 fails (4.48); from memory.
    assert theme.contrast("#000000", "#ffffff") == pytest.approx(21.0, rel=1e-6)
    assert theme.contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)
    assert theme.contrast("#ffffff", "#777777") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("name", BOTH)
def test_text_reaches_aa_on_every_ground(name: str) -> None:
    colours = BOTH[name]
    low = {
        (text, ground): round(theme.contrast(colours[text], colours[ground]), 2)
        for text, ground in itertools.product(theme.TEXT, theme.GROUNDS)
        if theme.contrast(colours[text], colours[ground]) < 4.5
    }
    assert low == {}


@pytest.mark.parametrize("name", BOTH)
def test_marks_reach_three_to_one(name: str) -> None:
    colours = BOTH[name]
    for mark in theme.MARKS:
        assert theme.contrast(colours[mark], colours["panel"]) >= 3.0, mark
    # Words on the map have a halo of the ground's colour.
    assert theme.contrast(colours["ink"], colours["halo"]) >= 4.5
    assert theme.contrast(colours["soft"], colours["halo"]) >= 4.5


def test_night_is_of_long_wavelength_and_dim() -> None:
    for name, colour in theme.NIGHT.items():
        red, green, blue = (int(colour[i : i + 2], 16) for i in (1, 3, 5))
        assert red >= green >= blue, name
        assert blue <= 0x40, name
    assert max(theme.luminance(c) for c in theme.NIGHT.values()) < 0.4
    for ground in theme.GROUNDS:
        assert theme.luminance(theme.NIGHT[ground]) < 0.01


def test_sea_classes_get_darker_by_day_and_brighter_by_night() -> None:
    day = [theme.luminance(theme.DAY[f"sea{i}"]) for i in range(7)]
    night = [theme.luminance(theme.NIGHT[f"sea{i}"]) for i in range(7)]
    assert day == sorted(day, reverse=True)
    assert night == sorted(night)


@pytest.mark.parametrize("name", BOTH)
def test_neighbouring_sea_classes_can_be_distinguished(name: str) -> None:
    # No published bar for large areas side by side; 1.15 is what the eye of the maker
    # parts without effort on a dim screen (assumption). The figures on the map say it too.
    colours = BOTH[name]
    for i in range(6):
        ratio = theme.contrast(colours[f"sea{i}"], colours[f"sea{i + 1}"])
        assert ratio >= 1.15, (i, ratio)


@pytest.mark.parametrize(
    ("height_m", "word"),
    # Degrees of the WMO sea state code (table 3700): slight 0.5 to 1.25 m, moderate to
    # 2.5, rough to 4, very rough to 6, high to 9; a bound belongs to the lower degree.
    [(0.4, "smooth"), (0.5, "smooth"), (1.25, "slight"), (1.26, "moderate"), (2.5, "moderate"),
     (4.0, "rough"), (5.9, "very rough"), (6.1, "high"), (9.5, "very high")],
)  # fmt: skip
def test_sea_state_words(height_m: float, word: str) -> None:
    assert theme.SEA_WORDS[theme.sea_class(height_m)] == word
    assert theme.sea_class(float("nan")) == -1


def test_both_themes_have_the_same_names() -> None:
    assert set(theme.DAY) == set(theme.NIGHT)
