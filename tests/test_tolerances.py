"""Every comparison of numbers in the tests states its tolerance."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

#: Name of a comparison: keywords that state a tolerance, and how many arguments come before.
COMPARISONS = {
    "approx": ({"rel", "abs"}, 1),
    "assert_allclose": ({"rtol", "atol"}, 2),
    "allclose": ({"rtol", "atol"}, 2),
    "isclose": ({"rtol", "atol", "rel_tol", "abs_tol"}, 2),
}


def without_tolerance(source: str) -> list[int]:
    """Lines of comparisons that leave their tolerance to a library's default."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "attr", getattr(node.func, "id", ""))
        keys, before = COMPARISONS.get(name, (set(), 0))
        given = {keyword.arg for keyword in node.keywords}
        if keys and not given & (keys | {None}) and len(node.args) <= before:
            found.append(node.lineno)
    return found


@pytest.mark.parametrize(
    ("source", "lines"),
    [("x == pytest.approx(1)", [1]), ("approx(1, abs=0.1)", []), ("np.allclose(a, b, 0.1)", [])],
)
def test_the_rule_sees_a_breach(source, lines):
    assert without_tolerance(source) == lines


def test_every_comparison_states_its_tolerance():
    here = Path(__file__).parent
    found = [
        f"{path.relative_to(here)}:{line}"
        for path in sorted(here.rglob("*.py"))
        for line in without_tolerance(path.read_text(encoding="utf-8"))
    ]
    assert found == []
