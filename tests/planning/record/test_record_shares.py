"""Bands and trend from a record: they hold what they state, and find what was put in."""

import numpy as np
import pytest
from record_maker import entry, leg, record

from passage.planning.record.shares import band_of, shares_of
from passage.planning.record.summary import summarise


@pytest.mark.parametrize("count", [8, 14, 30])
@pytest.mark.parametrize(("bias", "spread"), [(0.0, 0.02), (0.1, 0.05), (-0.2, 0.12)])
def test_bands_hold_eighty_percent_of_new_passages(count, bias, spread):
    """Student's interval is exact for normal shares: 2,000 records, one new passage each."""
    rng = np.random.default_rng(count)
    shares = bias + spread * rng.standard_normal((2000, count + 1))
    held = 0
    for past in shares:
        band = band_of(past[:-1])
        held += np.log(band.low) <= past[-1] <= np.log(band.high)
    # Two standard errors of a count of 2,000 are 1.8 %.
    assert 100.0 * held / 2000 == pytest.approx(80.0, abs=3.0)


def test_the_bias_converges_with_the_passages():
    rng = np.random.default_rng(4)
    share = 0.06 + 0.05 * rng.standard_normal(400)
    off = [abs(np.log(band_of(share[:n]).middle) - 0.06) for n in (10, 100, 400)]
    for n, miss in zip((10, 100, 400), off, strict=True):
        assert miss < 3.0 * 0.05 / np.sqrt(n)


def test_the_forecasts_share_is_not_in_the_models():
    kept = record([entry(3 * at, fuel=1.02) for at in range(9)])
    share = shares_of(kept, "Brambling", "fuel", "l", "f").share
    # 1,020 logged on 900 planned, of which the forecast took 100.
    assert share == pytest.approx(np.log(1.02), rel=1e-6)
    found = summarise(kept)
    assert found.whole["fuel"].mean == pytest.approx(1020.0 / 900.0 - 1.0, rel=1e-6)
    assert found.bands["fuel"].middle == pytest.approx(1.02, rel=1e-6)


def test_passages_of_other_numbers_are_counted_apart():
    kept = record(
        [
            *(entry(3 * at, fuel=1.3, numbers=("old", "r")) for at in range(5)),
            *(entry(30 + 3 * at, fuel=1.01) for at in range(4)),
            entry(60, vessel="Whimbrel"),
        ]
    )
    found = shares_of(kept, "Brambling", "fuel", "l", None)
    assert found.share == pytest.approx(np.full(4, np.log(1.01)), rel=1e-6)
    assert found.otherwise == 5
    assert shares_of(kept, "Brambling", "fuel", "l", "other").share.size == 0


def test_fewer_than_three_give_no_band_and_fewer_than_eight_a_part():
    assert band_of(np.array([0.01, 0.02])) is None
    assert band_of(np.array([0.01, 0.02, 0.03, 0.01])).weight == 0.5
    assert band_of(np.linspace(0.0, 0.1, 8)).weight == 1.0


def test_groups_tell_kinds_of_legs_apart():
    legs = [
        leg(1, fuel=1.10, significant_height_m=0.6, encounter_angle_deg=20.0, speed_kn=11.9,
            fins_active_share=1.0),
        leg(2, fuel=0.95, significant_height_m=3.4, encounter_angle_deg=170.0, speed_kn=9.0,
            fins_active_share=0.0),
    ]  # fmt: skip
    found = summarise(record([entry(0, legs=legs), entry(5, legs=legs)]))
    by_name = {(one.kind, one.name): one.model["fuel"] for one in found.groups}
    for kind, name in (("sea", "0 to 1 m"), ("heading", "following"), ("speed", "10 to 12 kn"),
                       ("fins", "active")):  # fmt: skip
        assert by_name[kind, name].mean == pytest.approx(0.10, rel=1e-6)
        assert by_name[kind, name].count == 2
    for kind, name in (("sea", "over 3 m"), ("heading", "head"), ("speed", "8 to 10 kn"),
                       ("fins", "centred")):  # fmt: skip
        assert by_name[kind, name].mean == pytest.approx(-0.05, rel=1e-6)


def test_fouling_is_found_as_it_grows():
    """1 % a month since the hull was cleaned, cleaned again half way."""
    entries = []
    for at in range(12):
        months = 0.5 + (at % 6)
        day = (0 if at < 6 else 200) + 30.4375 * months
        date = "2023-11-14" if at < 6 else "2024-06-01"
        cleaned = date if at % 6 == 0 else None  # a date holds until another is given
        entries.append(entry(day, fuel=float(np.exp(0.01 * months)), cleaned=cleaned))
    trend = summarise(record(entries)).trend
    assert trend.since_cleaned
    assert trend.per_month == pytest.approx(0.01, abs=3e-4)


def test_odds_kept_are_counted():
    kept = record(
        [
            entry(3 * at, fuel_p10_l=900.0, fuel_p90_l=1050.0, roll_odds_percent=95.0,
                  roll_limit_kept=float(at > 0), fuel=1.0 if at else 1.2)
            for at in range(10)
        ]
    )  # fmt: skip
    found = {one.name: one for one in summarise(kept).kept}
    fuel = found["fuel within 10 to 90 %"]
    assert (fuel.count, fuel.stated_percent, fuel.kept_percent) == (10, 80.0, 90.0)
    roll = found["roll limit, odds of 90 to 100 %"]
    assert (roll.stated_percent, roll.kept_percent) == (95.0, 90.0)
