"""The page as markup: self-contained, escaped, labelled, with the numbers it was given."""

from __future__ import annotations

import base64
import hashlib
import importlib.util
import re
import xml.etree.ElementTree as ET
from html.parser import HTMLParser
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

from passage.report.drawing.blocks import Chart, Column, Map, Note, Notes, Section, Table, shown
from passage.report.drawing.charts_strip import sea_strip
from passage.report.pages.page import render_page

VOID = {"meta", "link", "br", "hr", "img", "input", "rect", "path", "circle"}


def load_maker() -> ModuleType:
    path = Path(__file__).parents[1] / "report_page_maker.py"
    spec = importlib.util.spec_from_file_location("report_page_maker", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


MAKER = load_maker()


class Reader(HTMLParser):
    """Collects tags with attributes, the text by place, and the tables."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[tuple[str, str]] = []
        self.tables: list[list[list[str]]] = []
        self.wrong: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)
        if tag == "table":
            self.tables.append([])
        elif tag == "tr":
            self.tables[-1].append([])
        elif tag in ("td", "th"):
            self.tables[-1][-1].append("")

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)

    def handle_data(self, data: str) -> None:
        self.words.append((self.open[-1] if self.open else "", data))
        if any(t in ("td", "th") for t in self.open):
            self.tables[-1][-1][-1] += data


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    reader.close()
    return reader


@pytest.fixture(scope="module")
def page() -> str:
    return str(MAKER.page())


def test_page_is_well_formed_and_ids_are_unique(page: str) -> None:
    reader = read(page)
    assert reader.wrong == []
    assert reader.open == []
    ids = [a["id"] for _, a in reader.tags if "id" in a]
    assert len(ids) == len(set(ids))
    for _, attributes in reader.tags:
        for key in ("aria-labelledby",):
            for target in (attributes.get(key) or "").split():
                assert target in ids
        href = attributes.get("href") or ""
        if href:
            assert href.startswith("#")
            assert href[1:] in ids
    for target in re.findall(r"url\(([^)]*)\)", page):
        assert target.startswith("#")
        assert target[1:] in ids


def test_the_same_chart_for_two_routes_keeps_ids_apart() -> None:
    charts = [sea_strip([0.0, 3600.0], [1.0, top]) for top in (2.0, 3.0)]
    reader = read(render_page("t", [Section("s", blocks=charts), Section("s", blocks=[])]))
    ids = [a["id"] for _, a in reader.tags if "id" in a]
    assert len(ids) == len(set(ids))


def test_nothing_is_fetched_from_anywhere(page: str) -> None:
    for tag, attributes in read(page).tags:
        assert tag not in {"link", "img", "iframe", "object", "embed", "base", "form", "use"}
        assert not {"src", "srcset", "xlink:href", "action", "style"} & set(attributes)
        assert not any(key.startswith("on") for key in attributes)
    addresses = set(re.findall(r"https?://[^\s\"'<)]+", page))
    assert addresses <= {"http://www.w3.org/2000/svg"}  # a namespace, in the script
    assert "@import" not in page


def test_policy_allows_only_this_style_and_this_script(page: str) -> None:
    policy = next(
        a["content"]
        for t, a in read(page).tags
        if t == "meta" and a.get("http-equiv") == "Content-Security-Policy"
    )
    assert policy is not None
    assert policy.startswith("default-src 'none';")
    assert "unsafe" not in policy
    for name in ("style", "script"):
        bodies = re.findall(rf"<{name}>(.*?)</{name}>", page, re.S)
        assert len(bodies) == 1
        digest = base64.b64encode(hashlib.sha256(bodies[0].encode()).digest()).decode()
        assert f"{name}-src 'sha256-{digest}'" in policy


def test_hostile_names_are_shown_as_text() -> None:
    reader = read(MAKER.page(MAKER.HOSTILE))
    assert reader.wrong == []
    tags = [t for t, _ in reader.tags]
    assert tags.count("script") == 1
    assert "img" not in tags
    shown_words = "".join(word for place, word in reader.words if place != "script")
    assert shown_words.count(MAKER.HOSTILE) > 20
    plain = read(MAKER.page())
    # Figures and barbs of the map keep clear of labels, whose length differs.
    free = ("path", "text", "g")
    assert [t for t, _ in plain.tags if t not in free] == [t for t in tags if t not in free]


def test_every_drawing_has_title_and_description_and_its_table(page: str) -> None:
    reader = read(page)
    drawings = [a for t, a in reader.tags if t == "svg" and a.get("role") == "img"]
    blocks = [b for s in MAKER.sections() for b in s.blocks]
    charts = sum(isinstance(b, Chart) for b in blocks)
    frames = sum(len(b.frames) for b in blocks if isinstance(b, Map))
    assert len(drawings) == 2 * (charts + frames)
    titles = [w for place, w in reader.words if place == "desc"]
    assert len(titles) == len(drawings)
    assert all(len(w) > 30 for w in titles)
    details = [t for t, _ in reader.tags if t == "details"]
    assert len(details) == charts + sum(isinstance(b, Map) for b in blocks)
    for svg in re.findall(r"<svg .*?</svg>", page, re.S):
        ET.fromstring(svg)
        assert "nan" not in svg.lower().replace("significant", "")
        assert "inf" not in re.sub(r"<(title|desc).*?</\1>", "", svg)


def test_table_numbers_are_the_numbers_given(page: str) -> None:
    given = []
    for section in MAKER.sections():
        for block in section.blocks:
            table = block if isinstance(block, Table) else getattr(block, "table", None)
            if table is not None:
                given.append(table)
    tables = read(page).tables
    assert len(tables) == len(given)
    checked = 0
    for table, seen in zip(given, tables, strict=True):
        assert len(seen) == 1 + len(table.rows) + (table.sums is not None)
        for row, cells in zip(table.rows, seen[1:], strict=False):
            for column, value, cell in zip(table.heads(), row, cells, strict=True):
                if isinstance(value, float) and np.isfinite(value):
                    places = column.decimals or 0
                    number = float(re.sub(r"\s*(chosen|advised)$", "", cell).replace("\u2212", "-"))
                    assert abs(number - value) <= 0.5000001 * 10.0**-places
                    checked += 1
                elif value is None or (isinstance(value, float) and np.isnan(value)):
                    assert cell.strip() == "\u2013"
    assert checked > 500


def test_page_is_small_and_readable_without_script(page: str) -> None:
    assert len(page.encode()) < 1_500_000
    buttons = [a for t, a in read(page).tags if t == "button"]
    assert all("hidden" in a for a in buttons)  # nothing to press that does nothing
    assert "hidden" not in [k for t, a in read(page).tags if t == "div" for k in a]


def test_severities_are_words_as_well_as_colours() -> None:
    notes = Notes([Note("a", "limit"), Note("b", "caution"), "c"])
    page = render_page("t", [Section("s", blocks=[notes])])
    text = "".join(w for _, w in read(page).words)
    for word in ("Warning", "Caution", "Note"):
        assert word in text
    # A plain note of a place opens with the place.
    assert Note("a", where="leg 2").head() == "Leg 2:"
    assert Note("a", "caution", "leg 2").head() == "Caution, leg 2"


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        (None, 1, "\u2013"),
        (float("nan"), 1, "\u2013"),
        (float("inf"), 1, "\u2013"),
        (-0.04, 1, "0.0"),
        (-0.06, 1, "\u22120.1"),
        (12345.678, 1, "12345.7"),
        (3, None, "3"),
        (True, None, "yes"),
        ("", None, "\u2013"),
        ("words", 2, "words"),
        (np.float32(2.25), 2, "2.25"),
    ],
)
def test_cells(value: object, decimals: int | None, text: str) -> None:
    assert shown(value, decimals) == text


def test_a_row_of_wrong_length_is_refused() -> None:
    with pytest.raises(ValueError, match="row 1 has 1 cells for 2 columns"):
        render_page("t", [Section("s", blocks=[Table(["a", Column("b")], [[1, 2], [1]])])])


def test_empty_page_and_empty_table() -> None:
    page = render_page("Nothing", [Section("none", blocks=[Table(["a", "b"], [])])])
    reader = read(page)
    assert reader.wrong == []
    assert reader.tables == [[["a", "b"]]]
