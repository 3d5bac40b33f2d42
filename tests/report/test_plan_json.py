"""A plan's JSON holds the vessel file as read, without characters that a terminal acts on."""

from __future__ import annotations

import json

import pytest

from passage.report.files.plan_json import _escaped


@pytest.mark.parametrize("name", ["back \u202e front", "\u200fmark", "C1 \x9b2J", "\U000e0041tag"])
def test_direction_overrides_are_escaped_and_read_back(name):
    data = {"vessel_text": f'name = "{name}"\nlength = "50 m\u00b2"', "é": [1.0, None]}
    text = json.dumps(data, indent=2, ensure_ascii=False)
    escaped = _escaped(text)
    assert json.loads(escaped) == data
    assert all(c.isprintable() or c == "\n" for c in escaped)
    assert "m\u00b2" in escaped
    assert "é" in escaped
