"""Put what two commands print into README and docs/plan.md; run from the project folder."""

from __future__ import annotations

import os
import re
import shlex
from pathlib import Path

from click.testing import CliRunner

from passage.cli.main import group

#: Page and mark of the command (``<!-- ci: MARK -->``) whose output follows on it.
SHOWN = {"README.md": "main", "docs/plan.md": "plan"}


def printed(text: str, mark: str) -> str:
    """What the marked command of a page prints, run in the folder of the sample."""
    block = re.search(rf"<!-- ci: {mark} -->\n```\w*\n(.*?)```", text, re.S)
    assert block is not None
    command = block[1].replace("\\\n", " ")
    words = shlex.split(command[command.index("bin/passage ") + len("bin/passage ") :])
    os.environ.pop("COLUMNS", None)
    home = Path.cwd()
    os.chdir("sample_forecasts")
    try:
        result = CliRunner().invoke(group, words, standalone_mode=False)
    finally:
        os.chdir(home)
    if result.exception:
        raise result.exception
    return result.stdout.rstrip()


def main() -> None:
    """Rewrite the output blocks."""
    for name, mark in SHOWN.items():
        path = Path(name)
        text = path.read_text(encoding="utf-8")
        shown = f"<!-- output: {mark} -->\n```text\n{printed(text, mark)}\n```"
        block = rf"<!-- output: {mark} -->\n```text\n.*?```"
        path.write_text(re.sub(block, lambda _, new=shown: new, text, flags=re.S), encoding="utf-8")


if __name__ == "__main__":
    main()
