"""Errors that a user can put right, each with its exit code.

A message gives the file, the place in it, the value with its unit, what is wrong and what to
do. One error reports all problems of one file.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

#: Longest line of a message [characters].
_LONGEST = 1500


def plain_text(text: str) -> str:
    """Text without control characters, safe to print on a terminal.

    Names in a file may contain control characters, and file names may contain bytes that are
    not text. Line breaks are kept.
    """

    def shown(line: str) -> str:
        if line.isprintable():
            return line
        return "".join(c if c.isprintable() else " " if c.isspace() else "?" for c in line)

    return "\n".join(map(shown, text.split("\n")))


def nearest_name(given: str, known: Iterable[str]) -> str:
    """The name most like what was given; empty if none is near."""
    import difflib

    return next(iter(difflib.get_close_matches(given, list(known), n=1)), "")


def did_you_mean(given: str, known: Iterable[str]) -> str:
    """``Did you mean this?`` with the name nearest to what was given; empty if none is near."""
    near = nearest_name(given, known)
    return f"Did you mean {near}?" if near else ""


def one_line(text: str) -> str:
    """Name on one line: control characters and direction overrides become spaces."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def _shortened(text: str) -> str:
    """Text with very long lines cut in the middle."""
    return "\n".join(
        line if len(line) <= _LONGEST else f"{line[: _LONGEST - 300]} ... {line[-250:]}"
        for line in text.split("\n")
    )


class PassageError(Exception):
    """Error that the user can put right; printed without a traceback."""

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
    """A unit, direction convention or kind of grid that the file leaves open; never guessed."""


class NoCoverage(ForecastError):
    """The forecast does not cover the passage at all."""


class OutputError(PassageError):
    """A result cannot be written to the file asked for."""


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
    """All problems in the order given, one line each."""
    return "\n".join(str(problem) for problem in problems)
