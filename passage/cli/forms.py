"""The form that the suffix of ``-o`` asks for, checked against what can be written."""

from __future__ import annotations

from pathlib import Path

import click

#: Suffix -> forms, for commands whose ``-o`` is the answer itself.
FORMS = {
    ".txt": ("table",),
    ".csv": ("csv",),
    ".json": ("json",),
    ".nc": ("netcdf",),
    ".html": ("html", "sheet"),
    ".htm": ("html", "sheet"),
}
FORMED_BY_NAME = ("plan", "compare", "heel", "review", "record", "suggest")
#: Suffixes where ``-o`` is something other than the answer; a vessel file may have none.
SUFFIXES = {
    "hindcast": (".nc", ".zarr"),
    "decay": (".toml", ""),
    "calibrate": (".toml", ""),
    "particulars": (".toml", ""),
}
#: ``passage suggest`` writes the route, unless another form of the answer is asked for.
ROUTES = (".rtz", ".gpx", ".geojson", ".csv")


def check_name(ctx: click.Context) -> None:
    """Take the form of the answer from the name of ``-o``; refuse a name that does not fit.

    Raises
    ------
    click.UsageError
        The name says one form and ``--format`` another, or one that is not written.
    """
    name = ctx.command.name or ""
    target = ctx.params.get("folder" if name == "season" else "output")
    if target is None or target == Path("-"):
        return
    suffix = target.suffix.lower()
    if name in SUFFIXES:
        schema = ctx.params.get("schema")
        if suffix not in ((".json", "") if schema else SUFFIXES[name]):
            ends = " or ".join(filter(None, (".json",) if schema else SUFFIXES[name]))
            raise click.UsageError(f"-o {target}: the name must end in {ends}.", ctx)
    elif name == "season" and suffix in FORMS and not target.is_dir():
        raise click.UsageError(
            f"-o {target}: a season is written to a folder. Give a name without {suffix}; "
            "--format says what is shown.",
            ctx,
        )
    elif name in FORMED_BY_NAME:
        _form_by_suffix(ctx, target, suffix)


def _form_by_suffix(ctx: click.Context, target: Path, suffix: str) -> None:
    option = next(p for p in ctx.command.params if p.name == "layout")
    written = option.type.choices if isinstance(option.type, click.Choice) else ()
    asked = ctx.params.get("layout")
    by_default = ctx.get_parameter_source("layout") is click.core.ParameterSource.DEFAULT
    routes = ROUTES if ctx.command.name == "suggest" else ()
    forms = ("table",) if suffix in routes else FORMS.get(suffix, ())
    possible = [form for form in forms if form in written]
    if routes and asked == "table" and suffix not in (*routes, ".json", ".html", ".htm"):
        raise click.UsageError(
            f"-o {target}: the name must end in {', '.join(routes)} for the route, or in .json or "
            ".html for the answer.",
            ctx,
        )
    if not possible:
        if (suffix and by_default) or forms:
            ends = [s for s, some in FORMS.items() if set(some) & set(written) and s != ".htm"]
            raise click.UsageError(
                f"-o {target}: passage {ctx.command.name} does not write {suffix} files. End the "
                f"name in {', '.join(ends[:-1])} or {ends[-1]}.",
                ctx,
            )
        if not suffix and by_default:
            click.echo(
                f"Remark: -o {target} has no suffix, so the table is written as text; --format or "
                "a suffix asks for another form.",
                err=True,
            )
        return
    if asked in possible:
        return
    if by_default:
        ctx.params["layout"] = possible[0]
        return
    form = "route" if suffix in routes else possible[0]
    raise click.UsageError(
        f"-o {target} would be {'an' if form == 'html' else 'a'} {form} file, but --format is "
        f"{asked}. Leave one of them out, or make them agree.",
        ctx,
    )
