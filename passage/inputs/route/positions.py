"""Latitudes and longitudes as people write them, turned into decimal degrees.

Accepted: decimal degrees with a sign or a hemisphere letter (``48.39``, ``-4.5``,
``4.5 W``), and degrees and minutes, or degrees, minutes and seconds, with a
hemisphere letter before or behind (``48 23.4 N``, ``N48°23.4'``, ``48-23-24N``).
Whatever can be read in two ways is refused, with the reason.
"""

from __future__ import annotations

import re

_SIGNS = str.maketrans(
    {
        "−": "-",  # minus sign
        "–": "-",  # en dash, common in copied text
        "º": "°",
        "˚": "°",
        "′": "'",
        "’": "'",
        "ʹ": "'",
        "″": '"',
        "”": '"',
        "ʺ": '"',
        "\u00a0": " ",
        "\u202f": " ",
    }
)
_DECIMAL = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)", re.ASCII)
#: A signed exponent cannot be taken for the letter of the eastern hemisphere.
_EXPONENT = re.compile(r"[+-]?[0-9]+\.?[0-9]*[eE][+-][0-9]{1,3}", re.ASCII)
_PARTS = re.compile(
    r"""([0-9]+)\s*[°:\s-]\s*
        ([0-9]+(?:\.[0-9]*)?)\s*
        (?:['`:\s-]\s*(?:([0-9]+(?:\.[0-9]*)?)\s*(?:"|'')?)?)?""",
    re.ASCII | re.VERBOSE,
)
_WORDS = {"lat": ("latitude", "N", "S", 90.0), "lon": ("longitude", "E", "W", 180.0)}


def parse_latitude(text: str) -> float:
    """Latitude in decimal degrees, north positive.

    Raises
    ------
    ValueError
        In words for the user: what is wrong and how to write it.
    """
    value = _parse(text, "lat")
    if abs(value) > 90.0:
        raise ValueError(f"latitude {text.strip()!r} is beyond 90 degrees{_packed(text)}")
    return value


def parse_longitude(text: str) -> float:
    """Longitude in decimal degrees in [-180, 180), east positive.

    Numbers from 180 to 360 without a letter are read as east of Greenwich all the
    way round, as many grids write them.

    Raises
    ------
    ValueError
        In words for the user: what is wrong and how to write it.
    """
    value = _parse(text, "lon")
    lettered = bool(re.search(r"[EWew]\s*$|^\s*[EWew]", text))
    limit = 180.0 if lettered or value < 0.0 else 360.0
    if abs(value) > limit:
        raise ValueError(f"longitude {text.strip()!r} is beyond {limit:.0f} degrees{_packed(text)}")
    return wrap_longitude(value)


def wrap_longitude(lon_deg: float) -> float:
    """Longitude in [-180, 180), unchanged to the last digit when already there."""
    if -180.0 <= lon_deg < 180.0:
        return lon_deg
    turned = (lon_deg + 180.0) % 360.0 - 180.0
    # The remainder of a tiny negative number rounds to 360.
    return turned if turned < 180.0 else -180.0


def format_position(lat_deg: float, lon_deg: float) -> str:
    """``48°23.40'N 004°29.40'W``, as a chart is read, rounded to 0.01 minute."""
    return f"{_degrees_minutes(lat_deg, 2, 'N', 'S')} {_degrees_minutes(lon_deg, 3, 'E', 'W')}"


def _degrees_minutes(value: float, width: int, plus: str, minus: str) -> str:
    # Rounding first keeps 59.999 minutes from being printed as 60.00.
    hundredths = round(abs(value) * 6000.0)
    degrees, rest = divmod(hundredths, 6000)
    return f"{degrees:0{width}d}°{rest / 100.0:05.2f}'{plus if value >= 0 else minus}"


def _packed(text: str) -> str:
    """A hint for degrees and minutes run together, as 4823.4N."""
    if re.search(r"[0-9]{4,5}(\.[0-9]*)?", text):
        return "; if degrees and minutes are run together, put a space between them"
    return ""


def _parse(text: str, axis: str) -> float:
    word, plus, minus, _ = _WORDS[axis]
    how = (
        f'write "48.39", "48.39 {plus}" or "48 23.4 {plus}"'
        if axis == "lat"
        else f'write "-4.49", "4.49 {minus}" or "4 29.4 {minus}"'
    )
    raw = text.strip()
    body = raw.translate(_SIGNS).strip()
    if not body:
        raise ValueError(f"{word} is empty; {how}")
    if _EXPONENT.fullmatch(body):
        return float(body)
    if body.lower().lstrip("+-") in {"nan", "inf", "infinity", "none", "null", "na", "n/a"}:
        raise ValueError(f"{word} {raw!r} is not a number; {how}")
    body, letter = _take_letter(body, raw, word, plus, minus, how)
    if "," in body:
        raise ValueError(f"{word} {raw!r} has a comma; use a decimal point: {how}")
    body = body.strip()
    bare = body.rstrip("°").strip()
    if _DECIMAL.fullmatch(bare):
        if letter and bare[0] in "+-":
            raise ValueError(f"{word} {raw!r} has both a sign and a letter; keep one")
        value = float(bare)
        return -value if letter == minus else value
    match = _PARTS.fullmatch(body)
    if match is None:
        if re.match(r"[+-]", body) and _PARTS.fullmatch(body[1:].strip()):
            raise ValueError(
                f"{word} {raw!r} has a sign before degrees and minutes; "
                f"use {plus} or {minus} instead of the sign"
            )
        raise ValueError(f"{word} {raw!r} cannot be read; {how}")
    if not letter:
        raise ValueError(
            f"{word} {raw!r} has degrees and minutes but no letter; add {plus} or {minus}"
        )
    return _join_parts(match, raw, word) * (-1.0 if letter == minus else 1.0)


def _take_letter(
    body: str, raw: str, word: str, plus: str, minus: str, how: str
) -> tuple[str, str]:
    """Split the hemisphere letter off; it may be before or after, not both."""
    letters = [part for part in (body[:1], body[-1:]) if part.isalpha()]
    if not letters:
        return body, ""
    if sum(c.isalpha() for c in body) > len(letters):
        raise ValueError(f"{word} {raw!r} cannot be read; {how}")
    if body.endswith("s"):
        parts = _PARTS.fullmatch(body[:-1].strip())
        if parts is not None and parts.group(3) is not None:
            raise ValueError(
                f"{word} {raw!r} ends in s, which may be south or seconds; write N or S"
            )
    if len(letters) == 2:
        raise ValueError(f"{word} {raw!r} has a letter at both ends; keep one")
    letter = letters[0].upper()
    rest = body[1:] if body[:1].isalpha() else body[:-1]
    if letter == "O":
        raise ValueError(
            f"{word} {raw!r}: O is east in some languages and west in others; write E or W"
        )
    if letter in "NSEW" and letter not in (plus, minus):
        raise ValueError(
            f"{word} {raw!r} carries the letter {letter}; latitude and longitude may be swapped"
        )
    if letter not in (plus, minus):
        raise ValueError(f"{word} {raw!r} cannot be read; {how}")
    return rest, letter


def _join_parts(match: re.Match[str], raw: str, word: str) -> float:
    degrees, minutes, seconds = match.groups()
    if seconds is not None and "." in minutes:
        raise ValueError(f"{word} {raw!r} has fractions of a minute and seconds as well")
    if float(minutes) >= 60.0:
        raise ValueError(f"{word} {raw!r} has {minutes} minutes; they run from 0 to 59.99")
    if seconds is not None and float(seconds) >= 60.0:
        raise ValueError(f"{word} {raw!r} has {seconds} seconds; they run from 0 to 59.99")
    return float(degrees) + (float(minutes) + float(seconds or 0.0) / 60.0) / 60.0
