"""One self-contained HTML page from sections of blocks.

The page needs no network, and is complete without its script, which only adds the colour
switch, the read-out under charts and the choice of the map's time. Its content security
policy allows nothing but its own style sheet and script, by their hashes.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Sequence
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

from jinja2 import BaseLoader, Environment, StrictUndefined, TemplateNotFound
from markupsafe import Markup, escape

from passage.planning.plan.cautions import STANDING
from passage.report.drawing import blocks, svg
from passage.report.drawing.charts_panel import slug
from passage.report.drawing.meanings import label_meaning
from passage.report.drawing.theme import style_sheet

if TYPE_CHECKING:
    from collections.abc import Callable

    from passage.report.text.verdict import Verdict

#: Cautions printed once on every page.
STANDING_TEXTS: tuple[str, ...] = tuple(text for _, text in STANDING)


class _Loader(BaseLoader):
    """Loads templates from the package, wherever it is installed."""

    def get_source(
        self, environment: Environment, template: str
    ) -> tuple[str, str | None, Callable[[], bool] | None]:
        """Source of a template."""
        try:
            return page_asset(template), None, None
        except OSError as err:
            raise TemplateNotFound(template) from err


@cache
def page_asset(name: str) -> str:
    """A template, style sheet or script of the package."""
    return (files("passage.report") / "templates" / name).read_text("utf-8")


def _kind(block: blocks.Block) -> str:
    """Name of the block's class, by which the template renders it."""
    return type(block).__name__


@cache
def environment() -> Environment:
    """The template engine of all pages: everything but drawings is escaped."""
    made = Environment(
        loader=_Loader(),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["kind"] = _kind
    # Drawings are escaped piece by piece where they are made (passage.report.drawing.svg).
    made.filters["drawing"] = Markup
    made.filters["words"] = _words
    made.filters["meaning"] = label_meaning
    return made


def _words(text: object) -> Markup:
    """Escaped words, with text between backticks set as code."""
    return Markup(re.sub(r"`([^`<>]+)`", r"<code>\1</code>", str(escape(text))))


def _mark(style: int) -> Markup:
    """The mark of a route, small, for a card."""
    drawn = svg.marker(style, 8.0, 8.0, 5.0, class_=f"mark c{style % svg.STYLES + 1}")
    return Markup(
        svg.tag("svg", drawn, viewBox="0 0 16 16", width=16.0, height=16.0, aria_hidden="true")
    )


def page_hash(content: str) -> str:
    """Source hash for the content security policy."""
    digest = hashlib.sha256(content.encode("utf-8")).digest()
    return f"'sha256-{base64.b64encode(digest).decode('ascii')}'"


def render_page(
    title: str,
    sections: Sequence[blocks.Section],
    *,
    subtitle: str = "",
    facts: Sequence[tuple[str, object]] = (),
    footer: str = "",
    verdict: Verdict | None = None,
    standing: Sequence[str] = STANDING_TEXTS,
) -> str:
    """The page as text, ready to be written.

    Parameters
    ----------
    title, subtitle
        Heading of the page; plain words, escaped here.
    sections
        In reading order: the answer first.
    facts
        Pairs of term and value for the head of the page (vessel, route, forecast run).
    footer
        Line at the foot of the page, before the standing cautions.
    verdict
        What to do, why and at what price; comes before everything else.
    standing
        Cautions that hold for every page; small print at its foot, on paper too.

    Raises
    ------
    ValueError
        A row of a table has more or fewer values than there are columns.
    """
    style = style_sheet(page_asset("page.css"))
    script = page_asset("theme.js") + page_asset("page.js")
    numbered = [
        (f"{slug(section.short or section.heading)}-{i}", section)
        for i, section in enumerate(sections, 1)
    ]
    policy = (
        f"default-src 'none'; style-src {page_hash(style)}; script-src {page_hash(script)}; "
        "base-uri 'none'; form-action 'none'"
    )
    return (
        environment()
        .get_template("page.html.j2")
        .render(
            title=title,
            subtitle=subtitle,
            facts=[(term, blocks.shown(value)) for term, value in facts],
            sections=numbered,
            footer=footer,
            verdict=verdict,
            standing=list(standing),
            mark=_mark,
            policy=policy,
            style=Markup(style),
            script=Markup(script),
        )
    )
