"""The name of ``-o`` says the form of the file; a name that does not fit is refused."""

from __future__ import annotations

import click
import pytest

from passage.cli.forms import check_name
from passage.cli.main import COMMANDS, group


def context(command: str, name: str, *more: str) -> click.Context:
    """The context of a command as parsed, with the options that it needs."""
    found = group.get_command(click.Context(group), command)
    words = list(more)
    for option in found.params:
        if option.required and option.name != "output":
            given = "2026-03-14T06:00Z" if "depart" in option.name else "a"
            given = "12" if option.name == "speeds_kn" else given
            given = "2004-01-01" if option.name in ("from_s", "to_s") else given
            words += [given] if isinstance(option, click.Argument) else [option.opts[0], given]
    if any(option.name == "departures" for option in found.params):
        words += ["--departure", "2026-03-14T06:00Z"]
    return found.make_context(command, [*words, "-o", name])


@pytest.mark.parametrize(
    ("command", "name", "layout"),
    [
        ("plan", "a.html", "html"), ("plan", "a.HTM", "html"), ("plan", "a.nc", "netcdf"),
        ("plan", "a", "table"), ("plan", "a.txt", "table"), ("plan", "-", "table"),
        ("compare", "a.json", "json"), ("heel", "a.csv", "csv"), ("review", "a.html", "html"),
        ("record", "a.json", "json"), ("suggest", "a.gpx", "table"), ("suggest", "a.csv", "table"),
        ("suggest", "a.json", "json"), ("suggest", "a.html", "html"),
    ],
)  # fmt: skip
def test_the_suffix_says_the_form(command, name, layout):
    found = context(command, name)
    check_name(found)
    assert found.params["layout"] == layout


@pytest.mark.parametrize(
    ("command", "name", "more", "words"),
    [
        ("plan", "a.png", (), "does not write .png files"),
        ("plan", "a.json", ("--format", "csv"), "would be a json file, but --format is csv"),
        ("record", "a.html", (), "does not write .html files. End the name in .txt or .json"),
        ("suggest", "a.kml", (), "must end in .rtz, .gpx, .geojson, .csv for the route"),
        ("suggest", "a.rtz", ("--format", "json"), "would be a route file, but --format is json"),
        ("hindcast", "a.csv", (), "must end in .nc or .zarr"),
        ("decay", "a.json", (), "must end in .toml"),
        ("calibrate", "a.csv", (), "must end in .toml"),
        ("season", "a.html", (), "a season is written to a folder"),
        ("particulars", "a.json", (), "must end in .toml"),
        ("particulars", "a.toml", ("--schema",), "must end in .json"),
    ],
)
def test_a_suffix_that_does_not_fit_is_refused(command, name, more, words):
    with pytest.raises(click.UsageError, match=words):
        check_name(context(command, name, *more))


def test_format_option_allows_any_unknown_suffix():
    found = context("plan", "a.dat", "--format", "json")
    check_name(found)
    assert found.params["layout"] == "json"


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_checks_the_suffix_of_its_output(command):
    found = group.get_command(click.Context(group), command)
    # Season writes a folder.
    if command != "season" and any(option.name == "output" for option in found.params):
        with pytest.raises(click.UsageError, match=r"a\.exe"):
            check_name(context(command, "a.exe"))


def test_a_name_without_a_suffix_is_a_table_with_a_remark(capsys):
    check_name(context("plan", "sheet"))
    assert "Remark: -o sheet has no suffix, so the table" in capsys.readouterr().err
    check_name(context("plan", "sheet", "--format", "table"))
    assert capsys.readouterr().err == ""
