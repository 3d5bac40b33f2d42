"""Read a vessel file: text, then types and limits, then consistency, then estimates."""

from __future__ import annotations

import hashlib
import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from passage.errors import Problem, VesselError, join_problems
from passage.files import why_not_plain
from passage.inputs.bounds import why_not_settings
from passage.inputs.vessel import model
from passage.inputs.vessel.builder import Builder
from passage.inputs.vessel.checks import find_problems
from passage.inputs.vessel.complete import complete, is_whole
from passage.inputs.vessel.keylines import map_keys
from passage.inputs.vessel.messages import Reporter, printable
from passage.inputs.vessel.plausibility import find_warnings
from passage.inputs.vessel.schema import VesselFile

#: A vessel file is a few kilobytes; something larger is another file.
MAX_BYTES = 2_000_000


def read_vessel(path: str | Path) -> model.Vessel:
    """Read and check a vessel file.

    Parameters
    ----------
    path
        A TOML file.

    Returns
    -------
    Vessel
        With every missing value estimated and listed in ``estimated``, and legal but
        unlikely values in ``warnings``.

    Raises
    ------
    VesselError
        The file cannot be read or used; the message has one line for each problem.
    """
    path = Path(path)
    data = _read_bytes(path)
    text = _decode(path, data)
    return vessel_from_text(text, str(path), hashlib.sha256(data).hexdigest())


def vessel_from_text(text: str, file: str = "vessel file", sha256: str = "") -> model.Vessel:
    """Check a vessel file's text; ``file`` is the name used in messages."""
    content = _parse(file, text)
    keys = map_keys(text)
    report = Reporter(file, keys, content)
    checked, problems, failed = _validate(content, report)
    checked, filled, missing = complete(checked, report, failed)
    if missing or ("vessel" not in failed and not is_whole(checked)):
        failed |= {"vessel"}
    problems += missing + find_problems(checked, report, without=failed)
    if problems:
        raise VesselError(join_problems(_in_order(problems)))
    warnings = tuple(find_warnings(checked, report))
    made = Builder(checked, filled).vessel(warnings=warnings, path=file, sha256=sha256)
    return replace(made, text=text)


def _validate(
    content: dict[str, Any], report: Reporter
) -> tuple[VesselFile, list[Problem], frozenset[str]]:
    """Check types and limits; on failure keep the sections that passed.

    The sections that passed are still checked against each other, so that one reading
    shows every problem of the file.
    """
    try:
        return VesselFile.model_validate(content), [], frozenset()
    except ValidationError as err:
        errors = err.errors()
    failed = frozenset(str(error["loc"][0]) for error in errors)
    known = {key: value for key, value in content.items() if key in VesselFile.model_fields}
    sections: dict[str, Any] = {}
    for name, info in VesselFile.model_fields.items():
        if name in failed:
            continue
        if name in known:
            adapter = TypeAdapter[Any](info.annotation)  # type: ignore[arg-type]
            sections[name] = adapter.validate_python(known[name])
        else:
            sections[name] = info.get_default(call_default_factory=True)
    partial = VesselFile.model_construct(**sections)
    return partial, report.from_errors(errors), failed


def _in_order(problems: list[Problem]) -> list[Problem]:
    return sorted(problems, key=lambda problem: int(problem.place or 0))


def _fail(file: str | Path, what: str, fix: str, place: str = "") -> VesselError:
    return VesselError(
        str(Problem(file=str(file), place=place, what=printable(what), fix=printable(fix)))
    )


def _read_bytes(path: Path) -> bytes:
    try:
        if path.is_dir():
            raise _fail(path, "is a folder", "Give the name of a vessel file.")
        if reason := why_not_plain(path):
            raise _fail(path, reason, "Give the name of a vessel file.")
        if path.is_file() and path.stat().st_size > MAX_BYTES:
            raise _fail(path, f"is over {MAX_BYTES // 1_000_000} MB", "Is this the vessel file?")
        return path.read_bytes()
    except FileNotFoundError:
        raise _fail(
            path, "does not exist", "`passage particulars -o FILE` writes one to start from."
        ) from None
    except OSError as err:
        raise _fail(
            path, f"cannot be read: {err.strerror}", "Check the name and its permissions."
        ) from err


def _decode(path: Path, data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise _fail(path, "is in UTF-16", "Save it as UTF-8.")
    if b"\0" in data:
        raise _fail(path, "is not a text file", "Give a vessel file in TOML.")
    try:
        text = data.decode("utf-8-sig")  # a byte-order mark is allowed
    except UnicodeDecodeError as err:
        line = data.count(b"\n", 0, err.start) + 1
        raise _fail(
            path,
            f"byte 0x{data[err.start]:02x} is not UTF-8 (it looks like Latin-1 or Windows text)",
            "Save the file as UTF-8.",
            str(line),
        ) from None
    if not text.strip():
        raise _fail(path, "is empty", "`passage particulars -o FILE` writes one to start from.")
    return text


def _parse(file: str, text: str) -> dict[str, Any]:
    if odd := why_not_settings(text):
        raise _fail(file, odd, "Is this the vessel file?")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as err:
        raise _syntax_error(file, text, str(err)) from None
    except RecursionError:
        raise _fail(file, "is nested too deeply", "Is this the vessel file?") from None


def _syntax_error(file: str, text: str, message: str) -> VesselError:
    found = re.search(r"\(at line (\d+), column (\d+)\)", message)
    lines = text.splitlines()
    if found is None:
        return _fail(
            file, f"not TOML: {message}", "Check quotes and brackets.", str(max(len(lines), 1))
        )
    number, column = int(found[1]), int(found[2])
    what = re.sub(r"\s*\(at line.*\)$", "", message)
    line = lines[number - 1] if number <= len(lines) else ""
    place = f"{number}:{column}"
    comma = re.match(r"\s*([\w.-]+)\s*=\s*([-+]?\d+),(\d+)\s*(#.*)?$", line)
    if comma:
        return _fail(
            file,
            f"{comma[1]} = {comma[2]},{comma[3]}: decimal comma",
            f"Write {comma[1]} = {comma[2]}.{comma[3]}.",
            place,
        )
    bare = re.match(r"\s*([\w.-]+)\s*=\s*([^\"'\[{#\s][^#]*?)\s*(#.*)?$", line)
    if bare and re.match(r"[-+]?[\d.]+\s*[a-zA-Z°%]", bare[2]):
        return _fail(
            file,
            f"{bare[1]} = {bare[2]}: more than a number",
            "Write the number alone; the unit is in the key.",
            place,
        )
    if bare and re.match(r"[A-Za-z]", bare[2]):
        return _fail(
            file,
            f"{bare[1]} = {bare[2]}: text without quotes",
            f'Write {bare[1]} = "{bare[2]}".',
            place,
        )
    return _fail(
        file, f"not TOML: {what}: {line.strip()[:60]}", "Check quotes, brackets and commas.", place
    )
