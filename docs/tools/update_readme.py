"""Put what the README's main command prints into the README; run from the project folder."""

from __future__ import annotations

import os
import re
import shlex
from pathlib import Path

from click.testing import CliRunner

from passage.cli.main import group


def main() -> None:
    """Rewrite the output block."""
    path = Path("README.md")
    text = path.read_text(encoding="utf-8")
    block = re.search(r"<!-- ci: main -->\n```\w*\n(.*?)```", text, re.S)
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
    shown = f"<!-- output: main -->\n```text\n{result.stdout.rstrip()}\n```"
    text = re.sub(r"<!-- output: main -->\n```text\n.*?```", lambda _: shown, text, flags=re.S)
    path.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
