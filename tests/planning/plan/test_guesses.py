"""Estimated particulars widen the bands, are named, and never clear a transfer."""

from __future__ import annotations

from pathlib import Path

import pytest

import passage
from passage.errors import VesselError
from passage.planning.plan.guesses import REMEDIES

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
FORECASTS = [SAMPLES / f"biscay_{part}.nc" for part in ("waves", "wind", "current")]
LEAVE = "2026-03-14T06:00Z"

HULL = """
[vessel]
name = "Evening"
length_waterline_m = 44.0
beam_waterline_m = 9.0
draught_m = 2.8
"""
TANKS = """
[[tanks]]
name = "port"
holds = "fuel"
capacity_m3 = 18.0
content_m3 = 13.0
y_m = -2.8
length_m = 6.0
breadth_m = 1.6
[[tanks]]
name = "starboard"
holds = "fuel"
capacity_m3 = 18.0
content_m3 = 15.0
y_m = 2.8
length_m = 6.0
breadth_m = 1.6
[transfer]
rate_m3_per_h = 12.0
pump_kw = 3.0
crew_minutes_per_transfer = 25.0
max_roll_significant_deg = 6.0
[loading]
list_deg = 1.5
"""
REST = """
[roll]
natural_period_s = 7.8
[[fins]]
area_m2 = 2.0
[propulsion]
speed_kn = [8.0, 12.0, 14.0]
fuel_l_per_h = [62.0, 205.0, 340.0]
"""
#: What the file above is estimated to have, written down: nothing of it is in doubt then.
SURE = """
displacement_t = {displacement!r}
gm_m = {gm!r}
"""


def written(tmp_path, text, name="mine.toml"):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return path


def planned(vessel):
    return passage.plan(SAMPLES / "western.csv", vessel, FORECASTS, departure=LEAVE, map_times=0)


def test_the_same_numbers_written_down_give_the_same_roll_in_a_narrower_band(tmp_path):
    guessed = passage.read_vessel(written(tmp_path, HULL + REST))
    sure = SURE.format(displacement=guessed.particulars.displacement_t, gm=guessed.particulars.gm_m)
    known = passage.read_vessel(written(tmp_path, HULL + sure + REST, "known.toml"))
    one, other = planned(guessed).answer, planned(known).answer
    for least, most in zip(one.legs, other.legs, strict=True):
        for key in ("roll_active_rms_deg", "fuel_l"):
            assert least[key] == pytest.approx(most[key], rel=1e-9)
        width = least["roll_active_high_rms_deg"] - least["roll_active_low_rms_deg"]
        narrower = most["roll_active_high_rms_deg"] - most["roll_active_low_rms_deg"]
        assert width > narrower
        assert least["roll_active_low_rms_deg"] <= least["roll_active_rms_deg"]
    assert one.totals["fuel_low_l"] < one.totals["fuel_l"] < one.totals["fuel_high_l"]


def test_the_plan_names_three_numbers_worth_looking_up(tmp_path):
    plan = planned(written(tmp_path, HULL + REST)).answer
    text = next(c.text for c in plan.cautions if c.code == "particulars_estimated")
    assert sum(remedy in text for remedy in REMEDIES.values()) == 3
    assert "would narrow" in text


def test_a_full_file_says_nothing_of_it():
    plan = planned(SAMPLES / "brambling.toml").answer
    assert "particulars_estimated" not in {c.code for c in plan.cautions}


def test_an_estimated_gm_allows_no_transfer(tmp_path):
    vessel = written(tmp_path, HULL + REST + TANKS)
    answer = passage.heel(
        SAMPLES / "western.csv", vessel, FORECASTS, departure=LEAVE, seconds=2.0
    ).answer
    assert not answer.plan.comparison.plan.moves
    text = next(c.text for c in answer.cautions if c.code == "gm_estimated")
    assert "stability booklet" in text
    card = next(card for card in answer.cards if card.way == "move liquid")
    assert "estimate" in card.why_not
    moves = tmp_path / "moves.csv"
    moves.write_text("before_leg,from,to,m3\n1,starboard,port,1.0\n", encoding="utf-8")
    with pytest.raises(VesselError, match="gm_m is estimated"):
        passage.plan(SAMPLES / "western.csv", vessel, FORECASTS, departure=LEAVE, moves=moves)
