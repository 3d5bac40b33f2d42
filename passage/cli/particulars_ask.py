"""The questions of ``passage particulars``: what nobody can guess first, then what helps."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import click

from passage.errors import VesselError


@dataclass(frozen=True)
class Question:
    """One question; ``needed``: Enter for "not known" is refused."""

    section: str
    key: str
    text: str
    where: str
    needed: bool = False


QUESTIONS = (
    Question("vessel", "name", "Her name", "", needed=True),
    Question("vessel", "length_waterline_m", "Length on the waterline, m",
             "lines plan or stability booklet; about 0.9 of the length over all", needed=True),
    Question("vessel", "beam_waterline_m", "Beam on the waterline, m",
             "general arrangement or booklet", needed=True),
    Question("vessel", "draught_m", "Mean draught as loaded, m", "read at the marks"),
    Question("vessel", "displacement_t", "Displacement as loaded, t",
             "stability booklet or loading computer"),
    Question("roll", "natural_period_s", "Natural roll period, s",
             "roll her at the berth, time ten rolls over and back, divide by ten"),
    Question("vessel", "gm_m", "GM corrected for free surface, m",
             "stability booklet or loading computer"),
    Question("fins", "area_m2", "Area of each stabiliser fin, m2; Enter if she has none",
             "fin maker's sheet"),
    Question("fins", "max_angle_deg", "Largest angle of a fin either way, deg",
             "fin maker's sheet"),
    Question("fins", "lever_m", "From the roll axis to the middle of a fin, m",
             "general arrangement; about 0.4 of the beam"),
    Question("fins", "rate_gain_s", "Rate gain, fin degrees for each degree a second of roll",
             "display of the fins' control unit"),
    Question("hotel", "generator_l_per_h", "Fuel of the generators, l/h", "generator log"),
    Question("loading", "list_deg", "List she leaves with, deg, + to starboard",
             "clinometer alongside"),
    Question("limits", "roll_significant_deg",
             "Most roll to accept, deg, significant single amplitude", "the owner"),
    Question("money", "fuel_price_per_l", "Price of a litre of fuel", "the last bunker note"),
)  # fmt: skip
#: One of each pair is needed: the key is asked for again where its partner is not known.
PAIRS = {
    ("vessel", "displacement_t"): ("vessel", "draught_m"),
    ("vessel", "gm_m"): ("roll", "natural_period_s"),
}
#: Where points of speed and fuel are asked for.
_AFTER = "rate_gain_s"


def ask() -> dict[tuple[str, str], Any]:
    """Ask on the terminal; answers by section and key, only what was answered."""
    _say("Enter means not known: it is then estimated. Units are those asked for.")
    answers: dict[tuple[str, str], Any] = {}
    for one in QUESTIONS:
        place = (one.section, one.key)
        if one.section == "fins" and one.key != "area_m2" and ("fins", "area_m2") not in answers:
            continue
        partner = PAIRS.get(place)
        needed = one.needed or (partner is not None and partner not in answers)
        value = _answer(one, needed)
        if value is not None:
            answers[place] = value
        if one.key == _AFTER or (one.key == "area_m2" and value is None):
            speeds, fuels = _points()
            answers["propulsion", "speed_kn"] = speeds
            answers["propulsion", "fuel_l_per_h"] = fuels
    if ("money", "fuel_price_per_l") in answers:
        answers["money", "currency"] = _line("Name of the currency", "as EUR") or "EUR"
    return answers


def _say(text: str) -> None:
    click.echo(text, err=True)


def _line(text: str, where: str) -> str:
    hint = f" ({where})" if where else ""
    answer: str = click.prompt(
        f"{text}{hint}", default="", show_default=False, err=True, prompt_suffix=": "
    )
    return answer.strip()


def _answer(one: Question, needed: bool) -> Any:
    """The value, or None for not known; asked again until it is valid."""
    while True:
        text = _line(one.text, one.where)
        if not text and not needed:
            return None
        if not text:
            _say("  This one cannot be guessed." + ("" if one.needed else
                 " It is needed where the one before it is not known.")
                 + " Ctrl-C stops without writing a file.")  # fmt: skip
            continue
        if one.key == "name":
            return text
        number = _number(text)
        problem = "is not a number" if number is None else _refused(one, number)
        if not problem:
            return number
        _say(f"  {text!r} {problem}")


def _number(text: str) -> float | None:
    bare = text.replace(",", ".") if re.fullmatch(r"[+-]?\d+,\d+", text) else text
    return float(bare) if re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)", bare) else None


def _refused(one: Question, number: float) -> str:
    """What is wrong with a number by the bounds of its key, or nothing."""
    from pydantic import TypeAdapter, ValidationError

    from passage.inputs.vessel.messages import field_at, limits_in_words

    _, info = field_at((one.section, one.key))
    assert info is not None
    from typing import Annotated

    try:
        TypeAdapter(Annotated[float, *info.metadata]).validate_python(number)
    except ValidationError:
        return f"must be {limits_in_words(one.key, info)}."
    return ""


def _points() -> tuple[list[float], list[float]]:
    """Points of speed and fuel, two at least."""
    points: list[tuple[float, float]] = []
    _say("Speed and fuel of all main engines in calm water, two points or more, as: 10 120")
    while True:
        text = _line(f"Point {len(points) + 1}, kn and l/h", "sea trial or log; Enter when done")
        if not text:
            if len(points) >= 2:
                points.sort()
                return [p[0] for p in points], [p[1] for p in points]
            _say("  Two points are needed.")
            continue
        parts = re.split(r"[\s;]+", text.replace("kn", " ").replace("l/h", " ").strip())
        numbers = [_number(part) for part in parts]
        if len(numbers) != 2 or any(n is None or n <= 0.0 for n in numbers):
            _say("  Give a speed and its fuel, as: 10 120")
            continue
        speed, fuel = float(numbers[0] or 0.0), float(numbers[1] or 0.0)
        if any((speed - s) * (fuel - f) <= 0.0 for s, f in points):
            _say("  Fuel must rise with speed; that does not fit the points before.")
            continue
        points.append((speed, fuel))


def written(answers: dict[tuple[str, str], Any]) -> str:
    """The file made from the answers; a usage error where they are not enough."""
    from passage.inputs.vessel.short import short_file

    try:
        return short_file(
            answers,
            "Vessel file from the answers given. Lines that begin with # are not known and are\n"
            "estimated as shown: take the # away and put in the right number where you have it.",
        )
    except VesselError as err:
        raise click.UsageError(str(err)) from None
