"""Names from files are text everywhere: nothing that a terminal, a page or a reader obeys."""

from __future__ import annotations

import json
import os
from html.parser import HTMLParser

import pytest
from case import COMPARE, HEEL, PLAN, SEASON, Bench, Case, check, run_here

from passage.errors import one_line, plain_text

#: Clears the screen, sets a title, turns the direction of writing, ends lines, opens tags.
EVIL = "A\u202eB\u2066C\x1b[2J\x1b]0;t\x07\x9b31m\u200bD\x85E\u2028F<script>alert(1)</script>"
PLAIN = "A B C [2J ]0;t 31m D E F<script>alert(1)</script>"


def in_toml(text: str) -> str:
    """As a TOML basic string with everything odd escaped."""
    return "".join(c if " " <= c < "\x7f" and c not in '"\\' else f"\\u{ord(c):04X}" for c in text)


def evil_vessel(bench: Bench) -> None:
    names: dict[str, str] = {}
    lines = []
    for line in bench.files["vessel"].read_text().splitlines():
        if line.split("=")[0].strip() in ("name", "position") and '"' in line:
            # Short enough for every name, and still different from one another.
            old = line.split('"')[1]
            names[f'"{old}"'] = f'"{in_toml(EVIL[:14] + old[:18])}"'
        lines.append(line)
    # References to tanks too.
    for number, line in enumerate(lines):
        for old, new in names.items():
            if not line.lstrip().startswith("#"):
                lines[number] = lines[number].replace(old, new)
    text = "\n".join(lines) + "\n"
    assert "\\u202E" in text
    bench.files["vessel"].write_text(text)


def evil_route(bench: Bench) -> None:
    start, end = ([-7.5, 48.3], [-6.5, 49.4])
    bench.files["route"] = bench.inputs / "route.geojson"
    bench.files["route"].write_text(json.dumps({
        "type": "Feature", "properties": {"name": EVIL, "speed_kn": 12},
        "geometry": {"type": "LineString", "coordinates": [start, end]},
    }))  # fmt: skip


def evil_waypoints(bench: Bench) -> None:
    odd = EVIL.replace("\x85", "").replace("\u2028", "").replace("\x1b", "\u202d")
    bench.files["route"].write_text(
        f"name,lat,lon,leg,speed_kn\n{odd},48.3,-7.5,,\n{odd}2,49.4,-6.5,rhumb,12\n",
        encoding="utf-8",
    )


def odd_characters(text: str) -> set[str]:
    """What is neither printable nor a line end (tables of pages hold no-break spaces)."""
    return {c for c in text if not c.isprintable() and c not in "\n\xa0\u202f\u2009\u2007\t"}


class Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.scripts = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:
        self.scripts += tag == "script"


def scripts(page: str) -> int:
    parser = Tags()
    parser.feed(page)
    return parser.scripts


@pytest.mark.parametrize("spoil", [evil_vessel, evil_route, evil_waypoints])
@pytest.mark.parametrize("form", ["table", "csv", "json", "html"])
def test_plans(tmp_path, spoil, form) -> None:
    bench = Bench(tmp_path / "bench")
    plain = check(Case("plain", (*PLAN, "--format", form, "-o", "-"), 0), bench)
    ended = check(Case("evil", (*PLAN, "--format", form, "-o", "-"), 0, (), spoil), bench)
    assert not odd_characters(ended.stdout + ended.stderr)
    if form == "json":
        assert not odd_characters(json.dumps(json.loads(ended.stdout), ensure_ascii=False))
    if form == "html":
        assert scripts(ended.stdout) == scripts(plain.stdout)
        assert "alert(1)" not in ended.stdout or "&lt;script&gt;" in ended.stdout


@pytest.mark.parametrize("spoil", [evil_vessel, evil_route])
@pytest.mark.parametrize("words", [COMPARE, HEEL], ids=["compare", "heel"])
def test_other_commands_and_their_files(tmp_path, spoil, words) -> None:
    bench = Bench(tmp_path / "bench")
    spoil(bench)
    for form in ("table", "json", "html"):
        ended = run_here(bench.words((*words, "--format", form, "-o", f"{{out}}/a.{form}")))
        assert ended.code == 0, ended.stderr
        text = (bench.out / f"a.{form}").read_text()
        assert not odd_characters(text + ended.stderr)


def test_seasons(tmp_path) -> None:
    bench = Bench(tmp_path / "bench")
    evil_route(bench)
    ended = run_here(bench.words(SEASON))
    assert ended.code == 0, ended.stderr
    assert not odd_characters(ended.stdout + ended.stderr)
    assert not odd_characters((bench.out / "season" / "statistics.json").read_text())


def test_a_forecast_with_a_hostile_name(tmp_path) -> None:
    bench = Bench(tmp_path / "bench")
    odd = bench.inputs / "sea\x1b[2J\u202e.nc"
    os.rename(bench.files["sea"], odd)  # noqa: PTH104 - an odd name on purpose
    bench.files["sea"] = odd
    for form in ("table", "json", "html"):
        ended = check(Case("name", (*PLAN, "--format", form, "-o", "-"), 0), bench)
        assert not odd_characters(ended.stdout + ended.stderr)


def test_a_name_is_its_printable_part() -> None:
    assert one_line(EVIL) == PLAIN
    assert one_line("  a\n\tb  ") == "a b"
    assert one_line("Åsa, 日本 é") == "Åsa, 日本 é"
    assert plain_text("a\u202eb\x1bc\n") == "a?b?c\n"
