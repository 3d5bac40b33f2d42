"""Words that may be misspelt: those an option takes, and the names of options."""

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


def spelt(command: click.Command) -> list[str]:
    """Long spellings of a command's options."""
    names = [name for param in command.params for name in (*param.opts, *param.secondary_opts)]
    return [*(name for name in names if name.startswith("--")), "--help"]


def no_such_option(name: str, command: click.Command | None) -> str:
    """A message about an option that a command does not have, with the likeliest."""
    hint = did_you_mean(name, spelt(command)) if command is not None else ""
    return f"No such option {name}. {hint}".rstrip()
