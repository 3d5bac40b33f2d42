"""Options for the first and last miles, where a forecast has no sea."""

from __future__ import annotations

import click

from passage.cli.options import number, stack, words

harbour_options = stack(
    click.option(
        "--harbour",
        "harbour_nm",
        type=number("harbour_nm"),
        metavar="NM",
        help="Within NM (15 at most) of the first and last waypoint, where the forecast has no "
        "sea, take sheltered water: no waves.",
    ),
    click.option(
        "--harbour-sea",
        type=words("harbour_sea"),
        default="sheltered",
        show_default=True,
        help="What --harbour takes there: sheltered water, or the nearest sea cell.",
    ),
)
