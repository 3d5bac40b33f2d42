"""Options for planning again at sea: where she is, and what is in her tanks."""

from __future__ import annotations

import re
from typing import Any

import click

from passage.cli.options import Number, stack

#: Contents beyond this are no yacht's. [m3]
_CONTENT = Number(0.0, 20_000.0, "m3")


class Position(click.ParamType):
    """Latitude and longitude as people write them, as degrees north and east."""

    name = "position"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[float, float]:
        """Latitude and longitude. [deg]"""
        if isinstance(value, tuple):
            return value
        from passage.inputs.route.positions import parse_latitude, parse_longitude

        text = str(value).strip()
        how = 'Write it as "47-12.3N 006-40.1W" or "47.205, -6.668".'
        # After the letter of the latitude, else at a comma, else at the only blank.
        found = re.match(r"(?i)^(.*?[NS])[\s,;]+(\S.*)$", text) or re.match(
            r"^([^,;\s]+)[\s,;]+([^,;\s]+)$", text
        )
        if found is None:
            self.fail(f"{text[:60]!r} is not a position. {how}", param, ctx)
        try:
            return parse_latitude(found[1]), parse_longitude(found[2])
        except ValueError as err:
            self.fail(f"{err}. {how}", param, ctx)


class Sounding(click.ParamType):
    """``name=m3``, the content of a tank now."""

    name = "sounding"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> tuple[str, float]:
        """Name and content [m3]."""
        if isinstance(value, tuple):
            return value
        name, sign, amount = str(value).rpartition("=")
        if not sign or not name.strip():
            self.fail(
                f'{str(value)[:60]!r}: write the tank and its m3 now, as "fuel port=9.5".',
                param,
                ctx,
            )
        return name.strip(), float(_CONTENT.convert(amount, param, ctx))


def _once(
    ctx: click.Context, param: click.Parameter, value: tuple[tuple[str, float], ...]
) -> tuple[tuple[str, float], ...]:
    """The soundings; refused where one tank has several."""
    found: dict[str, list[float]] = {}
    for name, content in value:
        found.setdefault(name, []).append(content)
    wrong = [
        f"{name} is given {len(contents)} times ({', '.join(f'{one:g}' for one in contents)} m3)"
        for name, contents in found.items()
        if len(contents) > 1
    ]
    if wrong:
        raise click.BadParameter(f"{'; '.join(wrong)}. Give each tank once.", ctx, param)
    return value


underway_options = stack(
    click.option(
        "--start",
        type=Position(),
        metavar="POSITION",
        help='Under way: where she is, as "47-12.3N 006-40.1W"; joins ROUTE at its nearest point.',
    ),
    click.option(
        "--tank",
        "tanks",
        type=Sounding(),
        multiple=True,
        callback=_once,
        metavar="NAME=M3",
        help='Content of a tank now, as "fuel port=9.5"; give the option again for more.',
    ),
)
