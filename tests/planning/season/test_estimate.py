"""What the estimate of a season makes of others at work on the machine."""

from types import SimpleNamespace

import numpy as np
import pytest

from passage.planning.season.estimate import Estimate, crowding, estimate_text
from passage.planning.season.trial import places


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
        (0.010, "time with 2 processes: about 36 s, by"),
        (
            0.015,
            "time with 2 processes: about 54 s if the machine stays as busy as now (36 s if idle),",
        ),
    ],
)
def test_the_time_says_what_it_would_be_on_an_idle_machine(hours, words):
    found = Estimate(
        passages=1, departures=9, points=900, blocks=2, departures_per_block=5, processes=2,
        memory_mb=100.0, hours=hours, read_gb=0.1, disk_mb=1.0, first_s=0.0, last_s=0.0,
        data_from_s=0.0, data_to_s=0.0, alone_hours=0.010,
    )  # fmt: skip
    assert words in estimate_text(found)


@pytest.mark.parametrize(
    ("count", "size", "step", "exact"),
    [(124, 8, 3, False), (8748, 547, 31, False), (1032, 65, 1, False), (5, 1, 1, True)],
)
def test_a_trial_has_its_share_of_what_is_sailed_in_every_way(count, size, step, exact):
    """Blocks of the run itself where they are small; else as many of the sample as in the run."""
    made = SimpleNamespace(
        departures_s=np.zeros(count), points=count * 90, ways=["one"] if step > 1 else [],
        sample_step=step, options=SimpleNamespace(directly=exact),
    )  # fmt: skip
    each, starts = places(made, size)
    assert starts == sorted(set(starts))
    assert starts[0] >= 0
    assert starts[-1] + each <= count
    assert each == size or each % step == 0
    if count > 10 * each:
        # Over the whole of the run, since heavy seas take longer.
        assert len(starts) == 6
        assert starts[-1] - starts[0] > 0.6 * count
