"""Help: examples that could be typed, exit codes on one page, misspelt commands."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from passage import errors
from passage.cli.examples import EXAMPLES
from passage.cli.main import COMMANDS, group

ROOT = Path(__file__).parents[2]


@pytest.mark.parametrize("name", EXAMPLES)
def test_help_ends_with_examples_whose_options_are_known(name):
    command = group.get_command(click.Context(group), name)
    known = {s for p in command.params for s in (*p.opts, *p.secondary_opts)}
    shown = CliRunner().invoke(group, [name, "--help"]).stdout
    assert EXAMPLES[name]
    for example in EXAMPLES[name]:
        words = shlex.split(example)
        assert words[:2] == ["passage", name]
        assert {w for w in words[2:] if w.startswith("-")} <= known, example
        assert " ".join(words[:3]) in re.sub(r"\s+", " ", shown)


def test_examples_are_of_commands_that_are():
    assert set(EXAMPLES) <= set(COMMANDS)


def test_the_page_of_exit_codes_has_every_code_of_the_program():
    text = (ROOT / "docs" / "exit-codes.md").read_text(encoding="utf-8")
    kinds = [k for k in vars(errors).values() if isinstance(k, type)]
    codes = {k.exit_code for k in kinds if issubclass(k, errors.PassageError)}
    listed = {int(code) for code in re.findall(r"^\| (\d+) \|", text, flags=re.M)}
    assert codes == listed - {0, 130}


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
        ("p.json", "html", "the name says json, --format says html"),
        ("p.html", "csv", "the name says html, --format says csv"),
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
    assert "passage review writes table, json, html, not netcdf" in result.stderr
