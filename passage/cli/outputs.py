"""Outputs, checked before the work begins: never onto an input, and where they can be written."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import click

from passage.cli.forms import check_name
from passage.cli.pace import pace_key
from passage.cli.progress import Progress
from passage.errors import OutputError
from passage.files import check_target, is_collection, members, named_part

#: ``-o -``: the answer goes to standard output.
STDOUT = Path("-")


#: Where the zones of local times are kept in a context: of departure, then of arrival.
ZONES = "passage.zones"

#: What commands that may take a while are doing, by their names.
WORK_WORDS = {
    "plan": "planning the passage",
    "compare": "reading the forecast and preparing the routes",
    "heel": "weighing fins against transfers",
    "season": "reading the data and making tables",
    "suggest": "reading the forecast and computing known routes",
    "hindcast": "reading the files",
    "check": "reading the files",
    "review": "comparing the log with the plan",
    "record": "summing up the record",
    "calibrate": "fitting the log",
    "decay": "fitting the record",
}


class OutputPath(click.Path):
    """A file to write; ``screen`` takes ``-`` for standard output, ``folder`` is a folder.

    One to ``update`` may be there already.
    """

    def __init__(self, *, screen: bool = False, folder: bool = False, update: bool = False) -> None:
        super().__init__(path_type=Path, readable=False)
        self.screen, self.folder, self.update = screen, folder, update

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The path, or a usage error for ``-`` where only a file will do."""
        path = super().convert(value, param, ctx)
        if path == STDOUT and not self.screen:
            self.fail("- is not a file; this is not written to standard output.", param, ctx)
        return path


OUTPUT = OutputPath()
OUTPUT_OR_SCREEN = OutputPath(screen=True)
OUTPUT_FOLDER = OutputPath(folder=True)


class Command(click.Command):
    """A command whose outputs are checked before its work begins."""

    def make_context(
        self,
        info_name: str | None,
        args: list[str],
        parent: click.Context | None = None,
        **extra: Any,
    ) -> click.Context:
        """A context with the defaults of ``passage.toml`` and the environment."""
        if parent is not None and not {"-h", "--help"} & set(args):
            from passage.cli.defaults import found_for

            found = found_for(self, self.name or "")
            parent.meta["passage.defaults"] = found
            extra.setdefault("default_map", {name: one.value for name, one in found.items()})
        return super().make_context(info_name, args, parent, **extra)

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """What was typed; all that is missing or refused in one usage error."""
        from passage.cli import given

        typed = list(args)
        missing: list[str] = []
        refused: list[click.UsageError] = []
        try:
            rest = super().parse_args(ctx, args)
        except click.exceptions.NoArgsIsHelpError:
            raise
        except click.UsageError:
            missing, refused = given.problems(ctx, self, typed)
            if not missing and not refused:
                raise
        if not ctx.resilient_parsing:
            missing += given.without_window(ctx, self)
            more = given.both_details(typed)
            if missing or refused:
                more += given.defaults_not_there(ctx)
            refused += [click.UsageError(text, ctx) for text in more]
        if not missing and len(refused) == 1:
            raise refused[0]
        if missing or refused:
            raise click.UsageError(given.words(self, missing, refused), ctx)
        return rest

    def format_options(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The options under the titles of ``groups``, each in the order it was declared."""
        from passage.cli.groups import GROUPS

        titles = {name: title for title, names in GROUPS.items() for name in names}
        rows: dict[str, list[tuple[str, str]]] = {title: [] for title in (*GROUPS, "Other")}
        for option in self.get_params(ctx):
            row = option.get_help_record(ctx) if isinstance(option, click.Option) else None
            if row is not None:
                long = next((name[2:] for name in option.opts if name.startswith("--")), "")
                rows[titles.get(long, "Other")].append(row)
        for title, some in rows.items():
            if some:
                with formatter.section(title):
                    formatter.write_dl(some)

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Examples at the end of the help, to be copied as they are."""
        from passage.cli.examples import EXAMPLES, shown

        if self.name in EXAMPLES:
            with formatter.section("Examples, in a copy of sample_forecasts"):
                for example in EXAMPLES[self.name]:
                    for line in shown(example, formatter.width - 4):
                        formatter.write(f"  {line}\n")

    def invoke(self, ctx: click.Context) -> Any:
        """Check, then run; a long run shows progress on stderr."""
        outputs = list(_paths(ctx, outputs=True))
        inputs = list(_paths(ctx, outputs=False))
        force = bool(ctx.params.get("force"))
        for number, (option, target, kind) in enumerate(outputs):
            if target == STDOUT:
                continue
            earlier = [(name, path) for name, path, _ in outputs[:number]]
            _refuse_inputs(option, target, [(n, p) for n, p, _ in inputs], "is the file given as")
            _refuse_inputs(option, target, earlier, "is written already by")
            if not getattr(kind, "folder", False):
                # A Zarr store is a folder that the command itself looks at.
                if target.suffix != ".zarr":
                    check_target(target, force=force or getattr(kind, "update", False))
            elif target.exists() and not target.is_dir():
                raise OutputError(f"{target}: is a file. Give the name of a folder.")
        check_name(ctx)
        if sys.stdout.closed and all(target == STDOUT for _, target, _ in outputs):
            raise OutputError("standard output is closed. Open it, or give -o FILE.")
        words = WORK_WORDS.get(self.name or "")
        if words is None:
            return super().invoke(ctx)
        from passage.report.text.clocks import shown_by

        with (
            Progress(words, like=pace_key(self.name or "", ctx.params)),
            shown_by(ctx.meta.get(ZONES, ())),
        ):
            return super().invoke(ctx)


def _paths(ctx: click.Context, *, outputs: bool) -> Iterator[tuple[str, Path, click.ParamType]]:
    for parameter in ctx.command.params:
        kind = parameter.type
        if not isinstance(kind, click.Path) or isinstance(kind, OutputPath) != outputs:
            continue
        name = parameter.opts[0] if parameter.opts[0].startswith("-") else parameter.opts[0].upper()
        value = ctx.params.get(parameter.name or "")
        for path in value if isinstance(value, tuple) else (value,):
            if path is None:
                continue
            yield name, path, kind
            if not outputs and (file := named_part(path)[0]) != path:
                yield name, file, kind
            if not outputs and is_collection(path):
                # The files of a folder or pattern are inputs, each of them.
                for one in members(path):
                    yield name, one, kind


def _refuse_inputs(option: str, target: Path, others: list[tuple[str, Path]], verb: str) -> None:
    """Refuse a target that is another path, lies inside it, or holds it."""
    for name, path in others:
        if _same(target, path):
            raise OutputError(f"{target}: {option} {verb} {name}. Give another name.")
        if _inside(path, target) and target.is_dir():
            raise OutputError(
                f"{target}: {option} is a folder that holds {path}, given as {name}. "
                "Give another folder."
            )
        if _inside(target, path) and path.is_dir() and not is_collection(path):
            raise OutputError(f"{target}: {option} lies inside {path}, given as {name}.")


def _same(one: Path, other: Path) -> bool:
    try:
        return one.samefile(other)
    except (OSError, ValueError):
        return os.path.abspath(one) == os.path.abspath(other)  # noqa: PTH100 - need not exist


def _inside(path: Path, folder: Path) -> bool:
    try:
        return folder.resolve() in path.resolve().parents
    except (OSError, RuntimeError, ValueError):
        return False


command = partial(click.command, cls=Command)
