"""What a file's variables are, by the user (``--map FILE``, vessel file)."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping as MappingType
from dataclasses import dataclass
from pathlib import Path

from passage.errors import ForecastError, Problem, did_you_mean, join_problems
from passage.files import why_not_plain
from passage.inputs.bounds import why_not_settings
from passage.inputs.forecast.names import MEANINGS, Meaning
from passage.inputs.forecast.quantity import expected_unit, factor_to_ours

#: A map is a few lines; something larger is another file [bytes].
MAX_BYTES = 2_000_000


@dataclass(frozen=True)
class Mapped:
    """Meaning and unit that the user gives one variable; empty unit: the file's."""

    meaning: Meaning
    unit: str


@dataclass(frozen=True)
class Mapping:
    """File variable names to meanings."""

    names: dict[str, Mapped]
    only_file: bool = False


def parse_names(names: MappingType[str, str] | None, origin: str = "names") -> Mapping:
    """Mapping from ``{"file variable": "our name"}`` or ``"our name, unit"``.

    Raises
    ------
    ForecastError
        Names that are not ours, or units that do not belong to them; all at once.
    """
    problems: list[Problem] = []
    found: dict[str, Mapped] = {}
    for variable, text in (names or {}).items():
        place = f"[names] {variable}"
        if not isinstance(text, str):
            problems.append(
                Problem(file=origin, place=place, what=f"is {text!r}, not a text",
                        fix='Write for example "total_height, m".')
            )  # fmt: skip
            continue
        name, _, unit = (part.strip() for part in text.partition(","))
        meaning = MEANINGS.get(name)
        if meaning is None:
            fix = did_you_mean(name, MEANINGS) or "See docs/forecast-files.md."
            problems.append(
                Problem(file=origin, place=place, what=f"'{name}' is not a known name",
                        fix=fix)
            )  # fmt: skip
            continue
        if unit and factor_to_ours(meaning.quantity, unit) is None:
            problems.append(
                Problem(file=origin, place=place,
                        what=f"unit '{unit}' does not fit {name}",
                        fix=f'Write for example "{expected_unit(meaning.quantity)}".')
            )  # fmt: skip
            continue
        found[str(variable)] = Mapped(meaning, unit)
    if problems:
        raise ForecastError(join_problems(problems))
    return Mapping(found)


def read_map(path: str | Path) -> dict[str, str]:
    """The ``[names]`` table of a map file (TOML).

    Raises
    ------
    ForecastError
        Unreadable, not TOML, no ``[names]`` table, other keys, or unknown names.
    """
    path = Path(path)
    if reason := why_not_plain(path):
        raise ForecastError(str(Problem(file=str(path), what=reason)))
    try:
        if path.is_file() and path.stat().st_size > MAX_BYTES:
            what = f"is over {MAX_BYTES // 1_000_000} MB, which no map is"
            raise ForecastError(str(Problem(file=str(path), what=what)))
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
        if odd := why_not_settings(text):
            raise ForecastError(str(Problem(file=str(path), what=odd, fix="Is it a map?")))
        document = tomllib.loads(text)
    except OSError as err:
        what = f"cannot be read ({err.strerror})"
        raise ForecastError(str(Problem(file=str(path), what=what))) from err
    except UnicodeDecodeError as err:
        what = "is not UTF-8 text"
        fix = "Save it as UTF-8."
        raise ForecastError(str(Problem(file=str(path), what=what, fix=fix))) from err
    except (tomllib.TOMLDecodeError, RecursionError) as err:
        what = f"is not TOML ({err})"
        raise ForecastError(str(Problem(file=str(path), what=what))) from err
    extra = [key for key in document if key != "names"]
    names = document.get("names")
    if extra or not isinstance(names, dict):
        what = f"unknown key {extra[0]}" if extra else "has no [names] table"
        fix = 'Write [names], then lines like Hsig2 = "total_height, m".'
        raise ForecastError(str(Problem(file=str(path), what=what, fix=fix)))
    parse_names(names, str(path))
    return {str(k): str(v) for k, v in names.items()}
