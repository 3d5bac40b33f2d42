"""What the estimate of a season makes of others at work on the machine."""

import pytest

from passage.planning.season.estimate import Estimate, crowding, estimate_text


@pytest.mark.parametrize(
    ("workers", "others", "cores", "times"),
    [
        (1, 0.0, 2, 1.0),  # alone
        (1, 5.0, 2, 1.0),  # what slows one is measured on trial
        (2, 0.0, 2, 1.0),  # a core each
        (2, 1.0, 2, 1.5),  # three on two cores, where one and the other had a core each
        (2, 2.0, 2, 4.0 / 3.0),  # four on two cores for three
        (8, 0.0, 2, 1.0),  # no more at once than there are cores
    ],
)
def test_how_much_slower_several_processes_are_than_one(workers, others, cores, times):
    assert crowding(workers, others, cores) == pytest.approx(times, rel=1e-12)


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (0.010, "time: about 36 s with 2 processes,"),
        (0.015, "time: about 54 s while the machine is as busy as now (36 s if it were not) with"),
    ],
)
def test_the_time_says_what_it_would_be_on_an_idle_machine(hours, words):
    found = Estimate(
        passages=1, departures=9, points=900, blocks=2, departures_per_block=5, processes=2,
        memory_mb=100.0, hours=hours, read_gb=0.1, disk_mb=1.0, first_s=0.0, last_s=0.0,
        data_from_s=0.0, data_to_s=0.0, alone_hours=0.010,
    )  # fmt: skip
    assert words in estimate_text(found)
