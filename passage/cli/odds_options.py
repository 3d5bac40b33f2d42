"""Options of odds that several commands share; no heavy imports."""

from __future__ import annotations

import click

from passage.cli.options import number

draws_option = click.option(
    "--draws",
    type=number("draws"),
    default=64,
    show_default=True,
    help="Draws of the forecast's and the model's errors for odds and spread; 0 for none. "
    "A forecast with members gives the odds itself.",
)

odds_option = click.option(
    "--odds",
    type=number("odds"),
    metavar="PERCENT",
    help="Allow only what keeps limits and constraints with at least this chance.",
)
