"""Options that need not be typed again: ``passage.toml`` and environment variables.

An option is looked for on the command line, then in ``PASSAGE_<COMMAND>_<OPTION>`` and
``PASSAGE_<OPTION>``, then in ``passage.toml`` of the working folder, then in that of the
user's configuration folder. Only options that describe ship, sea and taste; never
outputs. Python's ``import passage`` knows none of it.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

from passage.errors import did_you_mean

FILE = "passage.toml"
#: Set to "off": neither files nor variables are looked at.
SWITCH = "PASSAGE_DEFAULTS"

#: Options that may have a default, by their long name with ``_`` for ``-``.
ALLOWED = (
    "vessel",
    "forecast",
    "map",
    "nearest_sea_cell",
    "harbour",
    "harbour_sea",
    "single_time",
    "responses",
    "record",
    "waves",
    "minutes",
    "hold",
    "heel",
    "fins",
    "comfort",
    "heel_worth",
    "roll_worth",
    "fuel_price",
    "crew_cost",
    "alongside",
    "no_ballast",
    "land_margin",
    "least_depth",
    "no_go",
    "zone",
    "wide",
    "odds",
    "draws",
)
#: Those that may be given several times.
_MANY = ("forecast", "zone")
#: A table of numbers that is no command: how far forecasts are off.
ERRORS = "forecast_error"
#: A table for the first and last miles: its keys, and the options that they are.
HARBOUR = "harbour"
_HARBOUR_KEYS = {"within_nm": "harbour", "sea": "harbour_sea"}
#: Taken only from the command's own table: years of hindcast are not tonight's forecast, a
#: plan carries its own vessel, and a review writes to its record.
OWN_ONLY = (
    ("season", "forecast"),
    ("calibrate", "forecast"),
    ("check", "vessel"),
    ("review", "vessel"),
    ("review", "forecast"),
    ("review", "record"),
)
#: Options whose value is a file, a folder or, for forecasts, a pattern.
_FILES = ("vessel", "forecast", "map", "responses", "record", "no_go")
#: A larger file is no file of defaults.
_MOST_BYTES = 1_000_000


@dataclass(frozen=True)
class Default:
    """A value and where it was taken from."""

    key: str
    value: Any
    source: str


def user_file() -> Path:
    """The file in the user's configuration folder."""
    return Path(click.get_app_dir("passage")) / FILE


def files() -> tuple[Path, ...]:
    """Files looked at, the strongest first."""
    return Path(FILE), user_file()


def long_name(option: click.Parameter) -> str | None:
    """Long spelling of an option with ``_`` for ``-``; None for an argument."""
    for spelling in option.opts:
        if isinstance(option, click.Option) and spelling.startswith("--"):
            return spelling[2:].replace("-", "_")
    return None


def read_file(path: Path) -> dict[str, Any]:
    """The content of a file of defaults; its paths are made relative to the working folder.

    Raises
    ------
    click.UsageError
        Everything wrong in it.
    """
    import tomllib

    try:
        if path.stat().st_size > _MOST_BYTES:
            raise click.UsageError(f"{path}: is over {_MOST_BYTES:,} bytes. Is it the right file?")
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except RecursionError:
        raise click.UsageError(f"{path}: has brackets nested too deep.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as err:
        raise click.UsageError(f"{path}: cannot be read as TOML: {err}") from None
    except OSError as err:
        raise click.UsageError(f"{path}: cannot be read: {err.strerror}.") from None
    from passage.cli.main import COMMANDS

    problems: list[str] = []
    result: dict[str, Any] = {}
    for key, value in content.items():
        if key == ERRORS:
            result[key] = _error_numbers(path, value, problems)
        elif key == HARBOUR and isinstance(value, Mapping):
            result |= _harbour(path, value, problems)
        elif isinstance(value, Mapping):
            if key not in COMMANDS:
                problems.append(
                    f"{path}: [{_shown(key)}] is not a command{_near(key, [*COMMANDS, ERRORS])}"
                )
                continue
            result[key] = _checked(path, f"[{key}] ", value, problems)
        else:
            result |= _checked(path, "", {key: value}, problems)
    if problems:
        problems += _refused_values(path, result)
        raise click.UsageError("\n".join(problems))
    return result


def _refused_values(path: Path, content: Mapping[str, Any]) -> list[str]:
    """Values that no command takes and files that are not there, of a file with other faults.

    Without other faults the command that runs looks at the values that it uses.
    """
    from passage.cli.main import COMMANDS

    problems = []
    # An option may have the name of a command, which then is no table.
    own = {name: content[name] for name in COMMANDS if isinstance(content.get(name), Mapping)}
    tables = [("", {k: v for k, v in content.items() if k not in own and k != ERRORS})]
    tables += list(own.items())
    for name, table in tables:
        where = f"{path}: [{name}] " if name else f"{path}: "
        for key, value in table.items():
            if gone := not_there(Default(key, value, str(path))):
                problems.append(f"{where}{key}: {gone}")
            elif why := _why_no_value(key, value, [name] if name else COMMANDS):
                problems.append(f"{where}{key} = {_short(value)}: {why}")
    return problems


def _why_no_value(key: str, value: Any, commands: Iterable[str]) -> str:
    """What an option says to a value, if none of these commands takes it; else empty."""
    why = ""
    for option in _options_of(key, commands):
        if option.type.name not in ("choice", "number"):
            return ""
        try:
            option.type.convert(value, option, None)
        except click.UsageError as err:
            why = why or err.message
        else:
            return ""
    return why


def _options_of(key: str, commands: Iterable[str]) -> Iterator[click.Parameter]:
    """The option of that long name in each of these commands that has one."""
    from passage.cli.main import group

    for name in commands:
        command = group.get_command(click.Context(group), name)
        for option in command.params if command is not None else ():
            if long_name(option) == key:
                yield option


def _harbour(path: Path, table: Mapping[str, Any], problems: list[str]) -> dict[str, Any]:
    """``[harbour]`` with its two keys, as the options --harbour and --harbour-sea."""
    unknown = [key for key in table if key not in _HARBOUR_KEYS]
    problems += [
        f"{path}: [{HARBOUR}] {_shown(key)}: is not a key here{_near(key, _HARBOUR_KEYS)} "
        "Give within_nm and, if you like, sea."
        for key in unknown
    ]
    named = {_HARBOUR_KEYS[key]: value for key, value in table.items() if key not in unknown}
    return _checked(path, f"[{HARBOUR}] ", named, problems)


def _error_numbers(path: Path, table: Any, problems: list[str]) -> Any:
    """The numbers as given; faults go to ``problems``."""
    where = f"{path}: [{ERRORS}]"
    if not isinstance(table, Mapping):
        problems.append(f"{where} must be a table of numbers; see docs/odds.md.")
        return {}
    from passage.errors import PassageError
    from passage.planning.odds.own_numbers import own_model

    try:
        own_model(table, where)
    except PassageError as err:
        problems += str(err).split("\n")
    return dict(table)


def forecast_error() -> tuple[dict[str, Any], Path] | None:
    """The user's numbers of the error model and the strongest file that has them."""
    if os.environ.get(SWITCH, "").lower() == "off":
        return None
    for path in files():
        if path.is_file() and (table := read_file(path).get(ERRORS)):
            return table, path
    return None


def forecast_error_table() -> dict[str, Any] | None:
    """The user's numbers of the error model; None without any."""
    found = forecast_error()
    return None if found is None else found[0]


def _near(key: str, names: Any) -> str:
    return f". {did_you_mean(key, names)}".rstrip()


def _checked(
    path: Path, where: str, table: Mapping[str, Any], problems: list[str]
) -> dict[str, Any]:
    good: dict[str, Any] = {}
    for key, value in table.items():
        if key not in ALLOWED:
            close = _near(key, ALLOWED)
            if close == ".":
                close = f". Defaults may be given for {', '.join(ALLOWED)}."
            problems.append(f"{path}: {where}{_shown(key)}: takes no default{close}")
            continue
        values = value if isinstance(value, list) else [value]
        if not all(isinstance(one, (str, int, float)) for one in values):
            problems.append(
                f"{path}: {where}{key}: must be a text in quotes, a number, true or false, or "
                "for forecast and zone a list of texts."
            )
        elif isinstance(value, list) and key not in _MANY:
            problems.append(f"{path}: {where}{key}: must be one value, not a list.")
        elif key in _FILES and not all(isinstance(one, str) and one for one in values):
            problems.append(f"{path}: {where}{key}: must be a file name in quotes.")
        elif key in _FILES:
            try:
                named = [_located(one, path.parent) for one in values]
            except (RuntimeError, ValueError):
                problems.append(
                    f"{path}: {where}{key} = {_short(value)}: is not the name of a file or folder."
                )
                continue
            good[key] = named if key == "forecast" else named[0]
        else:
            # As typed: an option's own check knows texts, and says what is wrong in words.
            good[key] = str(value) if type(value) in (int, float) else value
    return good


def _located(name: str, folder: Path) -> str:
    """A name in a file of defaults from the working folder; ValueError if it is none."""
    if not name.isprintable():
        raise ValueError
    return str(folder / Path(name).expanduser())  # RuntimeError: no such user


def _shown(key: str) -> str:
    """A key for a message, on one line."""
    return (key if key.isprintable() else ascii(key))[:60]


def _short(value: Any) -> str:
    """A value for a message, on one line."""
    text = ascii(value)
    return text if len(text) <= 60 else f"{text[:60]}..."


def found_for(command: click.Command, name: str) -> dict[str, Default]:
    """Defaults of a command by the names of its parameters, with their sources."""
    if os.environ.get(SWITCH, "").lower() == "off":
        return {}
    contents = [(path, read_file(path)) for path in files() if path.is_file()]
    result: dict[str, Default] = {}
    for option in command.params:
        key = long_name(option)
        if key is None or key not in ALLOWED or option.name is None:
            continue
        for default in _candidates(key, name, contents, option):
            if getattr(option, "multiple", False) and not isinstance(default.value, list):
                # One vessel for an option that may be given several times.
                default = replace(default, value=[default.value])
            result[option.name] = default
            break
    return result


def _candidates(
    key: str, command: str, contents: list[tuple[Path, dict[str, Any]]], option: click.Parameter
) -> Iterator[Default]:
    """Values for an option, the strongest first."""
    own = (command, key) in OWN_ONLY
    variables = [f"PASSAGE_{command}_{key}".upper(), f"PASSAGE_{key}".upper()]
    for variable in variables[:1] if own else variables:
        text = os.environ.get(variable)
        if text:
            yield Default(key, text.split(os.pathsep) if key in _MANY else text, variable)
    for path, content in contents:
        for table, where in ((content.get(command), f"{path} [{command}]"), (content, str(path))):
            if not isinstance(table, Mapping) or key not in table or (own and table is content):
                continue
            value = table[key]
            choices = option.type.choices if isinstance(option.type, click.Choice) else None
            # A word of another command, such as fins = "absent", is left to that one;
            # a word of none is refused as if typed.
            strange = choices is not None and table is content and value not in choices
            if strange and _known_word(key, value):
                continue
            yield Default(key, value, where)


def _known_word(key: str, value: Any) -> bool:
    """Whether the option of that name takes this word in any command."""
    from passage.cli.main import COMMANDS

    return any(
        isinstance(option.type, click.Choice) and value in option.type.choices
        for option in _options_of(key, COMMANDS)
    )


def not_there(default: Default) -> str:
    """A message on files that a default names and that are not there, without its place.

    Empty if all are; patterns are not looked into.
    """
    if default.key not in _FILES or default.key == "record":
        return ""
    named = default.value if isinstance(default.value, list) else [default.value]
    gone = [one for one in named if not set(one) & set("*?[") and not Path(one).exists()]
    return f"{', '.join(gone)} is not there." if gone else ""


def in_use(context: click.Context) -> list[Default]:
    """The defaults that a command takes, since nothing is typed in their place."""
    found: Mapping[str, Default] = context.meta.get("passage.defaults", {})
    source = click.core.ParameterSource.DEFAULT_MAP
    return [one for name, one in found.items() if context.get_parameter_source(name) == source]


def taken() -> list[str]:
    """A line on each default that the running command uses, for its provenance."""
    context = click.get_current_context()
    made = [words(one) for one in in_use(context)]
    numbers = forecast_error() if "draws" in context.params else None
    return made if numbers is None else [*made, f"[{ERRORS}] from {numbers[1]}"]


def words(default: Default) -> str:
    """One line about where an option comes from."""
    value = default.value
    shown = ", ".join(map(str, value)) if isinstance(value, list) else str(value)
    return f"{default.key.replace('_', '-')} = {shown}, from {default.source}"
