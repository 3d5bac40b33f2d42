"""A standing list over a season: priced as a plan and as `passage heel` would."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from passage.errors import PassageError
from passage.inputs.vessel import read_vessel, update_vessel_text
from passage.planning.heel.build import HeelPoints, build_problem
from passage.planning.plan.plan import PlanOptions, plan_files
from passage.planning.season.calendar import CALM
from passage.planning.season.departures import OUTSIDE, WITHIN
from passage.planning.season.heel import TransferPrice, transfer_price
from passage.planning.season.sails import left_shares, sail_of
from passage.planning.season.season import run_season
from passage.planning.season.setup import SeasonFiles, SeasonOptions, setup
from passage.planning.season.standing import (
    KEPT,
    Ballast,
    Variant,
    sample_step,
    variants,
    with_ballast,
    with_list,
)
from passage.planning.season.standing_price import (
    WORDS,
    StandingPrices,
    _breakeven,
    compared_with_ballast,
    price_standing,
)
from passage.report.text.season_list import headline, row
from passage.report.text.verdict import number

SAMPLES = Path(__file__).parents[3] / "sample_forecasts"
VESSEL = SAMPLES / "brambling.toml"
FORECASTS = [SAMPLES / f"biscay_{name}.nc" for name in ("waves", "wind", "current")]
FILES = SeasonFiles((str(SAMPLES / "direct.csv"),), str(VESSEL), tuple(map(str, FORECASTS)))
LEAVE = float(np.datetime64("2026-03-14T06:00", "s").astype(float))
BALLAST = Ballast(4.0, -3.0, -1.5)
LIST_DEG = 2.2


@pytest.fixture(scope="module")
def season(tmp_path_factory):
    options = SeasonOptions(LEAVE, LEAVE, 6.0, (12.0,), lists_deg=(LIST_DEG,), ballast=BALLAST)
    return run_season(FILES, options, tmp_path_factory.mktemp("standing") / "run")


def vessel_file(folder, list_deg, ballast=None):
    """The sample's vessel file with another list, and with a weight aboard, by its own numbers."""
    vessel = with_list(read_vessel(VESSEL), list_deg)
    changes = {}
    if ballast is not None:
        vessel = with_ballast(vessel, ballast)
        changes = {
            ("vessel", "displacement_t"): float(vessel.particulars.displacement_t),
            ("vessel", "gm_m"): float(vessel.particulars.gm_m),
            ("roll", "natural_period_s"): float(vessel.roll.natural_period_s),
        }
    changes["loading", "list_deg"] = float(vessel.loading.list_deg)
    path = folder / "listed.toml"
    path.write_text(update_vessel_text(VESSEL.read_text("utf-8"), changes), encoding="utf-8")
    return path


def plan_l(folder, list_deg, heel="fins", ballast=None):
    """Fuel of the plan of the season's one departure. [l]"""
    path = vessel_file(folder, list_deg, ballast)
    options = PlanOptions(LEAVE, speed_kn=12.0, heel=heel)
    return plan_files(SAMPLES / "direct.csv", path, FORECASTS, options).totals["fuel_l"]


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    """Upright, the fins holding what is beyond the limit."""
    return plan_l(tmp_path_factory.mktemp("upright"), 0.0, "limit")


@pytest.mark.parametrize("way", ["fins", "limit", "leave", "permanent", "upright"])
def test_a_way_costs_what_plans_of_it_cost(season, base, tmp_path, way):
    """One departure: the fuel of each way over upright against two plans of the same passage."""
    one = season.standing.lists[0]
    if way == "upright":
        # Sized for the passage, and so no dearer than all of the list moved.
        assert one.ways["transfer"].mean_l <= one.transfer.litres + 1e-3
        assert sum(one.left.values()) == pytest.approx(100.0, rel=1e-9)
        assert season.numbers["fuel_l"][0, 0] == pytest.approx(
            plan_l(tmp_path, read_vessel(VESSEL).loading.list_deg), rel=1e-3
        )
        return
    planned = plan_l(
        tmp_path,
        LIST_DEG,
        "limit" if way == "permanent" else way,
        BALLAST if way == "permanent" else None,
    )
    # The plan follows GM through the burn, a season holds it: one or two per cent of what the
    # fins burn for the heel, on a passage of some 8,000 l.
    assert one.ways[way].mean_l == pytest.approx(planned - base, rel=0.03, abs=4.0)


def test_the_transfer_costs_what_heel_charges_for_it():
    """Its two prices are those of the problem that `passage heel` solves."""
    vessel = read_vessel(VESSEL)
    n = 3
    points = HeelPoints(
        names=("a",), leg=np.zeros(n, int), hours=np.ones(n), speed_kn=np.full(n, 12.0),
        fuel_l=np.full(n, 200.0), wind_moment_t_m=np.zeros(n), roll_significant_deg=np.zeros(n),
        fin_l_per_moment2=np.zeros(n), fin_moment_max_t_m=np.ones(n), length_m=np.full(n, 22_000.0),
    )  # fmt: skip
    problem = build_problem(vessel, points)
    price = transfer_price(vessel)
    amount = float(price.words.split(" m3")[0])
    expected = problem.transfer_fixed_l + problem.pump_l_per_m3 * amount
    # The words give the amount to a tenth of a cubic metre.
    assert price.litres == pytest.approx(expected, abs=0.051 * problem.pump_l_per_m3)


def test_prices_given_go_before_those_of_the_file():
    vessel = read_vessel(VESSEL)
    twice = transfer_price(vessel, crew_cost_per_hour=2.0 * vessel.money.crew_cost_per_hour)
    none = transfer_price(vessel, crew_cost_per_hour=0.0)
    once = transfer_price(vessel)
    assert twice.litres - once.litres == pytest.approx(once.litres - none.litres, rel=1e-6)


def test_ballast_moves_list_weight_gm_and_period():
    vessel = with_list(read_vessel(VESSEL), 1.0)
    heavy = with_ballast(vessel, Ballast(5.5, -3.0, -2.0))
    hull, after = vessel.particulars, heavy.particulars
    assert after.displacement_t == pytest.approx(555.5, rel=1e-6)
    # 550 t x 1 m + 5.5 t x 2 m, over 555.5 t.
    assert after.gm_m == pytest.approx(561.0 / 555.5, rel=1e-6)
    assert np.tan(np.radians(heavy.loading.list_deg)) == pytest.approx(
        (550.0 * np.tan(np.radians(1.0)) - 16.5) / 561.0, rel=1e-6
    )
    ratio = heavy.roll.natural_period_s / vessel.roll.natural_period_s
    assert ratio == pytest.approx(np.sqrt(hull.gm_m / after.gm_m), rel=1e-6)
    slack = with_ballast(vessel, Ballast(5.5, -3.0, -2.0, free_surface_t_m=11.0))
    assert slack.particulars.gm_m == pytest.approx(550.0 / 555.5, rel=1e-6)


def test_mirrored_ballast_mirrors_the_list():
    vessel = read_vessel(VESSEL)
    one = with_ballast(with_list(vessel, 1.5), Ballast(2.0, -3.0, -1.0))
    other = with_ballast(with_list(vessel, -1.5), Ballast(2.0, 3.0, -1.0))
    assert one.loading.list_deg == pytest.approx(-other.loading.list_deg, rel=1e-6)


def test_ballast_that_leaves_no_gm_is_refused():
    options = SeasonOptions(LEAVE, LEAVE, lists_deg=(1.0,), ballast=Ballast(60.0, 0.0, 12.0))
    with pytest.raises(PassageError, match="leaves no GM"):
        setup(FILES, options)


def test_ways_and_samples():
    assert variants((), BALLAST) == ()
    ways = variants((1.0, 2.0), None)
    assert [w.way for w in ways] == ["upright", *(["fins", "leave", "limit"] * 2)]
    assert [w.heel for w in ways[:4]] == ["limit", "fins", "leave", "limit"]
    # An owner without a limit of heel: the fins hold all of it, and there is no such way.
    ways = variants((1.0,), BALLAST, limited=False)
    assert [(w.way, w.heel) for w in ways] == [
        ("upright", "fins"), ("fins", "fins"), ("leave", "leave"), ("permanent", "fins"),
    ]  # fmt: skip
    assert sample_step(30_000, 0, 6.0) == 1
    # A month of short steps: one departure in 18 h; a fortnight: all, so that there are enough.
    assert [sample_step(n, 5, every) for n, every in ((124, 6.0), (744, 1.0), (56, 6.0))] == [
        3,
        19,
        1,
    ]
    assert sample_step(100, 5, 24.0) == 1
    for count in (500, 5_000, 29_000, 200_000):
        step = sample_step(count, 13, 6.0)
        assert count // step >= 100
        # Six-hourly departures: an odd step comes round to every hour of leaving.
        assert step % 2 == 1


def priced(prices, seed=1, n=500):
    """Known litres: fins 60, to the limit 20 to 40, ballast 12, on one passage."""
    return priced_all(prices, seed, n).lists[0]


def priced_all(prices, seed=1, n=500, ballast=BALLAST, ballast_l=1012.0):
    """The same with all that is printed beside it."""
    rng = np.random.default_rng(seed)
    vessel = with_list(read_vessel(VESSEL), 1.5)
    ways = variants((1.5,), BALLAST)
    fuel = {"upright": 1000.0, "leave": 990.0, "permanent": ballast_l, "fins": 1060.0,
            "limit": 1030.0}  # fmt: skip
    rows = {name: np.zeros((1, len(ways), n)) for name in KEPT}
    for i, way in enumerate(ways):
        rows["fuel_l"][0, i] = fuel[way.way] + (way.way == "limit") * rng.uniform(-10, 10, n)
    rows["within_limits"] = np.ones((1, len(ways), n), np.int8)
    rows[CALM] += rng.random(n)
    time = LEAVE + 86400.0 * np.arange(n)
    return price_standing(
        vessel, ways, rows, time, [{"route": "a", "speed_kn": 12.0}], lists_deg=(1.5,),
        ballast=ballast, prices=prices,
    )  # fmt: skip


def answer(within, ballast=BALLAST):
    """The sentence for these shares within the limits by way. [%]"""
    standing = priced_all(StandingPrices(passages=30.0), n=60, ballast=ballast)
    one = standing.lists[0]
    ways = {
        name: replace(way, within_percent=within.get(name, 0.0)) for name, way in one.ways.items()
    }
    return headline(standing, replace(one, ways=ways)), one


def test_the_answer_gives_the_share_within_limits_of_the_cure_it_speaks_of():
    """Each share follows the name of its own way, the list left included."""
    text, one = answer(
        {"fins": 75.0, "limit": 77.0, "transfer": 58.0, "permanent": 68.0, "leave": 3.0}
    )
    first, second, third, _ = one.order
    shares = {"transfer": 58, "permanent": 68}
    assert third == "limit"
    # Not called the cheapest without the share in the same breath.
    rarely = f"cheapest, but within the limits on only {shares[first]} % of departures, is "
    words = text.split(f"{rarely}{WORDS[first]}")[1]
    assert f"upright with 30 passages; {WORDS[second]}" in words
    assert f"more, within the limits on {shares[second]} %." in words
    assert (
        "Most often within the limits is fins down to the limit, on 77 % of departures, for"
        in words
    )
    more = one.ways[third].year_mean_l - one.ways[first].year_mean_l
    assert f"for {number(more)} l (" in words
    left = text.split("If it is left")[1]
    assert "within the limits on 3 % of departures" in left
    assert left.count("%") == 1


def test_the_sentence_and_the_table_give_the_same_litres():
    for passages in (30.0, None):
        standing = priced_all(StandingPrices(passages=passages), n=60)
        one = standing.lists[0]
        best = one.ways[one.order[0]]
        cells = row(standing, one, best)
        assert cells[1].split()[0] == f"{best.mean_l:.0f}"
        assert not passages or cells[3].split()[0] == f"{best.year_mean_l:.0f}"
        assert f"{best.year_mean_l:.0f} l" in headline(standing, one)


def test_ballast_whose_price_is_left_out_is_named_so():
    """Without passages a year its price cannot be shared out, and the sentence says so."""
    prices = StandingPrices(fuel_price_per_l=2.0, ballast_cost=4000.0)
    for passages, left_out in ((None, True), (30.0, False)):
        text = headline(standing := priced_all(replace(prices, passages=passages), n=60),
                        standing.lists[0])  # fmt: skip
        assert ("permanent ballast (its own price left out)" in text) == left_out


@pytest.mark.parametrize("passages", [30.0, None])
def test_a_lead_within_the_spread_is_not_decided(passages):
    """Fins 20 to 40 l; ballast of 30 l is within their spread, one of 12 l is not."""
    for litres, open_ in ((1012.0, False), (1030.0, True)):
        standing = priced_all(
            StandingPrices(passages=passages, crew_cost_per_hour=500.0), n=60, ballast_l=litres
        )
        one = standing.lists[0]
        assert {*one.order[:2]} == {"permanent", "limit"}
        assert (one.order[1] in one.undecided) == open_
        assert ("not decided between" in headline(standing, one)) == open_
        assert ("cheapest is" in headline(standing, one)) == (not open_)


def test_a_transfer_is_sized_for_each_departure():
    """It leaves the list that keeps the limits, then the one of least litres; no list is moved to
    that it cannot reach.
    """
    ways = variants((1.5,), None, left_deg=(-1.0, 1.0))
    at = {way: i for i, way in enumerate(ways)}
    fuel = np.full((len(ways), 3), 100.0)
    within = np.full((len(ways), 3), WITHIN, np.int8)
    minus, plus, none = (at[w] for w in (Variant("moved", -1.0), Variant("moved", 1.0),
                                         Variant("upright", 0.0)))  # fmt: skip
    fuel[plus] = 110.0, 90.0, 110.0
    within[none] = WITHIN, WITHIN, OUTSIDE
    fuel[minus] = 0.0
    rows = {"fuel_l": fuel, "within_limits": within}
    known = np.ones(3, bool)
    sail = sail_of("transfer", rows, known, at, 1.5, {none: 17.0, plus: 16.0})
    assert list(sail.way) == [none, plus, plus]
    assert list(sail.litres) == [17.0, 6.0, 26.0]
    assert left_shares(sail, ways) == pytest.approx({0.0: 100.0 / 3.0, 1.0: 200.0 / 3.0}, rel=1e-12)
    assert sail_of("transfer", rows, known, at, 1.5, {}) is None


def test_a_transfer_that_leaves_half_the_list_moves_half_the_moment():
    vessel = with_list(read_vessel(VESSEL), 2.0)
    half = float(np.degrees(np.arctan(0.5 * np.tan(np.radians(2.0)))))
    whole, part = (transfer_price(vessel, left_deg=left) for left in (0.0, half))
    amounts = [float(price.words.split(" m3")[0]) for price in (whole, part)]
    assert amounts[1] == pytest.approx(0.5 * amounts[0], abs=0.08)
    assert part.litres < whole.litres


def test_a_large_list_and_ballast_outside_the_hull():
    standing = priced_all(StandingPrices(), n=60)
    one = replace(standing.lists[0], list_deg=7.0)
    assert "find the cause before anything" in headline(standing, one)
    assert "find the cause" not in headline(standing, standing.lists[0])
    options = SeasonOptions(LEAVE, LEAVE, lists_deg=(1.0,), ballast=Ballast(4.0, -30.0, -1.0))
    with pytest.raises(PassageError, match="outside the hull: half her beam"):
        setup(FILES, options)


def test_the_answer_says_where_no_cure_keeps_the_limits():
    text, _ = answer({})
    assert "No cure is within the limits on any departure." in text
    assert "Most often" not in text
    text, _ = answer({"fins": 12.0, "transfer": 12.0, "permanent": 12.0})
    assert "No cure is within the limits on more than 12 % of departures." in text


@pytest.mark.parametrize(
    ("weight_t", "y_m", "list_deg", "words"),
    [
        # 550 t with a GM of 1 m: 14.40 t m at 1.5 deg, and 550 + 1.5 x weight of stiffness after.
        (
            4.0,
            3.0,
            2.72,
            "The ballast lies on the side of the list: with it she lists 2.7 deg to starboard.",
        ),
        (8.0, -3.0, -0.98, "takes out more than the list: with it she lists 1 deg to port."),
        (4.0, -3.0, 0.25, ""),
        (4.8, -3.0, 0.0, ""),
    ],
)
def test_a_ballast_that_lists_her_more_or_the_other_way_is_named(weight_t, y_m, list_deg, words):
    text, one = answer({}, Ballast(weight_t, y_m, -1.5))
    assert one.ballast_list_deg == pytest.approx(list_deg, abs=0.006)
    assert words in text
    assert ("with it she lists" in text) == bool(words)


def test_breakeven_by_hand():
    """1,000 a year at 2 a litre are 500 l; ballast saves some 18 l a passage on fins."""
    prices = StandingPrices(
        passages=40.0, fuel_price_per_l=2.0, crew_cost_per_hour=0.0, ballast_cost=10_000.0
    )
    one = priced(prices)
    fins, ballast = one.ways["limit"], one.ways["permanent"]
    assert ballast.fixed_l == pytest.approx(500.0, rel=1e-6)
    assert one.breakeven["limit"] == pytest.approx(500.0 / (fins.mean_l - ballast.mean_l), rel=1e-6)
    n = one.breakeven["limit"]
    again = priced(replace(prices, passages=n))
    # At the break-even both take the same a year.
    assert again.ways["limit"].year_mean_l == pytest.approx(
        again.ways["permanent"].year_mean_l, rel=1e-6
    )
    more = priced(replace(prices, passages=1.2 * n))
    assert more.ways["permanent"].year_mean_l < more.ways["limit"].year_mean_l
    assert fins.passage_l[0] < fins.passage_l[1] < fins.passage_l[2]
    assert fins.year_l[0] < fins.year_mean_l < fins.year_l[2]


def test_breakeven_of_nine_years_in_ten_by_other_draws():
    """It asks for more passages than the mean, and other draws of that many agree."""
    prices = StandingPrices(fuel_price_per_l=2.0, crew_cost_per_hour=0.0, ballast_cost=10_000.0)
    one = priced(prices)
    sure = round(one.breakeven_sure["limit"])
    assert one.breakeven["limit"] < sure < 1.25 * one.breakeven["limit"]
    saved = one.ways["limit"].mean_l - one.ways["permanent"].mean_l
    rng = np.random.default_rng(23)
    for passages, low, high in ((sure, 0.85, 0.96), (round(0.9 * sure), 0.0, 0.75)):
        years = saved * passages + rng.uniform(-10, 10, (4000, passages)).sum(axis=1)
        assert low < np.mean(years > one.ways["permanent"].fixed_l) < high


def test_ballast_is_weighed_against_the_better_way_with_the_fins():
    """The cheaper one, unless it keeps the limits clearly less often; without a limit the other."""
    one = priced(StandingPrices())
    for limit_percent, name in ((90.0, "limit"), (88.0, "limit"), (80.0, "fins")):
        ways = one.ways | {
            "fins": replace(one.ways["fins"], within_percent=90.0),
            "limit": replace(one.ways["limit"], within_percent=limit_percent),
        }
        assert compared_with_ballast(ways) == (name, "transfer")
    ways = one.ways | {"limit": replace(one.ways["limit"], why_not="no limit")}
    assert compared_with_ballast(ways) == ("fins", "transfer")


def test_ballast_costlier_than_fins_never_pays():
    one = priced(StandingPrices())
    ways = {**one.ways, "permanent": replace(one.ways["permanent"], mean_l=99.0)}
    assert _breakeven(ways)["limit"] is None


def test_shares_of_the_cheapest_add_up():
    one = priced(StandingPrices())
    shares = [w.cheapest_percent for w in one.ways.values() if w.cheapest_percent is not None]
    assert sum(shares) == pytest.approx(100.0, rel=1e-6)
    assert one.ways["leave"].cheapest_percent is None


def test_a_way_that_is_ruled_out_says_why():
    one = priced(StandingPrices(ballast_cost=100.0))
    assert isinstance(one.transfer, TransferPrice)
    vessel = replace(with_list(read_vessel(VESSEL), 1.5), transfer=None)
    price = transfer_price(vessel)
    assert price.litres is None
    assert "[transfer]" in price.words
    assert Variant("leave", 1.0).heel == "leave"
