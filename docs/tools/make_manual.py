"""Write the manual page ``docs/passage.1`` from the help of every command.

Run from the project folder::

    python docs/tools/make_manual.py [--check]

``man docs/passage.1`` shows it. ``--check`` writes nothing and says whether it is current.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import click

FILE = Path(__file__).resolve().parents[1] / "passage.1"
CODES = FILE.with_name("exit-codes.md")
#: Rows of the table of exit codes.
EXIT = re.compile(r"^\| (\d+) \| (.+) \|$", re.M)
WIDTH = 78


def quoted(text: str) -> str:
    """Text for roff: backslashes, hyphens, and lines that would be requests."""
    lines = text.replace("\\", "\\e").replace("-", "\\-").splitlines()
    return "\n".join("\\&" + line if line[:1] in (".", "'") else line for line in lines)


def manual() -> str:
    """The whole page."""
    from passage import __version__
    from passage.cli.main import COMMANDS, group

    top = click.Context(group, info_name="passage", max_content_width=WIDTH, terminal_width=WIDTH)
    out = [
        f'.TH PASSAGE 1 "" "passage {__version__}" "passage"',
        ".SH NAME",
        "passage \\- fuel against comfort for a fin\\-stabilised motor yacht",
        ".SH SYNOPSIS",
        ".B passage",
        "COMMAND [OPTION ...]",
        ".SH COMMANDS",
    ]
    for name, (_, line) in COMMANDS.items():
        out += [".TP", f".B {quoted(name)}", quoted(line)]
    for name in COMMANDS:
        command = group.get_command(top, name)
        assert command is not None
        context = click.Context(
            command, top, name, max_content_width=WIDTH, terminal_width=WIDTH, color=False
        )
        out += [f".SH passage {quoted(name)}", ".nf", quoted(command.get_help(context)), ".fi"]
    out += [".SH EXIT STATUS"]
    for code, words in EXIT.findall(CODES.read_text("utf-8")):
        out += [".TP", f".B {code}", quoted(words)]
    return "\n".join(out) + "\n"


def main() -> None:
    """Write the page, or say that it is out of date."""
    text = manual()
    if "--check" in sys.argv:
        if not FILE.exists() or FILE.read_text("utf-8") != text:
            raise SystemExit(f"{FILE} is out of date: python docs/tools/make_manual.py")
        return
    FILE.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
