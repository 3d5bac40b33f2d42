"""The documentation site builds without a warning and without the network."""

from __future__ import annotations

import logging
import socket
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def no_network(monkeypatch):
    """Any connection is an error."""

    def refuse(*args, **kwargs):
        raise AssertionError(f"the site asks the network for {args}")

    monkeypatch.setattr(socket.socket, "connect", refuse)


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_site_builds_strictly(tmp_path, no_network, caplog):
    config = pytest.importorskip("mkdocs.config")
    from mkdocs.commands.build import build

    with caplog.at_level(logging.WARNING, logger="mkdocs"):
        build(
            config.load_config(
                str(ROOT / "docs" / "site" / "mkdocs.yml"), site_dir=str(tmp_path), strict=True
            )
        )
    assert [r.getMessage() for r in caplog.records if r.levelno >= logging.WARNING] == []
    commands = (tmp_path / "commands.html").read_text(encoding="utf-8")
    assert "passage heel" in commands
    assert "--vessel" in commands
    # The marks before code blocks are for the tests, not for readers.
    shown = [page.name for page in tmp_path.rglob("*.html") if "&lt;!--" in page.read_text("utf-8")]
    assert shown == []
