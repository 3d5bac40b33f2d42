"""Transfers of liquid as a file gives them: the JSON of ``passage heel``, or a short table."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from passage.errors import PassageError, Problem, join_problems
from passage.files import why_not_plain
from passage.inputs.bounds import why_not_a_table, why_too_deep
from passage.inputs.vessel import Vessel

#: Columns of the table.
COLUMNS = ("before_leg", "from", "to", "m3")
#: The word for the sea, where ballast is taken in or discharged.
SEA_WORDS = ("sea", "the sea")
#: Files larger than this are not a list of transfers.
_MOST_BYTES = 20_000_000
#: What the plan does for each way of using the fins that a heel answer names.
_HEEL = {"none": "leave", "to the limit": "limit", "all": "fins", "cheapest": "limit"}


@dataclass(frozen=True)
class Order:
    """One transfer; tanks by index in the vessel file, -1 for the sea.

    ``hours_into_leg`` is 0 for a transfer as the leg begins.
    """

    before_leg: int
    source: int
    target: int
    amount_m3: float
    hours_into_leg: float = 0.0


@dataclass(frozen=True)
class MovesFile:
    """Transfers in order, and how the file says heel is treated ("fins", "limit", "leave").

    ``rest_fins``: the fins are centred where nothing needs them.
    """

    orders: tuple[Order, ...]
    heel: str | None = None
    rest_fins: bool = False


def read_moves(path: Path, vessel: Vessel, legs: int) -> MovesFile:
    """Read and check a file of transfers.

    Raises
    ------
    PassageError
        With everything that is wrong in it, and where.
    """
    file = str(path)
    if odd := why_not_plain(path):
        raise PassageError(f"{file}: {odd}. Give the JSON of passage heel, or a table.")
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise PassageError(f"{file}: is too large for a list of transfers.")
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as err:
        raise PassageError(f"{file}: is not text in UTF-8. Is it a list of transfers?") from err
    except OSError as err:
        raise PassageError(f"{file}: cannot be read: {err.strerror}.") from err
    heel, rest = None, False
    is_json = text.lstrip().startswith("{")
    if odd := (why_too_deep if is_json else why_not_a_table)(text):
        raise PassageError(f"{file}: {odd}. Is it a list of transfers?")
    if is_json:
        rows, heel, rest = _from_json(file, text)
    else:
        rows = _from_table(file, text)
    problems: list[Problem] = []
    orders = [_order(file, place, row, vessel, legs, problems) for place, row in rows]
    if problems:
        raise PassageError(join_problems(problems))
    kept = [order for order in orders if order is not None]
    return MovesFile(
        tuple(sorted(kept, key=lambda o: (o.before_leg, o.hours_into_leg))), heel, rest
    )


def _from_json(file: str, text: str) -> tuple[list[tuple[str, dict[str, Any]]], str | None, bool]:
    try:
        answer = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as err:
        raise PassageError(f"{file}: is not JSON: {err}.") from err
    policies = answer.get("policies") if isinstance(answer, dict) else None
    advised = [
        one for one in policies or [] if isinstance(one, dict) and one.get("advised") is True
    ]
    if len(advised) != 1 or not isinstance(advised[0].get("moves"), list):
        raise PassageError(
            f"{file}: holds no advice of passage heel. Give the output of "
            "`passage heel --format json`, or a table with the columns " + ",".join(COLUMNS) + "."
        )
    rows = []
    for number, move in enumerate(advised[0]["moves"], 1):
        move = move if isinstance(move, dict) else {}
        cells = {
            "before_leg": move.get("before_leg"),
            "from": move.get("source"),
            "to": move.get("target"),
            "m3": move.get("amount_m3"),
            "hours": move.get("hours_into_leg") or 0.0,
        }
        rows.append((f"move {number}", cells))
    rest = advised[0].get("fins") == "needed"
    return rows, _HEEL.get(str(advised[0].get("fins_rule"))), rest


def _from_table(file: str, text: str) -> list[tuple[str, dict[str, Any]]]:
    lines = ["\n" if one.lstrip().startswith("#") else one for one in io.StringIO(text)]
    reader = csv.reader(lines)
    try:
        found = [(reader.line_num, row) for row in reader if any(cell.strip() for cell in row)]
    except csv.Error as err:
        raise PassageError(f"{file}: line {reader.line_num}: is not a table: {err}.") from err
    header = [cell.strip().lower() for cell in found[0][1]] if found else []
    if tuple(header) != COLUMNS:
        raise PassageError(
            f"{file}: the first line is {','.join(header) or 'missing'}; it must be "
            f"{','.join(COLUMNS)}."
        )
    return [
        (
            f"line {line}",
            dict(zip(COLUMNS, [*(cell.strip() for cell in row), *[""] * 4], strict=False)),
        )
        for line, row in found[1:]
    ]


def _order(
    file: str,
    place: str,
    row: dict[str, Any],
    vessel: Vessel,
    legs: int,
    problems: list[Problem],
) -> Order | None:
    names = [tank.name for tank in vessel.tanks]
    before = len(problems)

    def wrong(what: str, fix: str) -> None:
        problems.append(Problem(file=file, place=place, what=what, fix=fix))

    def number(key: str) -> float:
        try:
            return float(row[key])
        except (TypeError, ValueError):
            return float("nan")

    leg, amount = number("before_leg"), number("m3")
    hours = number("hours") if row.get("hours") else 0.0
    if not 0.0 <= hours <= 8784.0:
        wrong(f"hours_into_leg is {row['hours']!r}", "Give the hours after the leg begins.")
    if not (1 <= leg <= legs and leg == int(leg)):
        wrong(f"before_leg is {row['before_leg']!r}", f"Give a leg of the route, 1 to {legs}.")
    if not 0.0 < amount < 1e5:
        wrong(f"m3 is {row['m3']!r}", "Give the cubic metres moved, above 0.")
    at = []
    for key in ("from", "to"):
        name = str(row[key] or "").strip()
        if name.lower() in SEA_WORDS:
            at.append(-1)
        elif name in names:
            at.append(names.index(name))
        else:
            at.append(-2)
            wrong(
                f"{key} is {name!r}", f"Name a tank of the vessel file ({', '.join(names)}) or sea."
            )
    if -2 not in at:
        source, target = at
        held = {vessel.tanks[i].holds for i in at if i >= 0}
        if source == target:
            wrong("from and to are the same", "Name two different tanks.")
        elif len(held) > 1:
            wrong(f"joins {' and '.join(sorted(held))}", "Move liquid between tanks of one kind.")
        elif -1 in at and held != {"ballast"}:
            wrong("moves other than ballast to or from the sea", "Only ballast goes there.")
    if len(problems) > before:
        return None
    return Order(int(leg), at[0], at[1], amount, hours)
