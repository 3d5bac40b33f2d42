"""Every number on the command line is finite and within bounds, or refused in one sentence."""

from __future__ import annotations

import importlib
import re

import click
import pytest
from click.testing import CliRunner

from passage.cli.main import COMMANDS, group
from passage.cli.options import UTC_TIME, Number

BAD = ("nan", "inf", "-inf", "NaN", "1e308", "-1e308", "1e999", "", " ", "x", "1_0", "0x10",
       "1,5", "١", "1" * 400)  # fmt: skip


def parameters() -> list[tuple[str, click.Parameter]]:
    found = []
    for name, (module, _) in COMMANDS.items():
        command = importlib.import_module(module).command
        found += [(name, parameter) for parameter in command.params]
    return found


def numbers() -> list[tuple[str, click.Parameter, Number]]:
    return [(name, p, p.type) for name, p in parameters() if isinstance(p.type, Number)]


def test_no_number_has_another_type() -> None:
    """click's own number types take nan and inf."""
    loose = (click.FloatRange, click.IntRange, type(click.FLOAT), type(click.INT))
    for name, parameter in parameters():
        kinds = getattr(parameter.type, "types", [parameter.type])
        assert not [kind for kind in kinds if isinstance(kind, loose)], (name, parameter.name)
    assert len(numbers()) >= 25


@pytest.mark.parametrize("text", BAD)
def test_bad_numbers_are_refused_by_every_option(text) -> None:
    for name, parameter, kind in numbers():
        with pytest.raises(click.BadParameter) as refused:
            kind.convert(text, parameter, None)
        message = refused.value.format_message()
        assert parameter.opts[0] in message, name
        assert len(message) < 250
        if text != "1,5":
            assert kind.bounds() in message


def test_bounds_themselves_are_taken_and_what_lies_just_beyond_is_not() -> None:
    for name, parameter, kind in numbers():
        for edge, beyond in ((kind.low, -1), (kind.high, 1)):
            assert kind.convert(repr(edge), parameter, None) == edge, name
            step = 1 if kind.whole else max(abs(edge), 1e-9) * 1e-9
            with pytest.raises(click.BadParameter, match=r"too (small|large)"):
                kind.convert(repr(edge + beyond * step), parameter, None)


def test_defaults_are_within_their_bounds() -> None:
    for name, parameter, kind in numbers():
        if isinstance(parameter.default, (int, float)) and not parameter.multiple:
            assert kind.low <= parameter.default <= kind.high, (name, parameter.name)


def test_a_whole_number_stays_exact_and_may_be_written_as_a_float() -> None:
    kind = Number(1, 10, whole=True)
    assert kind.convert("4.0", None, None) == 4
    assert isinstance(kind.convert("4.0", None, None), int)
    with pytest.raises(click.BadParameter, match="whole"):
        kind.convert("4.5", None, None)


def test_the_message_says_value_bounds_and_unit() -> None:
    kind = Number(0.25, 8784.0, "h")
    with pytest.raises(
        click.BadParameter, match=r"0\.1 h is too small. Give a number from 0.25 to"
    ):
        kind.convert("0.1", None, None)
    with pytest.raises(click.BadParameter, match=r"'nan' is not a finite number.*8784 h"):
        kind.convert("nan", None, None)
    with pytest.raises(click.BadParameter, match=r"decimal comma. Write 1.5\."):
        kind.convert("1,5", None, None)


@pytest.mark.parametrize(
    "text", ["0001-01-01T00:00Z", "9999-12-31T00:00Z", "2026-03-14T06:00+99:00",
             "2026-03-14T06:00+01:75", "٢٠٢٦-03-14T06:00Z"]
)  # fmt: skip
def test_impossible_years_and_offsets_are_refused(text) -> None:
    with pytest.raises(click.BadParameter):
        UTC_TIME.convert(text, None, None)


#: Not finite, in the form of each type that takes numbers.
NOT_FINITE = {
    "Number": ["nan", "+inf", "-Infinity"],
    "UtcTime": ["nan", "inf"],
    "Day": ["nan", "-inf"],
    "Position": ["nan, -6.7", "47.2 inf", "nanN 006-40.1W", "47-nanN 006-40.1W"],
    "Sounding": ["fuel port=nan", "fuel port=inf"],
    "Box": ["43,nan,-12,-4", "43,49,-12,inf"],
    "Weight": ["nan,1,1", "3,-inf,1", "3,1,nan"],
    "Tuple": ["nan"],
}
#: Take words, paths or nothing.
NO_NUMBERS = {"Path", "OutputPath", "Choice", "Word", "StringParamType", "BoolParamType"}


def test_what_is_not_finite_is_refused_by_every_option_of_every_command() -> None:
    for name, parameter in parameters():
        kind = type(parameter.type).__name__
        if kind in NO_NUMBERS:
            continue
        for text in NOT_FINITE[kind]:
            many = parameter.multiple or parameter.nargs != 1
            given = [text] * max(parameter.nargs, 1) if many else text
            context = click.Context(click.Command(name))
            with pytest.raises(click.BadParameter) as refused:
                parameter.type_cast_value(context, given)
            message = refused.value.format_message()
            assert "\n" not in message, (name, parameter.name)
            assert parameter.opts[0] in message, (name, message)
            assert re.search("(?i)nan|inf", message), (name, message)


@pytest.mark.parametrize("box", ["nan,49,-12,-4", "43,49,inf,-4", "49,43,-12,-4", "43,49,-12"])
def test_a_box_without_numbers_is_refused(tmp_path, box) -> None:
    done = CliRunner().invoke(
        group,
        ["suggest", "r.csv", "--vessel", "v.toml", "--forecast", "f.nc", "--departure",
         "2026-03-14T06:00Z", "--speed", "12", "--box", box],
    )  # fmt: skip
    assert done.exit_code == 2
    assert "--box" in done.output


def test_an_area_with_south_above_north_is_refused(tmp_path) -> None:
    words = ["hindcast", "f.nc", "-o", str(tmp_path / "o.nc"), "--area", "49", "43", "-12", "-4"]
    done = CliRunner().invoke(group, words)
    assert done.exit_code == 2
    assert "south must be below north" in done.output
