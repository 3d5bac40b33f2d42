"""Write a JSON Schema of every JSON output into ``docs/schema/``, from real outputs.

Run from the project folder::

    python docs/tools/make_schemas.py [OUTPUT ...]

Each output is made several times with different options on the sample; what is in all of
them is required, what is in some may miss. What is not known is null, so numbers and words
may always be. Meanings and units are those of ``passage/variables.py``. ``check`` holds any
other output against a schema, without a library.
"""

from __future__ import annotations

import json
import re
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "docs" / "schema"
SAMPLES = ROOT / "sample_forecasts"
FORECASTS = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
#: Objects whose keys are names of things, not of quantities.
MAPS = ("names", "systems", "commands", "values")
_KEY = re.compile(r"[a-z][a-z0-9_]*")


def shape_of(value: Any, key: str = "") -> dict[str, Any]:
    """The schema of one value."""
    if isinstance(value, dict):
        parts = {name: shape_of(item, name) for name, item in value.items()}
        if key in MAPS or any(not _KEY.fullmatch(name) for name in parts):
            made: dict[str, Any] = {}
            for part in parts.values():
                made = merged(made, part)
            return {"type": ["object"], "additionalProperties": made}
        return {"type": ["object"], "properties": parts, "required": sorted(parts)}
    if isinstance(value, list):
        items: dict[str, Any] = {}
        for item in value:
            items = merged(items, shape_of(item))
        return {"type": ["array"], "items": items}
    if isinstance(value, bool):
        return {"type": ["boolean"]}
    if isinstance(value, (int, float)):
        return {"type": ["null", "number"]}
    return {"type": ["null"] if value is None else ["null", "string"]}


def merged(one: dict[str, Any], other: dict[str, Any]) -> dict[str, Any]:
    """A schema that both values fit."""
    if not one or not other:
        return one or other
    made: dict[str, Any] = {"type": sorted({*one["type"], *other["type"]})}
    either = [part for part in (one, other) if "object" in part["type"]]
    if either:
        maps = [part for part in either if "additionalProperties" in part]
        if maps:
            inner: dict[str, Any] = {}
            for part in either:
                for item in part.get("properties", {}).values():
                    inner = merged(inner, item)
                inner = merged(inner, part.get("additionalProperties", {}))
            made["additionalProperties"] = inner
        else:
            names = dict.fromkeys(name for part in either for name in part["properties"])
            made["properties"] = {
                name: merged(*(part["properties"].get(name, {}) for part in (either * 2)[:2]))
                for name in names
            }
            made["required"] = sorted(set.intersection(*(set(p["required"]) for p in either)))
    if "array" in made["type"]:
        made["items"] = merged(one.get("items", {}), other.get("items", {}))
    return made


def described(schema: dict[str, Any]) -> dict[str, Any]:
    """The schema with meanings of keys, single types as words, and empty parts left out."""
    from passage.variables import BY_NAME

    made = dict(schema)
    if made.get("type") == ["null"]:
        # Always null here: what else it may be is not known.
        return {}
    if len(made.get("type", [])) == 1:
        made["type"] = made["type"][0]
    if "properties" in made:
        made["properties"] = {}
        for name, part in schema["properties"].items():
            inner = described(part)
            variable = BY_NAME.get(name)
            if variable is not None and part:
                unit = f" [{variable.unit}]" if variable.unit not in ("", "1") else ""
                inner = {"description": variable.meaning + unit, **inner}
            made["properties"][name] = inner
    for name in ("items", "additionalProperties"):
        if name in made:
            made[name] = described(made[name])
    return made


def check(value: Any, schema: dict[str, Any], at: str = "", *, strict: bool = False) -> list[str]:
    """What of a value does not fit; empty where all is well. ``strict``: nor may keys be new."""
    if "type" not in schema:  # nothing was there to learn it from
        return []
    kinds = schema["type"] if isinstance(schema["type"], list) else [schema["type"]]
    if value is None:
        return [] if "null" in kinds else [f"{at or '.'}: null, not {kinds}"]
    kind = {bool: "boolean", int: "number", float: "number", str: "string", list: "array",
            dict: "object"}[type(value)]  # fmt: skip
    if kind not in kinds:
        return [f"{at or '.'}: {kind}, not {kinds}"]
    found: list[str] = []
    if kind == "array":
        for i, item in enumerate(value):
            found += check(item, schema.get("items", {}), f"{at}[{i}]", strict=strict)
    if kind == "object" and "additionalProperties" in schema:
        for name, item in value.items():
            found += check(item, schema["additionalProperties"], f"{at}.{name}", strict=strict)
    elif kind == "object":
        found += [f"{at}.{name}: missing" for name in schema["required"] if name not in value]
        for name, item in value.items():
            if name in schema["properties"]:
                found += check(item, schema["properties"][name], f"{at}.{name}", strict=strict)
            elif strict:
                found.append(f"{at}.{name}: not in the schema; run docs/tools/make_schemas.py")
    return found


def schema_of(name: str) -> dict[str, Any]:
    """A schema that is there."""
    made: dict[str, Any] = json.loads((FOLDER / f"{name}.json").read_text("utf-8"))
    return made


def run(*words: Any) -> dict[str, Any]:
    """The JSON that a command prints."""
    from click.testing import CliRunner

    from passage.cli.main import group

    result = CliRunner().invoke(group, [str(word) for word in words], standalone_mode=False)
    if result.exception is not None:
        raise result.exception
    made: dict[str, Any] = json.loads(result.stdout)
    return made


def _asked(*words: Any) -> list[Any]:
    made: list[Any] = [*words, "--format", "json"]
    for path in FORECASTS:
        made += ["--forecast", path]
    return made


LEAVE = ("--departure", "2026-03-14T06:00Z")


def _with(name: str = "brambling.toml") -> tuple[Any, ...]:
    return ("--vessel", SAMPLES / name)


def _short(folder: Path) -> tuple[Any, ...]:
    """An estimated vessel without fins or prices."""
    path = folder / "short.toml"
    path.write_text(
        '[vessel]\nname = "Short"\nlength_waterline_m = 40\nbeam_waterline_m = 8.4\n'
        "draught_m = 2.6\n[roll]\nnatural_period_s = 7.5\n"
        "[propulsion]\nspeed_kn = [8, 13]\nfuel_l_per_h = [60, 240]\n",
        encoding="utf-8",
    )
    return ("--vessel", path)


def _plan(folder: Path) -> Iterator[dict[str, Any]]:
    base = _asked("plan", SAMPLES / "direct.csv", *LEAVE, "--minutes", "60")
    yield run(*base, *_with(), "--weighting", "--zone", "Europe/Madrid")
    yield run(*base, *_with(), "--draws", "0", "--fins", "absent", "--speed", "11")
    yield run(*base, *_short(folder), "--draws", "0", "--harbour", "5")
    late = _asked("plan", SAMPLES / "eastern.csv", "--departure", "2026-03-16T00:00Z")
    yield run(*late, *_with("brambling_may.toml"), "--draws", "0", "--minutes", "60")


def _compare(folder: Path) -> Iterator[dict[str, Any]]:
    base = _asked("compare", SAMPLES / "direct.csv", *LEAVE, "--minutes", "60", "--speed", "11")
    yield run(*base, *_with(), "--speed", "12", "--by-leg")
    yield run(*base, *_short(folder), "--draws", "0")
    yield run(*base, *_with(), SAMPLES / "western.csv", "--arrive-by", "2026-03-14T07:00Z",
              "--draws", "0")  # fmt: skip
    yield run(*base, *_with(), "--odds", "60")


def _heel(folder: Path) -> Iterator[dict[str, Any]]:
    base = _asked("heel", SAMPLES / "direct.csv", *LEAVE, "--minutes", "60", "--seconds", "2")
    yield run(*base, *_with())
    yield run(*base, *_with("brambling_may.toml"), "--draws", "0", "--hold", "fuel")
    late = _asked("heel", SAMPLES / "eastern.csv", "--departure", "2026-03-16T00:00Z")
    yield run(*late, *_with(), "--draws", "0", "--minutes", "60", "--seconds", "1")


def _suggest(folder: Path) -> Iterator[dict[str, Any]]:
    base = _asked("suggest", SAMPLES / "direct.csv", *LEAVE, "--speed", "12", "--cell", "20")
    yield run(*base, *_with())
    yield run(*base, *_with(), "--for", "comfort")


def _season(folder: Path) -> Iterator[dict[str, Any]]:
    base = _asked("season", SAMPLES / "direct.csv", "--from", "2026-03-13", "--to", "2026-03-15",
                  "--every", "12", "--minutes", "60")  # fmt: skip
    yield run(*base, *_with(), "-o", folder / "one")
    yield run(*base, *_short(folder), "-o", folder / "two")


def _defaults(folder: Path) -> Iterator[dict[str, Any]]:
    yield run("defaults", "--json")


def _logged(folder: Path) -> tuple[Any, ...]:
    """A review to ask for: the sample's plan, and a log that says the same."""
    sys.path.insert(0, str(ROOT / "tests"))
    from review_logs import csv_of, make_plan, rows_of

    plan, log = folder / "plan.json", folder / "log.csv"
    log.write_text(csv_of(rows_of(make_plan(plan))), encoding="utf-8")
    return "review", log, "--plan", plan


def _review(folder: Path) -> Iterator[dict[str, Any]]:
    base = _logged(folder)
    yield run(*base, "--format", "json")
    yield run(*base, "--sea", FORECASTS[0], "--sea", FORECASTS[1], "--record",
              folder / "mine.csv", "--format", "json")  # fmt: skip


def _record(folder: Path) -> Iterator[dict[str, Any]]:
    run(*_logged(folder), "--record", folder / "mine.csv", "--format", "json")
    yield run("record", folder / "mine.csv", "--format", "json")


MAKERS: dict[str, tuple[str, Callable[[Path], Iterator[dict[str, Any]]]]] = {
    "plan": ("passage plan --format json", _plan),
    "compare": ("passage compare --format json", _compare),
    "heel": ("passage heel --format json", _heel),
    "suggest": ("passage suggest --format json", _suggest),
    "season": ("passage season --format json, and statistics.json", _season),
    "review": ("passage review --format json", _review),
    "record": ("passage record --format json", _record),
    "defaults": ("passage defaults --json", _defaults),
}


def main() -> None:
    """Make and write the schemas of the outputs named, or of all."""
    FOLDER.mkdir(exist_ok=True)
    for name in sys.argv[1:] or MAKERS:
        title, maker = MAKERS[name]
        made: dict[str, Any] = {}
        with tempfile.TemporaryDirectory() as folder:
            for value in maker(Path(folder)):
                made = merged(made, shape_of(value))
        head = {
            "$schema": "https://json-schema.org/draft/2020-12/schema",
            "title": title,
            "description": "Made by docs/tools/make_schemas.py from real outputs. What is not "
            "known is null. Later versions may add keys.",
        }
        text = json.dumps({**head, **described(made)}, indent=1)
        (FOLDER / f"{name}.json").write_text(text + "\n", encoding="utf-8")
        sys.stdout.write(f"{FOLDER / name}.json\n")


if __name__ == "__main__":
    main()
