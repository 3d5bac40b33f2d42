"""``passage heel`` as a user meets it: outputs agree, rules are kept, words are there."""

import csv
import io
import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from numpy.testing import assert_allclose

import passage
from passage.cli.main import group
from passage.errors import PassageError
from passage.inputs.vessel import read_vessel, vessel_to_toml
from passage.report.text.heel import heel_text
from passage.report.text.layout import Layout

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
SEA = [x for part in ("waves", "wind", "current")
       for x in ("--forecast", str(SAMPLES / f"biscay_{part}.nc"))]  # fmt: skip
# By the forecast as it is: over draws another way may be the better in the mean.
LEAVE = ["--departure", "2026-03-13T18:00Z", "--draws", "0"]


def run(*words, vessel=SAMPLES / "brambling.toml", route="eastern.csv"):
    arguments = ["heel", str(SAMPLES / route), "--vessel", str(vessel), *SEA, *LEAVE]
    return CliRunner().invoke(group, [*arguments, *map(str, words)], standalone_mode=False)


@pytest.fixture(scope="module")
def answer():
    result = run("--format", "json", "--heel-worth", 2)
    assert result.exception is None
    return json.loads(result.stdout)


def test_moments_of_every_leg_are_shown_and_add_to_its_heel(answer):
    vessel = read_vessel(SAMPLES / "brambling.toml").particulars
    for leg in answer["legs"]:
        parts = ("list", "burn", "wind", "events")
        moment = sum(leg[f"moment_{part}_t_m"] for part in parts)
        # tan(heel) = moment / (displacement x GM); the GM of the leg moves by a percent.
        heel = np.degrees(np.arctan(moment / (vessel.displacement_t * vessel.gm_m)))
        assert_allclose(leg["heel_without_deg"], heel, rtol=0.04, atol=0.01)


def test_fins_are_never_offset_at_rest(answer):
    stay = answer["legs"][2]
    assert stay["name"].startswith("stay")
    assert stay["fins_max_t_m"] == 0.0
    assert stay["fins_t_m"] == 0.0


def test_no_policy_that_keeps_the_limit_is_cheaper_than_the_advice(answer):
    best = answer["policies"][-1]
    assert best["within_limit"]
    for policy in answer["policies"][:-1]:
        if policy["within_limit"]:
            assert best["total_l"] <= policy["total_l"] + 0.02


def test_liquid_is_moved_when_heel_is_costly_and_not_when_it_is_free(answer):
    free = json.loads(run("--format", "json").stdout)
    assert sum(len(leg["transfers"]) for leg in answer["legs"]) >= 1
    assert abs(answer["legs"][0]["heel_left_deg"]) < abs(free["legs"][0]["heel_left_deg"])


def test_master_forbids_a_transfer(answer):
    before = {t["before_leg"] for leg in answer["legs"] for t in leg["transfers"]}
    words = [x for leg in before for x in ("--no-transfer", leg)]
    other = json.loads(run("--format", "json", "--heel-worth", 2, *words).stdout)
    after = {t["before_leg"] for leg in other["legs"] for t in leg["transfers"]}
    assert not before & after
    assert other["policies"][-1]["total_l"] >= answer["policies"][-1]["total_l"] - 0.02


def test_forbidding_a_missing_leg_is_reported():
    result = run("--no-transfer", 9)
    assert isinstance(result.exception, PassageError)
    assert "legs 1 to 7" in str(result.exception)


def test_csv_equals_json(answer):
    rows = list(csv.DictReader(io.StringIO(run("--format", "csv", "--heel-worth", 2).stdout)))
    assert len(rows) == len(answer["legs"])
    for row, leg in zip(rows, answer["legs"], strict=True):
        for name in ("heel_without_deg", "heel_left_deg", "fins_t_m", "cost_l", "gm_m"):
            assert_allclose(float(row[name]), leg[name], rtol=1e-9, atol=1e-12)


class _Cells(HTMLParser):
    def __init__(self):
        super().__init__()
        self.text, self.addresses = [], []

    def handle_starttag(self, tag, attrs):
        self.addresses += [v for k, v in attrs if k in ("src", "href") and v]

    def handle_data(self, data):
        self.text.append(data.strip())


def test_page_has_the_same_numbers_and_asks_the_network_for_nothing(answer, tmp_path):
    target = tmp_path / "heel.html"
    assert run("--format", "html", "--heel-worth", 2, "-o", target).exception is None
    text = target.read_text(encoding="utf-8")
    assert len(text) < 1_500_000
    page = _Cells()
    page.feed(text)
    assert all(address.startswith("#") for address in page.addresses)
    cells = [cell.replace("\u2212", "-") for cell in page.text]
    for leg in answer["legs"]:
        assert f"{leg['heel_without_worst_deg'] + 0.0:.2f}" in cells
        left = leg["steady_heel_worst_deg"]
        assert f"{left + 0.0:.2f}" in cells or abs(left) < 0.005
    assert re.search(r"<title>Brambling: heel", text)


def test_table_says_why_and_what_would_change_it():
    text = run("--heel-worth", 2, "--verbose").stdout
    for heading in ("Leg by leg", "Policies", "What would change the advice", "Cautions",
                    "Miles after which moving liquid once is cheaper than fins",
                    "Fins at work or centred"):  # fmt: skip
        assert heading in text
    assert "stability booklet" in text
    assert "Next best" in text


def test_text_fits_the_screen(monkeypatch):
    answer = passage.heel(
        SAMPLES / "eastern.csv", SAMPLES / "brambling.toml", sorted(SAMPLES.glob("biscay_*.nc")),
        departure="2026-03-13T18:00Z", heel_l_per_deg_h=2.0, draws=0,
    ).answer  # fmt: skip
    texts = {}
    for columns in (80, 100):
        for detail in ("quiet", "usual", "verbose"):
            text = texts[columns, detail] = heel_text(answer, Layout(columns, detail=detail))
            assert not [line for line in text.splitlines() if len(line) > columns]
    assert "Leg by leg" not in texts[100, "quiet"]
    assert len(texts[100, "quiet"].splitlines()) < 30
    assert "Policies" not in texts[100, "usual"]
    assert "--verbose" in texts[100, "usual"]
    assert "Left out to fit" not in heel_text(answer, Layout(80, wide=True))
    monkeypatch.setenv("COLUMNS", "80")
    assert run("--heel-worth", 2, "--quiet").stdout == texts[80, "quiet"]


def test_the_verdict_has_the_form_of_every_answer(answer):
    verdict = answer["verdict"]
    assert set(verdict) == {"state", "text", "do", "why", "price", "figures"}
    assert ", because " in verdict["do"]
    advised = next(card for card in answer["cards"] if card["advised"])
    assert verdict["figures"][0]["label"] == "As advised"
    assert abs(float(verdict["figures"][0]["value"]) - advised["total_l"]) <= 0.5


def test_vessel_without_tanks_still_gets_an_answer(tmp_path):
    vessel = read_vessel(SAMPLES / "brambling.toml")
    loading = replace(vessel.loading, burn=())
    bare = tmp_path / "bare.toml"
    bare.write_text(vessel_to_toml(replace(vessel, tanks=(), transfer=None, loading=loading)))
    result = run("--format", "json", vessel=bare)
    assert result.exception is None
    assert all(not leg["transfers"] for leg in json.loads(result.stdout)["legs"])


def test_vessel_without_fins_and_tanks_is_refused(tmp_path):
    vessel = read_vessel(SAMPLES / "brambling.toml")
    loading = replace(vessel.loading, burn=())
    bare = tmp_path / "bare.toml"
    bare.write_text(
        vessel_to_toml(replace(vessel, tanks=(), fins=(), transfer=None, loading=loading))
    )
    result = run(vessel=bare)
    assert result.exception.exit_code == 3
    assert "nothing to correct" in str(result.exception)


def test_a_leg_that_slams_for_minutes_keeps_its_offset_and_says_so(tmp_path):
    # So light forward that she slams for some minutes of the first two legs.
    vessel = tmp_path / "light_forward.toml"
    text = (SAMPLES / "brambling.toml").read_text("utf-8")
    vessel.write_text(text.replace("bow_draught_m = 2.6 ", "bow_draught_m = 2.1 "), "utf-8")
    words = ["heel", str(SAMPLES / "western.csv"), "--vessel", str(vessel),
             *SEA, "--departure", "2026-03-14T06:00Z", "--format", "json",
             *(x for leg in (1, 2, 3, 4) for x in ("--no-transfer", str(leg)))]  # fmt: skip
    answer = json.loads(CliRunner().invoke(group, words, standalone_mode=False).stdout)
    said = [c["legs"] for c in answer["cautions"] if c["code"] == "offset_interrupted"]
    assert said
    for (leg,) in said:
        assert answer["legs"][leg - 1]["fins_max_t_m"] > 0.0
        assert answer["fin_use"][leg - 1].startswith("active")
