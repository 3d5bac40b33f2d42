"""Options and small parsers that several commands share; no heavy imports."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from passage.api.options import RANGES
from passage.api.times import utc_seconds
from passage.api.zones import local_seconds, zone_of
from passage.cli.outputs import OUTPUT_OR_SCREEN, STDOUT, ZONES
from passage.cli.progress import clear
from passage.cli.word import words
from passage.errors import plain_text

F = TypeVar("F", bound=Callable[..., Any])

#: Not checked here: the reader of the file does, with the right exit code.
PATH = click.Path(path_type=Path, readable=False)

_NUMBER = re.compile(r"^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$", re.ASCII)


class Number(click.ParamType):
    """A finite number between two bounds, which the message names with their unit.

    Parameters
    ----------
    low, high : float
        Bounds, both allowed. There are always two: a value beyond what any yacht or
        passage has is a slip, and may cost memory or overflow.
    unit : str
        Unit after the bounds, as "h"; empty for pure numbers and money.
    whole : bool
        Only whole numbers, given on as int.
    """

    name = "number"

    def __init__(self, low: float, high: float, unit: str = "", *, whole: bool = False) -> None:
        self.low, self.high, self.unit, self.whole = low, high, unit, whole

    def _with_unit(self, number: float) -> str:
        return f"{number:.10g} {self.unit}".rstrip()

    def bounds(self) -> str:
        """The range in words, as "0.25 to 8784 h"."""
        return f"{self.low:.10g} to {self._with_unit(self.high)}"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float | int:
        """The number, or a usage error that says what is allowed."""
        text = str(value).strip()
        want = f"Give {'a whole number' if self.whole else 'a number'} from {self.bounds()}."
        if re.match(r"^[+-]?\d+,\d+$", text, re.ASCII):
            self.fail(f"{text!r} has a decimal comma. Write {text.replace(',', '.')}.", param, ctx)
        if not _NUMBER.match(text):
            kind = "a finite number" if re.match(r"(?i)^[+-]?(nan|inf)", text) else "a number"
            self.fail(f"{_cut(text)!r} is not {kind}. {want}", param, ctx)
        number = float(text)
        if self.whole and number == number // 1 and abs(number) < 1e15:
            number = int(number)
        elif self.whole:
            self.fail(f"{_cut(text)!r} is not a whole number. {want}", param, ctx)
        if not self.low <= number <= self.high:
            kind = "too small" if number < self.low else "too large"
            given = _cut(text) + (f" {self.unit}" if self.unit else "")
            self.fail(f"{given} is {kind}. {want}", param, ctx)
        return number


def number(name: str, unit: str | None = None) -> Number:
    """The type of an option that Python has too, with the same bounds."""
    low, high, usual = RANGES[name]
    whole = isinstance(low, int) and isinstance(high, int)
    return Number(low, high, usual if unit is None else unit, whole=whole)


def _cut(text: str) -> str:
    """A value as given, cut to fit a message."""
    return text if len(text) <= 60 else f"{text[:40]}... ({len(text)} characters)"


class UtcTime(click.ParamType):
    """A time with its zone, such as 2026-03-14T06:00Z, as seconds since 1970 UTC."""

    name = "time"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Seconds since 1970-01-01T00:00Z."""
        if isinstance(value, float):
            return value
        text = str(value)
        if text.strip().lower() == "now":
            import time

            # To the minute, as a log book has it.
            return 60.0 * round(time.time() / 60.0)
        try:
            zones = () if ctx is None else ctx.meta.get(ZONES, ())
            if zones:
                # An arrival is given by the clocks of where she arrives.
                arriving = param is not None and param.name == "arrive_by_s"
                seconds = local_seconds(text, zones[-1 if arriving else 0])
                if seconds is not None:
                    return seconds
            elif re.match(r"(?i)\s*(today|tomorrow)\b", text):
                self.fail(f"{text!r} needs a zone: add --zone Europe/Madrid, or UTC.", param, ctx)
            return utc_seconds(text)
        except ValueError as err:
            self.fail(str(err), param, ctx)


def _keep_zones(ctx: click.Context, param: click.Parameter, value: tuple[str, ...]) -> None:
    if len(value) > 2:
        raise click.BadParameter(
            "give two at most: the zone of departure, then that of arrival if it differs.",
            ctx,
            param,
        )
    try:
        ctx.meta[ZONES] = tuple(zone_of(name) for name in value)
    except ValueError as err:
        raise click.BadParameter(str(err), ctx, param) from None


#: Read before the times, which are in this zone.
zone_option = click.option(
    "--zone",
    metavar="NAME",
    multiple=True,
    is_eager=True,
    expose_value=False,
    callback=_keep_zones,
    help="Zone of times given without one, as Europe/Madrid; answers show its local time beside "
    "UTC. Give it again for the place of arrival.",
)

UTC_TIME = UtcTime()
LATITUDE, LONGITUDE = Number(-90.0, 90.0, "deg"), Number(-360.0, 360.0, "deg")
#: Money has no unit of ours; the bounds leave room for every currency.
PRICE = Number(1e-4, 1e6)


def stack(*decorators: Callable[[F], F]) -> Callable[[F], F]:
    """Several click decorators as one, shown in the order given."""

    def apply(function: F) -> F:
        for decorator in reversed(decorators):
            function = decorator(function)
        return function

    return apply


map_option = click.option(
    "--map", "name_map", type=PATH, help="TOML file that explains unknown variable names."
)

nearest_option = click.option(
    "--nearest-sea-cell",
    "nearest_sea_cell_km",
    type=number("nearest_sea_cell_km"),
    metavar="KM",
    help="Where the forecast is masked beside land, use the nearest sea cell within KM.",
)

input_options = stack(
    click.option("--vessel", type=PATH, required=True, help="Vessel file (TOML)."),
    click.option(
        "--forecast",
        "forecasts",
        type=PATH,
        multiple=True,
        required=True,
        help="Forecast file, or a folder or pattern of them; give the option again for more.",
    ),
    map_option,
    nearest_option,
    click.option(
        "--single-time",
        "single_time_h",
        type=number("single_time_h"),
        default=0.0,
        metavar="H",
        help="A file with one time only may be used for H hours either side of it.",
    ),
)

departure_option = click.option(
    "--departure",
    "departure_s",
    type=UTC_TIME,
    required=True,
    metavar="TIME",
    help="Time of leaving, UTC, as 2026-03-14T06:00Z, or now; with --zone also as "
    '"tomorrow 06:00".',
)

#: Below its least value she is at rest, and a route has a stay for that.
SPEED = number("speed_kn")

speed_option = click.option(
    "--speed",
    "speed_kn",
    type=SPEED,
    metavar="KN",
    help="Speed for the whole passage instead of the route's own.",
)


def speeds_option(text: str, *, name: str = "speeds_kn", required: bool = False) -> Any:
    """Several speeds; ``text`` says what for."""
    return click.option(
        "--speed",
        name,
        type=SPEED,
        required=required,
        multiple=True,
        metavar="KN",
        help=f"{text}; give the option again for more.",
    )


window_options = stack(
    click.option(
        "--departure",
        "departures",
        type=UTC_TIME,
        multiple=True,
        metavar="TIME",
        help="A time of leaving, UTC, as 2026-03-14T06:00Z; give the option again for more.",
    ),
    click.option(
        "--from", "from_s", type=UTC_TIME, metavar="TIME", help="First departure of a window, UTC."
    ),
    click.option(
        "--to", "to_s", type=UTC_TIME, metavar="TIME", help="Last departure of the window."
    ),
    click.option(
        "--every",
        "every_h",
        type=number("every_h"),
        default=3.0,
        show_default=True,
        metavar="HOURS",
        help="Step of the window.",
    ),
)

arrive_by_option = click.option(
    "--arrive-by", "arrive_by_s", type=UTC_TIME, metavar="TIME", help="Latest arrival, UTC."
)


def departure_times(given: dict[str, Any]) -> list[float]:
    """Times of leaving by ``window_options``, or a usage error. [s]"""
    from passage.planning.compare.route import departures
    from passage.planning.compare.size import MAX_COMBINATIONS
    from passage.units import HOUR_S

    times = list(given["departures"])
    first, last, every = given["from_s"], given["to_s"], given["every_h"]
    if (first is None) != (last is None):
        raise click.UsageError("--from and --to go together.")
    if first is not None:
        if last < first:
            raise click.UsageError("--to is before --from.")
        if (last - first) / (HOUR_S * every) > MAX_COMBINATIONS:
            raise click.UsageError(f"--every {every:g}: too many departures. Give a longer step.")
        times += departures(first, last, every)
    return times


minutes_option = click.option(
    "--minutes",
    type=number("minutes"),
    default=20.0,
    show_default=True,
    help="Time between the points of the track.",
)

waves_option = click.option(
    "--waves",
    "wave_method",
    type=words("wave_method"),
    default="all-heading",
    show_default=True,
    help="Formula for added resistance in waves.",
)

responses_option = click.option(
    "--responses",
    type=PATH,
    help="NetCDF of heave and pitch response functions, instead of strip theory.",
)

heel_option = click.option(
    "--heel",
    type=words("heel"),
    default="fins",
    show_default=True,
    help="What the fins do about steady heel: hold all of it, hold it down to the owner's "
    "limit, or leave it.",
)

hold_option = click.option(
    "--hold",
    type=words("hold"),
    default="water",
    show_default=True,
    help="What stays constant: speed through water, speed over ground, or fuel rate "
    "(the rate that the speed takes in still water).",
)

open_option = click.option(
    "--open", "open_page", is_flag=True, help="Open the html page when written."
)

output_options = stack(
    click.option("-o", "--output", type=OUTPUT_OR_SCREEN, help="Write here; - is standard output."),
    click.option("--force", is_flag=True, help="Replace an existing output file."),
)


screen_options = stack(
    click.option("--wide", is_flag=True, help="All columns of the table, however wide."),
    click.option(
        "--quiet", "detail", flag_value="quiet", help="Verdict, table and number of cautions."
    ),
    click.option("--verbose", "detail", flag_value="verbose", help="With method and estimates."),
)


def screen_layout(*, wide: bool, detail: str | None) -> Any:
    """How the text is laid out: by COLUMNS or the terminal's width, 100 at most, 80 at least."""
    import os
    import shutil

    from passage.report.text.layout import Layout, screen_width

    given = os.environ.get("COLUMNS", "")
    columns: int | None = int(given) if given.isdigit() else None
    if columns is None and sys.stdout.isatty():
        columns = shutil.get_terminal_size().columns
    return Layout(screen_width(columns), wide=wide, detail=detail or "usual")


def emit(text: str, output: Path | None, *, force: bool) -> None:
    """Text to stdout, or atomically to a file with a line on stderr."""
    clear()
    if output is None or output == STDOUT:
        try:
            # A file name may hold bytes that are not text.
            click.echo(plain_text(text.encode("utf-8", "replace").decode()), nl=False)
            sys.stdout.flush()
        except BrokenPipeError:
            # The reader (head, less) has seen enough; that is not an error.
            sys.stderr.close()
        return
    from passage.files import write_text

    write_text(output, text, force=force)
    click.echo(f"Wrote {output}", err=True)


def say(text: str) -> None:
    """A line to the user on stderr."""
    clear()
    click.echo(plain_text(text), err=True)


def show(text: str) -> None:
    """Text to stdout, without control characters or what the terminal cannot show."""
    clear()
    click.echo(plain_text(text))


def check_page_options(layout: str, output: Path | None, *, open_page: bool) -> None:
    """Refuse a form that needs a file but has none, and --open without a page."""
    if layout in ("netcdf", "html", "sheet") and output is None:
        raise click.UsageError(f"--format {layout} needs a file: add -o FILE.")
    if output == STDOUT and layout == "netcdf":
        raise click.UsageError("--format netcdf needs a file, not standard output.")
    if output == STDOUT and open_page:
        raise click.UsageError("--open needs a file, not standard output.")
    if open_page and layout not in ("html", "sheet"):
        raise click.UsageError("--open goes with --format html.")
