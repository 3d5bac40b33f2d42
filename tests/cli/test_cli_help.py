"""Help: examples that could be typed, exit codes on one page, misspelt commands."""

from __future__ import annotations

import re
import shlex
from itertools import pairwise
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from passage import errors
from passage.cli.examples import EXAMPLES
from passage.cli.groups import GROUPS
from passage.cli.main import COMMANDS, group

ROOT = Path(__file__).parents[2]


def options_of(name: str) -> set[str]:
    command = group.get_command(click.Context(group), name)
    return {s for p in command.params for s in (*p.opts, *p.secondary_opts)}


@pytest.mark.parametrize("name", EXAMPLES)
def test_help_ends_with_examples_whose_options_are_known(name):
    shown = CliRunner().invoke(group, [name, "--help"]).stdout.split("Examples")[1]
    # As a shell joins what is copied.
    lines = [line.strip() for line in shown.replace("\\\n", " ").splitlines()[1:]]
    assert [" ".join(line.split()) for line in lines if line] == list(EXAMPLES[name])
    for example in EXAMPLES[name]:
        words = shlex.split(example)
        assert words[0] == "python" or words[:2] == ["passage", name]
        if words[0] == "passage":
            assert {w for w in words[2:] if w.startswith("-")} <= options_of(name), example


def test_examples_take_files_of_the_sample_or_what_an_earlier_one_wrote():
    there = {path.name for path in (ROOT / "sample_forecasts").iterdir()}
    for example in (line for name in EXAMPLES for line in EXAMPLES[name]):
        words = shlex.split(example)
        written = {b for a, b in pairwise(words) if a in ("-o", "--record")}
        there |= {"hindcast_2021.nc", "hindcast_2022.nc"} if "make_years.py" in words else set()
        there |= {"log.csv", "decay.csv"} if "make_log.py" in words else set()
        files = {word for word in words if re.search(r"\.(csv|toml|nc|json|py)$", word)}
        made_here = {"hindcast.nc"} if "make_years.py" in words else set()
        assert files - made_here - written <= there, example
        there |= written


def test_examples_break_only_before_an_option():
    shown = CliRunner().invoke(group, ["season", "--help"]).stdout.split("Examples")[1]
    broken = [line for line in shown.splitlines() if line.startswith("    ")]
    assert broken
    assert all(line.lstrip().startswith("-") for line in broken)


def test_every_option_is_under_a_title_and_every_title_has_options():
    named = [option for some in GROUPS.values() for option in some]
    assert len(named) == len(set(named))
    known = {o[2:] for name in COMMANDS for o in options_of(name) if o.startswith("--")}
    assert known - set(named) <= {"no-input"}  # shown with --ask
    assert set(named) <= known


def test_examples_are_of_existing_commands():
    assert set(EXAMPLES) <= set(COMMANDS)


def test_the_page_of_exit_codes_has_every_code_of_the_program():
    text = (ROOT / "docs" / "exit-codes.md").read_text(encoding="utf-8")
    kinds = [k for k in vars(errors).values() if isinstance(k, type)]
    codes = {k.exit_code for k in kinds if issubclass(k, errors.PassageError)}
    listed = {int(code) for code in re.findall(r"^\| (\d+) \|", text, flags=re.M)}
    assert codes == listed - {0, 130, 143}


@pytest.mark.parametrize(("typed", "near"), [("plam", "plan"), ("seson", "season")])
def test_a_misspelt_command_names_the_likeliest(typed, near):
    result = CliRunner().invoke(group, [typed])
    assert result.exit_code == 2
    assert f"Did you mean {near}?" in result.stderr


def test_completion_knows_the_commands():
    result = CliRunner().invoke(
        group, [], prog_name="passage",
        env={"_PASSAGE_COMPLETE": "bash_complete", "COMP_WORDS": "passage pl", "COMP_CWORD": "1"},
    )  # fmt: skip
    assert "plan" in result.stdout


@pytest.mark.parametrize(("typed", "words"), [([], "Commands:"), (["heel"], "heel [OPTIONS]")])
def test_help_is_a_command_too(typed, words):
    result = CliRunner().invoke(group, ["help", *typed])
    assert result.exit_code == 0
    assert words in result.stdout


@pytest.mark.parametrize(
    ("name", "form", "words"),
    [
        ("p.json", "html", "would be a json file, but --format is html"),
        ("p.html", "csv", "would be an html file, but --format is csv"),
    ],
)
def test_a_name_of_another_form_is_refused(tmp_path, name, form, words):
    (tmp_path / "a").touch()
    file = str(tmp_path / "a")
    result = CliRunner().invoke(
        group,
        ["plan", file, "--vessel", file, "--forecast", file, "--departure",
         "2026-03-14T06:00Z", "--format", form, "-o", str(tmp_path / name)],
    )  # fmt: skip
    assert result.exit_code == 2
    assert words in result.stderr
    assert not (tmp_path / name).exists()


def test_a_form_that_is_not_written_is_refused(tmp_path):
    (tmp_path / "a").touch()
    file = str(tmp_path / "a")
    result = CliRunner().invoke(
        group, ["review", file, "--plan", file, "-o", str(tmp_path / "r.nc")]
    )
    assert result.exit_code == 2
    assert "passage review does not write .nc files" in result.stderr
