"""Outputs of a comparison and the page of a plan: the same numbers everywhere."""

import csv
import io
import json
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from passage.cli.main import group
from passage.planning.compare.compare import CompareOptions
from passage.planning.compare.files import CompareFiles, Wanted, compare_files
from passage.planning.plan.plan import PlanOptions, plan_files
from passage.report.drawing.blocks import shown
from passage.report.files.compare_netcdf import write_compare_netcdf
from passage.report.files.plan_json import plan_dict
from passage.report.pages.compare import compare_page
from passage.report.pages.plan import plan_page
from passage.report.text.compare import compare_csv, compare_dict, compare_json, compare_table
from passage.report.text.verdict_compare import compare_verdict

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
FORECASTS = tuple(SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current"))
FIRST_S = 1773360000.0  # 2026-03-13T00:00Z
HOSTILE = "<script>alert('x')</script>&\"'"


def make_found(**wanted):
    files = CompareFiles(
        (SAMPLES / "direct.csv", SAMPLES / "eastern.csv"), SAMPLES / "brambling.toml", FORECASTS
    )
    times = tuple(FIRST_S + 21600.0 * i for i in range(4))
    options = CompareOptions(times, (10.0, 12.0), ("active", "centred"), minutes=60.0)
    return compare_files(files, options, Wanted(map_times=3, **wanted))


@pytest.fixture(scope="module")
def found():
    return make_found()


@pytest.fixture(scope="module")
def page(found):
    return compare_page(found)


class Tables(HTMLParser):
    """Tables of a page by caption, as lists of rows of cell texts."""

    def __init__(self):
        super().__init__()
        self.tables, self.tags, self.attributes = {}, [], []
        self._rows, self._cell, self._caption, self._skip = None, None, "", None

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag == "table":
            self._rows, self._caption = [], ""
        elif tag == "caption":
            self._cell = []
        elif tag == "tr" and self._rows is not None:
            self._rows.append([])
        elif tag in ("td", "th") and self._rows is not None:
            self._cell = []
        elif tag == "span" and self._cell is not None:
            self._skip = tag

    def handle_endtag(self, tag):
        if tag == "table":
            self.tables[self._caption] = self._rows
            self._rows = None
        elif tag == "caption":
            self._caption = "".join(self._cell).strip()
            self._cell = None
        elif tag in ("td", "th") and self._rows is not None:
            self._rows[-1].append("".join(self._cell).strip())
            self._cell = None
        elif tag == "span":
            self._skip = None

    def handle_data(self, data):
        if self._cell is not None and self._skip is None:
            self._cell.append(data)


def parsed(text):
    reader = Tables()
    reader.feed(text)
    return reader


def test_json_has_no_nan_and_knows_every_combination(found):
    data = json.loads(compare_json(found), parse_constant=lambda word: pytest.fail(word))
    rows = data["combinations"]
    assert [row["number"] for row in rows] == list(range(1, len(found) + 1))
    assert len(rows) == 2 * 4 * 2 * 2
    for row, closed, front in zip(rows, found.closed, found.front, strict=True):
        assert row["open"] == (closed == 0) == (not row["why_closed"])
        assert row["on_front"] == front
    assert data["front"] == [int(i) + 1 for i in found.front_order()]
    fuel = [rows[n - 1]["fuel_l"] for n in data["front"]]
    assert fuel == sorted(fuel)


def test_csv_says_what_json_says(found):
    data = compare_dict(found)["combinations"]
    rows = list(csv.DictReader(io.StringIO(compare_csv(found))))
    assert len(rows) == len(data)
    for row, item in zip(rows, data, strict=True):
        assert row.keys() == item.keys()
        for key, value in item.items():
            if value is None:
                assert row[key] == ""
            elif isinstance(value, bool):
                assert row[key] == ("yes" if value else "no")
            elif isinstance(value, float):
                assert float(row[key]) == pytest.approx(value, rel=1e-9)
            elif isinstance(value, list):
                assert row[key] == "; ".join(map(str, value))
            else:
                assert row[key] == str(value)


def test_netcdf_says_what_json_says(found, tmp_path):
    import netCDF4

    file = tmp_path / "compare.nc"
    write_compare_netcdf(found, file)
    data = compare_dict(found)["combinations"]
    with netCDF4.Dataset(file) as made:
        for key in ("fuel_l", "hours", "worst_window_roll_significant_deg", "limit_share",
                    "worst_leg_motion_sickness_percent", "mean_roll_significant_deg"):  # fmt: skip
            values = np.ma.filled(made[key][:].astype(float), np.nan)
            expected = [np.nan if row[key] is None else row[key] for row in data]
            np.testing.assert_allclose(values, expected, rtol=1e-12, err_msg=key)
        assert list(made["route"][:]) == [row["route"] for row in data]
        assert made["open"][:].tolist() == [int(row["open"]) for row in data]
        assert made["on_front"][:].tolist() == [int(row["on_front"]) for row in data]
        for index in (0, 5, len(found) - 1):
            rows = found.legs(index)
            for name in ("fuel_l", "roll_active_significant_deg", "significant_height_m"):
                values = np.ma.filled(made[f"leg_{name}"][index].astype(float), np.nan)
                np.testing.assert_allclose(
                    values[: len(rows)], [row[name] for row in rows], rtol=1e-7
                )
                assert np.all(np.isnan(values[len(rows) :]))
        assert made["fuel_l"].units == "L"
        assert made["departure"].units.startswith("seconds since 1970")


def test_table_numbers_are_those_of_json(found):
    text = compare_table(found)
    data = compare_dict(found)
    for number in data["front"]:
        row = data["combinations"][number - 1]
        start = [str(number), row["route"]]
        line = next(part for part in text.splitlines() if part.split()[:2] == start)
        assert f" {row['fuel_l']:,.0f} " in line


def test_page_numbers_are_those_of_json(found, page):
    data = compare_dict(found)
    table = parsed(page).tables["Combinations"]
    heads, rows = table[0], table[1:]
    place = {head.split("\n")[0].strip(): n for n, head in enumerate(heads)}
    keys = {
        "fuel": ("fuel_l", 0),
        "worst roll": ("worst_window_roll_significant_deg", 1),
        "sick": ("worst_leg_motion_sickness_percent", 1),
        "tightest limit": ("limit_share", 2),
        "hours": ("hours", 1),
    }
    assert len(rows) == len(found)
    for row in rows:
        item = data["combinations"][int(row[0]) - 1]
        assert row[1] == item["route"]
        for heading, (key, decimals) in keys.items():
            assert row[place[heading]] == shown(item[key], decimals), (heading, row)


def test_page_legs_are_those_of_the_plan_in_json(found, page):
    data = compare_dict(found)
    tables = parsed(page).tables
    for plan in data["plans"]:
        index = plan["number"] - 1
        label = found.label(index)
        caption, table = next((c, t) for c, t in tables.items() if c.endswith(label))
        assert plan["route"] in caption
        heads, rows = table[0], table[1:-1]
        fuel = heads.index("fuel")
        centred = heads.index("roll, fins centred")
        assert [row[fuel] for row in rows] == [shown(leg["fuel_l"], 0) for leg in plan["legs"]]
        assert [row[centred] for row in rows] == [
            shown(leg["roll_centred_significant_deg"], 1) for leg in plan["legs"]
        ]
        assert table[-1][fuel] == shown(plan["totals"]["fuel_l"], 0)


def test_page_is_one_small_file_that_asks_for_nothing(page):
    assert len(page.encode()) < 1_500_000
    read = parsed(page)
    assert "link" not in read.tags
    assert "img" not in read.tags
    for name, value in read.attributes:
        if name in ("src", "href", "xlink:href", "action") and value:
            assert value.startswith("#"), (name, value)
    assert "http://" not in page.replace("http://www.w3.org/", "")


def test_every_combination_of_the_front_is_in_the_chart_table(found, page):
    table = parsed(page).tables["Fuel against comfort"]
    assert len(table) - 1 == int(found.front.sum())
    labels = {found.label(int(i)) for i in found.front_order()}
    assert labels == {row[2] for row in table[1:]}


def test_hostile_names_are_text(tmp_path):
    lines = (SAMPLES / "direct.csv").read_text(encoding="utf-8").splitlines()
    quoted = '"' + HOSTILE.replace('"', '""') + '"'
    lines[2] = quoted + "," + lines[2].split(",", 1)[1]
    way = tmp_path / "way.csv"
    way.write_text("\n".join(lines) + "\n", encoding="utf-8")
    vessel = tmp_path / "vessel.toml"
    text = (SAMPLES / "brambling.toml").read_text(encoding="utf-8")
    assert 'name = "Brambling"' in text
    vessel.write_text(
        text.replace('name = "Brambling"', "name = '''" + HOSTILE.replace("'", "") + "'''"),
        encoding="utf-8",
    )
    options = CompareOptions((FIRST_S,), (12.0,), minutes=90.0)
    found = compare_files(CompareFiles((way,), vessel, FORECASTS), options)
    plan = next(iter(found.plans.values()))
    for made in (compare_page(found), plan_page(plan)):
        assert "<script>alert" not in made
        assert "&lt;script&gt;alert" in made
        assert parsed(made).tags.count("script") == 1
    assert HOSTILE in compare_dict(found)["routes"][0]["legs"][0]


def test_nothing_allowed_is_reported_first():
    files = CompareFiles((SAMPLES / "direct.csv",), SAMPLES / "brambling.toml", FORECASTS)
    options = CompareOptions((FIRST_S + 30 * 3600.0,), (10.0,), minutes=90.0)
    found = compare_files(files, options)
    assert not found.front_open
    page = compare_page(found)
    words = compare_verdict(found).text
    assert words.startswith("Wait: the one combination looked at does not keep every limit")
    assert compare_dict(found)["verdict"]["state"] == "over"
    assert " ".join(compare_table(found).split()).index(words) < 40
    assert words[:60] in page[: page.index("<section")]
    assert compare_dict(found)["chosen"] is None


def test_nothing_covered_still_makes_a_page():
    files = CompareFiles((SAMPLES / "eastern.csv",), SAMPLES / "brambling.toml", FORECASTS)
    # Leaves so late that only the first leg is within the forecast.
    options = CompareOptions((FIRST_S + 86 * 3600.0,), (8.0,), minutes=90.0)
    found = compare_files(files, options, Wanted(map_times=2))
    assert found.names == {}
    words = "No verdict: the forecast covers no combination from end to end."
    assert words in compare_table(found)
    assert words in compare_page(found)
    assert compare_dict(found)["verdict"]["state"] == "unknown"


def test_plan_page_numbers_are_those_of_json():
    plan = plan_files(
        SAMPLES / "eastern.csv",
        SAMPLES / "brambling.toml",
        FORECASTS,
        PlanOptions(FIRST_S + 30 * 3600.0, minutes=60.0),
        map_times=2,
    )
    made = plan_page(plan)
    data = plan_dict(plan)
    # The caption goes on where a leg is not known in full.
    caption = "Legs of the passage"
    (table,) = (
        rows
        for words, rows in parsed(made).tables.items()
        if words.startswith(caption) and not words.startswith(f"{caption}: course, fins")
    )
    heads, rows = table[0], table[1:-1]
    for heading, key, decimals in (
        ("fuel", "fuel_l", 0),
        ("roll, fins active", "roll_active_significant_deg", 1),
        ("Hs", "significant_height_m", 1),
        ("sick", "motion_sickness_percent", 1),
    ):
        column = heads.index(heading)
        expected = [shown(leg[key], decimals) for leg in data["legs"]]
        assert [row[column] for row in rows] == expected, heading
    assert len(made.encode()) < 1_500_000
    for caution in data["cautions"]:
        text = caution["text"][:1].upper() + caution["text"][1:]
        assert text.split("&")[0].split("'")[0].split(">")[0][:40] in made


def run(*arguments):
    from click.testing import CliRunner

    return CliRunner().invoke(group, ["compare", *map(str, arguments)], catch_exceptions=True)


def inputs():
    arguments = [SAMPLES / "direct.csv", "--vessel", SAMPLES / "brambling.toml", "--minutes", "90"]
    for file in FORECASTS:
        arguments += ["--forecast", file]
    return arguments


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ((), "Missing: --departure TIME (or --from TIME"),
        (("--from", "2026-03-13T00:00Z"), "go together"),
        (("--from", "2026-03-14T00:00Z", "--to", "2026-03-13T00:00Z"), "before --from"),
        (("--departure", "2026-03-13T00:00Z", "--format", "html"), "needs a file"),
        (("--departure", "2026-03-13T00:00Z", "--by-leg", "--speed", "9"), "two speeds"),
        (("--departure", "2026-03-13T00:00Z", "--write-route", "x.txt"), "must end in"),
        (("--departure", "2026-03-13T00:00Z", "--open"), "--format html"),
    ],
)
def test_usage_errors(arguments, words):
    made = run(*inputs(), *arguments)
    assert made.exit_code == 2
    assert words in made.output


def test_command_writes_the_chosen_route_and_a_page(tmp_path):
    page, way = tmp_path / "page.html", tmp_path / "way.rtz"
    made = run(
        *inputs(), "--from", "2026-03-13T00:00Z", "--to", "2026-03-13T06:00Z", "--every", "6",
        "--speed", "12", "--format", "html", "-o", page, "--write-route", way,
    )  # fmt: skip
    assert made.exit_code == 0, made.output
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert 'etd="2026-03-13T00:00:00Z"' in way.read_text(encoding="utf-8")
    again = run(
        *inputs(), "--departure", "2026-03-13T00:00Z", "--speed", "12", "--write-route", way
    )
    assert "exists already" in str(again.exception)


def test_no_route_is_written_when_nothing_is_open(tmp_path):
    way = tmp_path / "way.rtz"
    made = run(*inputs(), "--departure", "2026-03-14T06:00Z", "--speed", "10", "--write-route", way)
    assert "no combination is allowed" in str(made.exception)
    assert not way.exists()
    forced = run(
        *inputs(), "--departure", "2026-03-14T06:00Z", "--speed", "10", "--write-route", way,
        "--choose", "1",
    )  # fmt: skip
    assert forced.exit_code == 0, forced.output
    assert way.exists()


def test_exit_codes():
    made = run(*inputs(), "--departure", "2026-03-14T06:00Z", "--speed", "10", "--fail-on-limit")
    assert made.exception.exit_code == 6
    made = run(*inputs(), "--departure", "2026-03-16T12:00Z", "--speed", "10", "--strict")
    assert made.exception.exit_code == 5
