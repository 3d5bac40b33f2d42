"""The record of passages: nothing lost, nothing doubled, whole after a kill."""

import multiprocessing
import os
import signal
import subprocess
import sys
import time

import pytest
from record_maker import entry, leg

from passage.errors import LogError
from passage.inputs.records.record_file import add_to_record, number, read_record


def test_what_is_added_is_read_back(tmp_path):
    path = tmp_path / "record.csv"
    one = entry(0, fuel=1.03, legs=[leg(1, fuel=1.02, speed_kn=11.5), leg(2)])
    made, replaced = add_to_record(path, one)
    assert replaced == 0
    again = read_record(path)
    assert again.passages == made.passages
    assert [row["part"] for row in again.passages[0].rows] == ["all", "leg 1", "leg 2"]
    assert number(again.passages[0].legs[0], "speed_kn") == 11.5
    assert again.passages[0].ages == ()


def test_passages_are_kept_in_order_of_time_and_the_same_one_is_replaced(tmp_path):
    path = tmp_path / "record.csv"
    for day in (5, 0, 9):
        add_to_record(path, entry(day))
    # Reviewed again, with a log that begins an hour later.
    made, replaced = add_to_record(path, entry(5 + 1 / 24, fuel=1.2))
    assert replaced == 1
    assert len(made.passages) == 3
    assert [one.begin_s for one in made.passages] == sorted(one.begin_s for one in made.passages)
    assert number(made.passages[1].whole, "fuel_logged_l") == 1200.0


def test_passages_that_touch_or_are_of_another_vessel_are_not_the_same(tmp_path):
    path = tmp_path / "record.csv"
    add_to_record(path, entry(0))
    add_to_record(path, entry(0.7))  # shares 7 hours of 24
    made, replaced = add_to_record(path, entry(0, vessel="Whimbrel"))
    assert (len(made.passages), replaced) == (3, 0)


def test_a_review_without_the_sea_does_not_take_the_place_of_one_with_it(tmp_path):
    path = tmp_path / "record.csv"
    add_to_record(path, entry(0, fuel=1.03))
    before = path.read_text(encoding="utf-8")
    poorer = entry(0, fuel=1.2, fuel_model_l=None, roll_model_deg=None)
    made, replaced = add_to_record(path, poorer)
    assert (len(made.passages), replaced) == (1, -1)
    assert path.read_text(encoding="utf-8") == before
    # The other way round it does.
    add_to_record(path, entry(5, fuel_model_l=None, roll_model_deg=None))
    assert add_to_record(path, entry(5))[1] == 1


def test_columns_of_the_user_stay(tmp_path):
    path = tmp_path / "record.csv"
    add_to_record(path, entry(0))
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text(f"{lines[0]},remark\n{lines[1]},fouled screw\n", encoding="utf-8")
    add_to_record(path, entry(3))
    again = read_record(path)
    assert [one.whole["remark"] for one in again.passages] == ["fouled screw", ""]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda text: text.replace(",1000,", ",much,"), "fuel_logged_l = 'much' is not a number"),
        (lambda text: text.replace("all", "leg 1"), "does not follow its passage"),
        (lambda text: text.replace("roll_logged_deg", "rolled"), "lacks roll_logged_deg"),
        (lambda text: text.replace("Z,all", ",all"), "has no zone"),
        (lambda text: "time,fuel\n1,2\n", "is not a record of passages"),
        (lambda text: "", "is not a record of passages"),
    ],
)
def test_a_damaged_record_is_refused_and_left_as_it_is(tmp_path, change, words):
    path = tmp_path / "record.csv"
    add_to_record(path, entry(0))
    damaged = change(path.read_text(encoding="utf-8"))
    path.write_text(damaged, encoding="utf-8")
    with pytest.raises(LogError, match=words):
        add_to_record(path, entry(3))
    assert path.read_text(encoding="utf-8") == damaged


def _add(path, day):
    add_to_record(path, entry(day))


def test_two_reviews_at_once_lose_nothing(tmp_path):
    path = tmp_path / "record.csv"
    context = multiprocessing.get_context("fork")
    both = [context.Process(target=_add, args=(path, 3 * at)) for at in range(6)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert len(read_record(path).passages) == 6


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal here")
def test_a_kill_leaves_the_record_whole(tmp_path):
    """Killed at any moment of many appends: what is there is a record, and only grows."""
    path = tmp_path / "record.csv"
    script = (
        "import sys; sys.path[:0] = sys.argv[2:]\n"
        "from pathlib import Path\n"
        "from record_maker import entry\n"
        "from passage.inputs.records.record_file import add_to_record\n"
        "for day in range(0, 100000, 3):\n"
        "    add_to_record(Path(sys.argv[1]), entry(day))\n"
    )
    count = 0
    for wait_s in (0.02, 0.05):
        child = subprocess.Popen([sys.executable, "-c", script, str(path), *sys.path])
        deadline = time.monotonic() + 20.0
        while len(read_record(path).passages if path.exists() else ()) <= count:
            assert time.monotonic() < deadline
            time.sleep(0.01)
        time.sleep(wait_s)
        os.kill(child.pid, signal.SIGKILL)
        child.wait()
        found = len(read_record(path).passages)
        assert found > count
        count = found
        add_to_record(path, entry(-10 - count))  # and the next review goes on from it
        count += 1
