"""Options of odds that several commands share; no heavy imports."""

from __future__ import annotations

from collections.abc import Callable

import click

from passage.cli.options import F, number

draws_option = click.option(
    "--draws",
    type=number("draws"),
    default=64,
    show_default=True,
    help="Draws of the forecast's and the model's errors for odds and spread; 0 for none. "
    "A forecast with members gives the odds itself.",
)


def odds_option(help_: str, default: float | None = None) -> Callable[[F], F]:
    """``--odds`` of a command, in percent."""
    return click.option(
        "--odds",
        type=number("odds"),
        default=default,
        show_default=default is not None,
        metavar="PERCENT",
        help=help_,
    )
