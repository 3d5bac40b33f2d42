"""Local times on the command line: zones, today and tomorrow, the hours clocks skip or repeat."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path
from types import SimpleNamespace

import pytest
from click.testing import CliRunner

from passage.api.times import utc_seconds
from passage.api.zones import local_seconds, local_text, zone_of
from passage.cli.main import group
from passage.report.text import clocks
from passage.report.text.layout import Layout
from passage.report.text.plan import _leg_lines

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
MADRID = zone_of("Europe/Madrid")
#: 23:30 UTC, which is the next day in Madrid.
NOW = datetime(2026, 3, 13, 23, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("2026-03-14 06:00", "2026-03-14T05:00Z"),
        ("2026-07-14T06:00", "2026-07-14T04:00Z"),
        ("today 6:00", "2026-03-14T05:00Z"),
        ("Tomorrow 06:00", "2026-03-15T05:00Z"),
    ],
)
def test_a_local_time_is_the_utc_of_its_zone(text, utc):
    seconds = local_seconds(text, MADRID, NOW)
    assert seconds == utc_seconds(utc)
    assert local_text(seconds, MADRID).split()[4] in ("06:00",)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2026-03-29 02:30", "skip that hour"),
        ("2026-10-25 02:30", "show that hour twice"),
        ("2026-02-30 06:00", "is not a time"),
        ("tomorrow 25:00", "hours go to 23"),
    ],
)
def test_skipped_and_repeated_local_hours_are_refused(text, words):
    with pytest.raises(ValueError, match=words):
        local_seconds(text, MADRID, NOW)


def test_other_forms_are_left_to_utc():
    assert local_seconds("2026-03-14T06:00Z", MADRID) is None


def run(*words):
    files = [x for p in ("waves", "wind", "current")
             for x in ("--forecast", str(SAMPLES / f"biscay_{p}.nc"))]  # fmt: skip
    words = ["plan", str(SAMPLES / "western.csv"), "--vessel", str(SAMPLES / "brambling.toml"),
             *files, "--format", "json", *words]  # fmt: skip
    return CliRunner().invoke(group, words, standalone_mode=False)


def test_one_departure_given_locally_and_in_utc_is_one_plan():
    local = run("--departure", "2026-03-14 07:00", "--zone", "Europe/Madrid")
    plan, other = (
        json.loads(local.stdout),
        json.loads(run("--departure", "2026-03-14T06:00Z").stdout),
    )
    assert plan["legs"] == other["legs"]
    note = next(n for n in plan["notes"] if "Europe/Madrid" in n)
    assert "leaves Sat 14 Mar 2026 07:00 (UTC+01:00)" in note
    assert "arrives Sun 15 Mar 2026" in note


def test_a_time_without_zone_says_how_to_give_one():
    assert "--zone" in str(run("--departure", "tomorrow 06:00").exception)


def test_a_misspelt_zone_names_the_likeliest():
    wrong = run("--departure", "tomorrow 06:00", "--zone", "Europe/Madird")
    assert "Did you mean Europe/Madrid?" in str(wrong.exception)


def test_table_and_sheet_have_local_times_beside_utc(tmp_path):
    files = [x for p in ("waves", "wind", "current")
             for x in ("--forecast", str(SAMPLES / f"biscay_{p}.nc"))]  # fmt: skip
    words = ["plan", str(SAMPLES / "western.csv"), "--vessel", str(SAMPLES / "brambling.toml"),
             *files, "--departure", "2026-03-14 06:00", "--zone", "Europe/Madrid", "--draws",
             "0"]  # fmt: skip
    table = CliRunner().invoke(group, words, standalone_mode=False).stdout
    first = next(line for line in table.splitlines() if line.lstrip().startswith("1  "))
    assert "03-14 05:00" in first
    assert "03-14 06:00" in first
    assert "leaves local: local time, Europe/Madrid" in " ".join(table.split())
    sheet = tmp_path / "sheet.html"
    made = CliRunner().invoke(group, [*words, "-o", str(sheet), "--format", "sheet"],
                              standalone_mode=False)  # fmt: skip
    assert made.exception is None
    assert "Local time (Europe/Madrid): leaves Sat 14 Mar 2026 06:00" in sheet.read_text("utf-8")


def test_every_time_of_a_report_has_the_clocks_asked_for_and_none_without():
    from passage.report.text.verdict import when

    late = utc_seconds("2026-05-20T23:00Z")
    assert when(late) == "Wed 20 May 23:00Z"
    with clocks.shown_by([zone_of("Europe/London"), MADRID]):
        assert when(late) == "Wed 20 May 23:00Z (Thu 00:00 BST, Thu 01:00 CEST)"
        assert when(late - 7200.0) == "Wed 20 May 21:00Z (22:00 BST, 23:00 CEST)"
        assert clocks.local_short(late) == "05-21 00:00"
        assert clocks.local_short(late, arriving=True) == "05-21 01:00"
    with clocks.shown_by([zone_of("Asia/Dubai")]):
        assert when(late) == "Wed 20 May 23:00Z (Thu 03:00 UTC+04)"
    assert when(late) == "Wed 20 May 23:00Z"


def test_a_clock_change_on_passage_is_reported_with_its_minute():
    leave, arrive = utc_seconds("2026-03-28T12:00Z"), utc_seconds("2026-03-29T18:00Z")
    with clocks.shown_by([MADRID]):
        words = clocks.local_words(leave, arrive)
        assert "leaves Sat 28 Mar 2026 13:00 (UTC+01:00)" in words
        assert "arrives Sun 29 Mar 2026 20:00 (UTC+02:00)" in words
        assert "at 2026-03-29T01:00Z: from CET to CEST" in words
        assert "change" not in clocks.local_words(arrive, arrive + 86400.0)
        assert clocks.local_hours(6) == "07 or 08"


def test_a_compared_passage_and_its_arrival_have_local_times(tmp_path):
    files = [x for p in ("waves", "wind", "current")
             for x in ("--forecast", str(SAMPLES / f"biscay_{p}.nc"))]  # fmt: skip
    page = tmp_path / "c.html"
    words = ["compare", str(SAMPLES / "western.csv"), "--vessel", str(SAMPLES / "brambling.toml"),
             *files, "--departure", "2026-03-14 06:00", "--zone", "Europe/London", "--zone",
             "Europe/Madrid", "--arrive-by", "2026-03-16 06:00", "--draws", "0"]  # fmt: skip
    made = CliRunner().invoke(group, words, standalone_mode=False)
    text = " ".join(made.stdout.split())
    assert "Sat 14 Mar 06:00Z (06:00 GMT, 07:00 CET)" in text
    assert "leaves local: local time, Europe/London" in text
    made = CliRunner().invoke(group, [*words, "-o", str(page)], standalone_mode=False)
    assert made.exception is None
    html = page.read_text("utf-8")
    assert "local time, Europe/London" in html
    assert "arrives local" in html
    made = CliRunner().invoke(group, [*words, "--format", "json"], standalone_mode=False)
    found = json.loads(made.stdout)
    assert found["constraints"]["arrive_by_utc"] == "2026-03-16T05:00Z"
    assert found["provenance"]["zone"] == "Europe/London, Europe/Madrid"
    assert found["combinations"][0]["departure_utc"] == "2026-03-14T06:00Z"


def test_local_times_of_a_partly_known_leg_are_not_given_as_its_own():
    leg = {"leg": 1, "to": "B", "etd_utc": "2026-05-20T08:00Z", "known_percent": 60.0,
           "coverage": "partial", "fuel_l": 100.0}  # fmt: skip
    plan = SimpleNamespace(legs=(leg,), tanks=(), fully_covered=False, provenance={})
    with clocks.shown_by([MADRID]):
        line = " ".join(_leg_lines(plan, Layout()))
    assert "05-20 10:00" in line
    assert "~05-20" not in line
    assert "~100" in line
