"""What is missing or wrong on a command line is reported all at once, before any file is read."""

from __future__ import annotations

import click
import pytest
from click.testing import CliRunner

from passage.cli.main import COMMANDS, group

#: Two forms of one question, of which either will do.
WINDOW = {"compare", "suggest"}


def refused(*typed: str) -> str:
    error = CliRunner().invoke(group, typed, standalone_mode=False).exception
    assert isinstance(error, click.UsageError)
    assert error.exit_code == 2
    return error.format_message()


def needed(name: str) -> list[str]:
    command = group.get_command(click.Context(group), name)
    assert command is not None
    return ["-o" if "-o" in p.opts else max(p.opts, key=len) for p in command.params if p.required]


@pytest.mark.parametrize("name", [name for name in COMMANDS if needed(name)])
def test_all_that_a_command_needs_is_asked_for_in_one_line(name):
    line = refused(name).splitlines()[0]
    assert line.startswith("Missing: ")
    for option in needed(name):
        assert (option if option.startswith("-") else option.upper().rstrip("S")) in line
    assert ("--departure TIME (or --from TIME" in line) == (name in WINDOW)


def test_only_what_is_missing_is_asked_for():
    line = refused("plan", "route.csv", "--vessel", "v.toml").splitlines()[0]
    assert line == (
        "Missing: --forecast PATH, --departure TIME; --forecast may be set in "
        "passage.toml (passage help defaults)."
    )


def test_what_no_file_of_defaults_may_hold_is_not_looked_for_there():
    assert "passage.toml" not in refused("review", "--vessel", "v.toml")
    assert "--vessel may be set" in refused("season")


@pytest.mark.parametrize("times", [("--departure", "2026-03-14T06:00Z"), ("--from", "now")])
def test_either_way_of_giving_departures_will_do(times):
    assert "--departure" not in refused("compare", *times)


def test_missing_and_wrong_values_are_reported_together():
    text = refused("plan", "r.csv", "--forecast", "f.nc", "--speed", "99", "--departure", "soon")
    lines = text.splitlines()
    assert lines[0].startswith("Missing: --vessel PATH; --vessel may be set")
    assert "99 kn is too large" in text
    assert "'soon' is not a time" in text


def test_times_are_not_refused_for_want_of_a_zone_that_was_refused_itself():
    text = refused("plan", "r.csv", "--zone", "No/where", "--departure", "today 06:00")
    assert "No/where" in text
    assert "needs a zone" not in text


def test_help_is_given_whatever_is_missing():
    assert CliRunner().invoke(group, ["plan", "--help"]).exit_code == 0


def test_the_program_puts_its_name_before_the_message(monkeypatch, capsys):
    from passage.cli.main import main

    monkeypatch.setattr("sys.argv", ["passage", "heel"])
    with pytest.raises(SystemExit) as ended:
        main()
    assert ended.value.code == 2
    assert capsys.readouterr().err.startswith("passage: Missing: ROUTE, --vessel PATH")


def test_every_problem_has_the_programs_name_before_it(monkeypatch, capsys):
    from passage.cli.main import main

    monkeypatch.setattr("sys.argv", ["passage", "plan", "--vesel", "v", "--speed", "-1", "a", "b"])
    with pytest.raises(SystemExit):
        main()
    *problems, hint = capsys.readouterr().err.splitlines()
    assert hint == "See passage plan --help"
    assert [line.startswith("passage: ") for line in problems] == [True] * 4
    text = "\n".join(problems)
    assert "Missing: --forecast PATH, --departure TIME;" in text
    assert "No such option --vesel. Did you mean --vessel?" in text
    assert "-1 kn is too small" in text
    assert "'b': one argument too many" in text


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (["--hold", "watr"], "Did you mean water?"),
        (["--format", "shet"], "Did you mean sheet?"),
        (["--quiet", "--verbose"], "--quiet and --verbose exclude each other"),
        (["--quite"], "Did you mean --quiet?"),
        # Like an option that takes a value and is given elsewhere.
        (["--forcast"], "Did you mean --forecast?"),
    ],
)
def test_the_likeliest_is_named_and_what_goes_ill_together_refused(typed, words):
    known = ["r.csv", "--vessel", "v", "--forecast", "f", "--departure", "2026-03-14T06:00Z"]
    text = refused("plan", *known, *typed)
    assert words in text
    assert len(text.splitlines()) == 1


def test_the_order_of_days_is_looked_at_beside_a_refused_number():
    days = ["--from", "2021-02-01", "--to", "2021-01-01", "--every", "0"]
    text = refused("season", "r.csv", *days)
    assert "--to is before --from" in text
    assert "0 h is too small" in text


@pytest.mark.parametrize("day", ["July", "2021-13-03", "2021-07"])
def test_a_day_that_is_none_is_quoted_as_typed_with_the_form_of_a_day(day):
    text = refused("season", "r.csv", "--from", day)
    assert f"'{day}' is not" in text
    assert "Write it as 2021-07-31." in text


@pytest.mark.parametrize(
    "typed", [["help", "plan", "compare"], ["particulars", "--short", "--schema"]]
)
def test_two_wishes_of_which_one_would_be_dropped_are_refused(typed):
    assert any(words in refused(*typed) for words in ("one command at a time", "exclude each"))


def test_arrive_names_only_the_options_that_were_given():
    known = ["r.csv", "--vessel", "v", "--forecast", "f", "--departure", "2026-03-14T06:00Z"]
    arrive = ["--arrive", "2026-03-15T06:00Z"]
    assert refused("plan", *known, *arrive, "--speed", "9").endswith("leave out --speed.")
    assert refused("plan", *known, *arrive, "--hold", "ground").endswith("out --hold ground.")
