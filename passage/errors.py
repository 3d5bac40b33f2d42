"""The errors a user can cause, each with its exit code and a message that helps.

A message says: file, place, value with unit, what is wrong, what to do. All the
problems of one file travel together in one error.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

#: Longest line of a message [characters].
_LONGEST = 1500


def plain_text(text: str) -> str:
    """The text with nothing in it that a terminal would obey or could not show.

    Names in a stranger's file may hold control characters, and names of files bytes
    that are no text. Line ends stay.
    """

    def shown(line: str) -> str:
        if line.isprintable():
            return line
        return "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in line)

    return "\n".join(map(shown, text.split("\n")))


def one_line(text: str) -> str:
    """A name on one line: control characters and direction overrides become spaces."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _shortened(text: str) -> str:
    """The text with lines that would fill the screen cut in the middle."""
    return "\n".join(
        line if len(line) <= _LONGEST else f"{line[: _LONGEST - 300]} ... {line[-250:]}"
        for line in text.split("\n")
    )


class PassageError(Exception):
    """Anything the user can put right; printed without a traceback."""

    exit_code = 2

    def __init__(self, message: str = "") -> None:
        super().__init__(plain_text(_shortened(message)))


class VesselError(PassageError):
    """The vessel file cannot be used."""

    exit_code = 3


class RouteError(PassageError):
    """The route file cannot be used."""

    exit_code = 3


class LogError(PassageError):
    """A passage log or roll-decay record cannot be used."""

    exit_code = 3


class PlanFileError(PassageError):
    """The JSON of an earlier plan cannot be used."""

    exit_code = 3


class ForecastError(PassageError):
    """A forecast file cannot be read or trusted."""

    exit_code = 4


class UnknownConvention(ForecastError):
    """A unit, direction convention or grid kind that we will not guess."""


class NoCoverage(ForecastError):
    """The forecast does not cover the passage at all."""


class OutputError(PassageError):
    """A result cannot be written where it was asked for."""


class PartialCoverage(PassageError):
    """Computed, but with legs that the forecast does not cover (``--strict``)."""

    exit_code = 5


class LimitExceeded(PassageError):
    """Computed, but a limit of the vessel file is exceeded (``--fail-on-limit``)."""

    exit_code = 6


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing wrong in one file."""

    file: str
    what: str
    place: str = ""
    fix: str = ""

    def __str__(self) -> str:
        """``file:place: what. fix`` on one line."""
        where = f"{self.file}:{self.place}" if self.place else self.file
        text = f"{where}: {self.what}"
        if self.fix:
            text = f"{text.rstrip('.')}. {self.fix}"
        return text


def join_problems(problems: Iterable[Problem]) -> str:
    """All problems, a line each, in the order given."""
    return "\n".join(str(problem) for problem in problems)
