"""Real JSON outputs against ``docs/schema``; the manual page against the commands."""

import json

import pytest
from schema_tool import DOCS, schemas, tool

from passage.cli.main import COMMANDS


def test_a_schema_fits_what_it_was_made_from_and_says_what_does_not():
    values = [{"a": 1, "b": [None, {"c": "x"}], "d": True}, {"a": None, "b": []}]
    made = {}
    for value in values:
        made = schemas.merged(made, schemas.shape_of(value))
    made = schemas.described(made)
    assert all(schemas.check(value, made, strict=True) == [] for value in values)
    assert made["required"] == ["a", "b"]
    assert schemas.check({"a": "1", "b": []}, made) == [".a: string, not ['null', 'number']"]
    assert schemas.check({"a": 1}, made) == [".b: missing"]
    assert schemas.check({"a": 1, "b": [{}]}, made) == [".b[0].c: missing"]
    assert schemas.check({"a": 1, "b": [], "e": 2}, made) == []
    assert "not in the schema" in schemas.check({"a": 1, "b": [], "e": 2}, made, strict=True)[0]


@pytest.mark.parametrize("name", schemas.MAKERS)
def test_every_output_has_a_schema(name):
    made = schemas.schema_of(name)
    assert made["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert "schema_version" in made["required"]


def test_defaults_as_json_fit(monkeypatch):
    monkeypatch.setenv("PASSAGE_DEFAULTS", "off")
    found = schemas.run("defaults", "--json")
    assert schemas.check(found, schemas.schema_of("defaults"), strict=True) == []


@pytest.mark.slow
@pytest.mark.parametrize("name", schemas.MAKERS)
def test_real_outputs_fit(name, tmp_path, monkeypatch):
    monkeypatch.setenv("PASSAGE_DEFAULTS", "off")
    _, maker = schemas.MAKERS[name]
    found = next(iter(maker(tmp_path)))
    # Keys newer than the schema are allowed here; docs/tools/make_schemas.py adds them.
    assert schemas.check(found, schemas.schema_of(name)) == []
    broken = json.loads(json.dumps(found))
    broken["schema_version"] = 1.0
    assert schemas.check(broken, schemas.schema_of(name)) != []


def test_the_manual_page_has_every_command_and_exit_code():
    page = (DOCS / "passage.1").read_text("utf-8")
    for name in COMMANDS:
        assert f".SH passage {name}" in page
    for code in ("0", "2", "3", "4", "5", "6", "130"):
        assert f".TP\n.B {code}\n" in page
    made = tool("make_manual").manual()
    assert made.count(".SH") == len(COMMANDS) + 4
    assert "\\-\\-forecast" in made
