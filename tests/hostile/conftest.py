"""Nightly tests run only where they are asked for: ``pytest -m nightly``."""

from __future__ import annotations

import pytest


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what is marked nightly unless the expression of -m names it."""
    if "nightly" in (config.option.markexpr or ""):
        return
    left_out = [item for item in items if item.get_closest_marker("nightly")]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("nightly")]
