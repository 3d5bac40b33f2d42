"""Pages of the documentation site that are made from the code when the site is built.

The commands come from click, the Python functions from the docstrings of what
``passage`` offers, the JSON answers from the schemas in ``docs/schema``. Links that leave
``docs/`` are turned into plain text, because the site holds ``docs/`` only.
"""

from __future__ import annotations

import inspect
import json
import re
from pathlib import Path
from typing import Any

import click
from mkdocs.structure.files import File, Files

DOCS = Path(__file__).resolve().parents[1]
ROOT = DOCS.parent


def on_files(files: Files, config: Any) -> Files:
    """Add the generated pages."""
    pages = {
        "index.md": index_page(),
        "commands.md": commands_page(),
        "reference-python.md": python_page(),
        "reference-json.md": schema_page(),
    }
    for name, text in pages.items():
        files.append(File.generated(config, name, content=text))
    return files


def on_page_markdown(markdown: str, page: Any, config: Any, files: Any) -> str:
    """Links that leave the folder keep their words and lose their target."""
    return re.sub(r"\[([^\]]+)\]\((\.\./[^)]*)\)", r"\1", markdown)


def index_page() -> str:
    """The README up to its test command, with links that hold inside ``docs/``."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    text = text.split("\n## Test it")[0]
    text = re.sub(r"<!--.*?-->\n?", "", text)
    return text.replace("](docs/", "](")


def commands_page() -> str:
    """Every command with its options, from click."""
    from passage.cli.main import COMMANDS, group

    parts = ["# Commands", "", "Made from the program itself.", ""]
    parent = click.Context(group, info_name="passage")
    for name, (_, words) in COMMANDS.items():
        command = group.get_command(parent, name)
        assert command is not None
        context = click.Context(command, info_name=name, parent=parent, max_content_width=90)
        parts += [
            f"## passage {name}",
            "",
            words,
            "",
            "```text",
            command.get_help(context),
            "```",
            "",
        ]
    return "\n".join(parts)


def python_page() -> str:
    """What ``import passage`` offers, with signatures and docstrings."""
    import passage

    parts = ["# Python functions", ""]
    if (DOCS / "python.md").exists():
        parts += ["Examples are in [Use it from Python](python.md).", ""]
    for name in sorted(getattr(passage, "__all__", ())):
        found = getattr(passage, name)
        if not callable(found):
            continue
        try:
            signature = str(inspect.signature(found))
        except ValueError:
            signature = "(...)"
        doc = inspect.getdoc(found) or ""
        parts += [f"## passage.{name}", "", "```text", f"{name}{signature}", "", doc, "```", ""]
    return "\n".join(parts)


def schema_page() -> str:
    """Keys of the JSON answers, from the schemas."""
    parts = ["# JSON answers", ""]
    paths = sorted((DOCS / "schema").glob("*.json"))
    if not paths:
        parts.append("The layout of each answer is on the page of its command.")
    for path in paths:
        schema = json.loads(path.read_text(encoding="utf-8"))
        parts += [f"## {path.stem}", "", str(schema.get("description", "")), ""]
        parts += ["| key | type | meaning |", "|---|---|---|"]
        for key, value in schema.get("properties", {}).items():
            kind = value.get("type", "")
            kind = " or ".join(kind) if isinstance(kind, list) else str(kind)
            parts.append(f"| `{key}` | {kind} | {value.get('description', '')} |")
        parts.append("")
    return "\n".join(parts)
