"""The type of an option that takes one of a few words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from passage.api.options import WORDS
from passage.errors import did_you_mean

if TYPE_CHECKING:
    _Choice = click.Choice[str]
else:  # Not a generic class in older versions of click.
    _Choice = click.Choice


class Word(_Choice):
    """One of a few words; a misspelt one is refused with the likeliest."""

    def get_invalid_choice_message(self, value: Any, ctx: click.Context | None) -> str:
        """What is wrong, the words there are, and the nearest."""
        text = super().get_invalid_choice_message(value, ctx)
        return f"{text} {did_you_mean(str(value), self.choices)}".rstrip()


def words(name: str) -> Word:
    """The type of an option that takes one of a few words, the same as in Python."""
    return Word(WORDS[name])
